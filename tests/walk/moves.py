"""What was done in a walk, move by move: played again, made shorter, said in words."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from time import monotonic
from typing import Any

from steplatch.runner.core.commands import (
    Answer,
    AnswerMeanwhile,
    Back,
    Begin,
    Command,
    Correct,
    GiveUp,
    GoOn,
    Look,
    NotApplicable,
    Note,
    Report,
    SetLimits,
    Sign,
    Stop,
    Tick,
    Waive,
)  # fmt: skip
from steplatch.runner.core.engine import Outcome
from steplatch.safety.bay import state_of
from steplatch.safety.occurrences import happening_of
from steplatch.safety.registers.trusted_reports import spoken_lie

from tests.walk.desks import Desk, InMind, only_time
from tests.walk.truth_beside import Truth, Untrue

SHORTENING_S = 60.0
LEAST_PART = 6
"""Smaller parts of good work are not left out: hardly any step can be."""
TOLD_IN_FULL = 4
"""So many moves before a breach are told one by one."""


@dataclass(frozen=True, slots=True)
class Move:
    """One move: ``ms`` pass (on another boot, by another date), then the command is given.

    No command and no ``silent`` happening means that the program is killed. ``careful`` moves
    are those of good work, which a trace tells in few words.
    """

    command: Command | None
    by: str
    luck: int
    ms: int = 0
    boot: bool = False
    wall_ms: int = 0
    how: str = ""
    false_report: str = ""
    silent: str = ""
    careful: bool = False


@dataclass(frozen=True, slots=True)
class Opening:
    """How a walk was begun, as far as it decides anything."""

    worker: str
    dry: bool
    practice: bool = True
    limits: SetLimits | None = None


class Played:
    """A desk and the truth beside it. ``play`` makes one move."""

    def __init__(self, desk: Desk, dry: bool) -> None:
        self.desk = desk
        self.truth = Truth(desk.job.core.limits, dry)
        self.truth_before = self.truth
        self.now_ms = 0
        """The time that truly passed."""

    def play(self, move: Move) -> Outcome | None:
        """Make one move; None for a kill or a silence. Raises Untrue, and nothing was done."""
        desk, clock = self.desk, self.desk.clock
        clock.move(move.ms)
        self.now_ms += max(0, move.ms)
        clock.boot += move.boot
        clock.wall_ms += move.wall_ms
        if move.silent:
            self.truth = self.truth_before = self.truth.silent(happening_of(move.silent), move.luck)
            return None
        if move.command is None:
            lost, found, events = desk.kill(move.how, move.luck)
            truth = self.truth_before if lost else self.truth
            now_ms = self.now_ms
            self.truth = truth.told(found, events, move.luck, "", now_ms) if events else truth
            self.truth_before = self.truth
            return None
        job, foreseen = desk.job, desk.decide(move.command, move.by)
        events = foreseen.events
        truth = self.truth.told(job, events, move.luck, move.false_report, self.now_ms)
        outcome = desk.submit(move.command, move.by, foreseen)
        assert outcome == foreseen, "decide gave another outcome the second time"
        if not only_time(move.command, outcome):
            self.truth_before, self.truth = self.truth, truth
        return outcome


def replayed(opening: Opening, moves: Sequence[Move]) -> tuple[Played, list[Move], tuple[Any, ...]]:
    """Play moves again in mind: where they lead, those that did anything, what was breached."""
    played = Played(InMind(opening.worker, opening.limits, opening.practice), opening.dry)
    did: list[Move] = []
    waited = 0, False, 0
    for move in moves:
        before, truth = played.desk.job.core, played.truth
        try:
            outcome = played.play(move)
        except Untrue:
            outcome, idle = None, True
        else:
            idle = outcome is not None and outcome.refused and played.desk.job.core == before
            idle = idle and played.truth.accounts == truth.accounts
        if idle:  # the time that it took is kept
            waited = waited[0] + move.ms, waited[1] or move.boot, waited[2] + move.wall_ms
            continue
        did.append(
            replace(
                move,
                ms=move.ms + waited[0],
                boot=move.boot or waited[1],
                wall_ms=move.wall_ms + waited[2],
            )
        )
        waited = 0, False, 0
        if played.truth.breaches:
            break
    return played, did, tuple(played.truth.breaches)


def shortest(opening: Opening, moves: Sequence[Move], name: str) -> list[Move]:
    """Few moves that still breach the monitor ``name``: ever smaller parts are left out, then
    single moves that are no good work. What the procedure asks for in between must stay."""
    until = monotonic() + SHORTENING_S

    def still(fewer: Sequence[Move]) -> list[Move] | None:
        _, did, breaches = replayed(opening, fewer)
        return did if any(monitor.name == name for monitor, _ in breaches) else None

    best = still(moves) or list(moves)
    part = max(1, len(best) // 2)
    while monotonic() < until:
        at = 0
        while at < len(best) and monotonic() < until:
            part_out = best[at : at + part]
            fewer = None
            if part >= LEAST_PART or not all(move.careful for move in part_out):
                fewer = still([*best[:at], *best[at + part :]])
            if fewer is not None and len(fewer) < len(best):
                best = fewer
            else:
                at += part
        if part == 1:
            break
        part = part // 2 if part > LEAST_PART else 1
    return best


class Breach(AssertionError):  # noqa: N818 - the word of the monitors
    """A monitor found a breach. Its text is the shortest trace found, in plain words."""

    def __init__(self, opening: Opening, moves: Sequence[Move], name: str, said: str) -> None:
        super().__init__(said)
        self.opening, self.moves, self.name, self.said = opening, tuple(moves), name, said
        self._short: list[Move] | None = None

    @property
    def short(self) -> list[Move]:
        """The shortest trace that was found."""
        if self._short is None:
            self._short = shortest(self.opening, self.moves, self.name)
        return self._short

    def __str__(self) -> str:
        return "\n".join([f"BREACH  {self.said}", *told(self.opening, self.short)])


def told(opening: Opening, moves: Sequence[Move]) -> list[str]:
    """A trace in the apprentice's words. Good work is told in one line from step to step."""
    played = Played(InMind(opening.worker, opening.limits, opening.practice), opening.dry)
    lines: list[str] = []
    good: list[str] = []

    def tell_good() -> None:
        if good:
            span = good[0] if good[0] == good[-1] else f"{good[0]} to {good[-1]}"
            lines.append(f"work as the screen says: {span}")
            good.clear()

    for number, move in enumerate(moves):
        core = played.desk.job.core
        refusals = _reasons(played, move)
        late = number >= len(moves) - TOLD_IN_FULL
        if move.careful and not (
            move.false_report or refusals or late or move.boot or move.ms > 120_000
        ):
            good.append(core.step)
            continue
        tell_good()
        lines.append(f"{core.step}: {_passed(move)}{_said(played, move)}{refusals}")
    tell_good()
    return [f"{n:3}. {line}" for n, line in enumerate(lines, start=1)]


def _reasons(played: Played, move: Move) -> str:
    try:
        outcome = played.play(move)
    except Untrue:
        return " (cannot be)"
    if outcome is None or not outcome.refused:
        return ""
    return f" - REFUSED by {', '.join(r.interlock for r in outcome.refusals)}"


def _passed(move: Move) -> str:
    words = [f"{move.ms / 1000:g} s go by; "] if move.ms > 10_000 else []
    words += ["the clock goes back; "] if move.ms < 0 else []
    words += ["the computer is started anew; "] if move.boot else []
    words += ["somebody sets the date; "] if move.wall_ms else []
    return "".join(words)


def _said(played: Played, move: Move) -> str:
    if move.silent:
        return f"not said: {happening_of(move.silent).said}"
    if move.command is None:
        return f"the program is killed, its last line {move.how}; it is started again"
    false = f"FALSE, {spoken_lie(move.lie)}: " if move.false_report else ""
    return f"{false}{in_words(played.desk.plan, move.command)} [{move.by}]"


def in_words(plan: Any, command: Command) -> str:
    """A command as somebody at the vehicle would tell it."""
    match command:
        case Begin(step, seconds):
            found = next((s for s in plan.steps() if s.id == step), None)
            words = found.do if found is not None else f"begin '{step}'"
            return f"begin: {words}" + (f" {seconds} s" if seconds else "")
        case Answer(_, value):
            return f"answer '{value[:60]}'"
        case Look(fact, state):
            try:
                return f"look: {state_of(fact, state).said}"
            except (ValueError, KeyError):
                return f"look: {fact} {state}"
        case Report(what, seconds, volume_ml):
            words = happening_of(what).said if what else "nothing"
            return f"report: {words}" + "".join(f", {w}" for w in (seconds, volume_ml) if w)
        case Sign(_, person):
            return f"{person} signs"
        case AnswerMeanwhile(answer):
            return f"sprayed, connected or cranked meanwhile? {answer}"
        case Correct(name, number, value, _):
            return f"correct '{name}' no. {number + 1} to '{value[:40]}'"
        case Waive(interlock, person, _):
            return f"{person} waives '{interlock}'"
        case NotApplicable(step, _):
            return f"leave '{step}' as not applicable"
        case Back(step):
            return f"go back to '{step}'"
        case Stop():
            return "stop"
        case GoOn():
            return "go on"
        case GiveUp():
            return "give up: make safe and abandon"
        case Note(name, _):
            return f"note '{name}'"
        case Tick():
            return "nothing but time"
    return type(command).__name__
