"""Recorded commands decided once more, and what comes out otherwise than it was recorded.

Numbers that were worked out may differ from the recorded ones by one step of their resolution
(``runner.input.resolution``); everything else (classes, refusals, permits, trips, ledger, typed
text) must be the same. The job is followed by the recorded events, so that each decision rests on
the recorded numbers, as it did then.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal, InvalidOperation
from typing import Any

from steplatch.safety.catalogue import _

from ..core.codec import BadWire, decode_command, decode_event, encode
from ..core.job import Job
from ..core.plan import Judges, Plan
from ..input.resolution import NoResolution, agrees
from ..record import JournalLine
from .bundle import Bundle
from .projection import followed
from .session import CANNOT_DECIDE, decided, outcome_to_json

_WORKED = {"gun": ("mean_ml_s", "upper_ml_s")}
"""Numbers of a record that the engine works out; the judge compares its own."""


@dataclass(frozen=True, slots=True)
class Difference:
    """A line that comes out otherwise than recorded. ``judged``: a judge was asked for it, so that
    another judge may be why; else only other rules can be."""

    seq: int
    text: str
    judged: bool = False

    def __str__(self) -> str:
        return _("line {seq}: {text}", seq=self.seq, text=self.text)


@dataclass(slots=True)
class Again:
    """What came out: differences by line, and why it could not be followed to its end."""

    differences: list[Difference] = field(default_factory=list)
    stopped: Difference | None = None
    job: Job = field(default_factory=Job)


def decide_again(bundle: Bundle, lines: Iterable[JournalLine]) -> Again:
    """Every command of ``lines``, from the first on, decided once more by the rules of today."""
    out, plan = Again(), bundle.plan
    for line in lines:
        seq = line.envelope.seq
        limits = _limits(bundle, line)
        text, judged = _again(plan, out.job, line)
        out.differences += [Difference(seq, limits)] if limits else []
        out.differences += [Difference(seq, text, judged)] if text else []
        try:
            out.job = followed(out.job, map(decode_event, line.outcome["events"]))
        except Exception as error:  # whatever a record holds, the audit says so and goes on
            out.stopped = Difference(
                seq, _("its events cannot be followed further: {error}", error=error)
            )
            break
    return out


def _limits(bundle: Bundle, line: JournalLine) -> str:
    """What is wrong with worked limits that are not those of the kept texts, each within one step;
    else ''."""
    if line.command.get("kind") != "SetLimits":
        return ""
    mine, theirs = encode(bundle.limits_command()), line.command
    doses = ("strict", "extended", "running")
    near = (
        mine.keys() == theirs.keys()
        and all(_near(mine[dose], theirs[dose]) for dose in doses)
        and _same_numbers(theirs["numbers"], mine["numbers"], tuple(mine["numbers"]))
        and all(mine[key] == theirs[key] for key in mine if key not in (*doses, "numbers"))
    )
    return "" if near else _("the limits are not those that the kept texts work out to")


def _near(mine: object, theirs: object) -> bool:
    return type(mine) is int and type(theirs) is int and abs(mine - theirs) <= 1


def _again(plan: Plan, job: Job, line: JournalLine) -> tuple[str, bool]:
    """How a line comes out otherwise ('' where it does not), and whether a judge was asked."""
    kind = line.command.get("kind")
    try:
        command = decode_command(line.command)
    except (BadWire, KeyError, TypeError, ValueError) as error:
        return _("the command cannot be decided: {error}", error=error), False
    asked: list[str] = []
    plan = replace(plan, judges=_reminded(plan.judges, line, asked))
    again = decided(plan, job, command, line.envelope.times, line.envelope.actor)
    outcome, recorded = outcome_to_json(again), line.outcome
    refused = [refusal.interlock for refusal in again.refusals]
    if said := next(filter(None, asked), ""):
        return said, True
    if _same_outcome(recorded, outcome):
        return "", False
    if CANNOT_DECIDE in refused:
        text = _("'{kind}' cannot be decided: deciding it fails", kind=kind)
    elif refused and not recorded.get("refused"):
        text = _(
            "'{kind}' was let through, but is refused by {refused}", kind=kind, refused=refused
        )
    else:
        text = _("'{kind}' is decided otherwise than recorded", kind=kind)
    return text, bool(asked)


def _reminded(judges: Judges, line: JournalLine, asked: list[str]) -> Judges:
    """The judges, each given the judgement that this line records, if it records one. ``asked``
    gets an item each time that one is asked: what does not agree, or ''."""
    recorded: dict[str, list[Mapping[str, Any]]] = {}
    events = line.outcome.get("events")
    for event in events if isinstance(events, list) else ():
        if isinstance(event, dict) and event.get("kind") == "Recorded":
            recorded.setdefault(str(event.get("name")), []).append(event.get("value") or {})

    def with_it(judge: Any, name: str) -> Any:
        def judged(job: Job, given: Mapping[str, Any] | None = None) -> dict[str, Any]:
            standing = recorded.get(name)
            try:
                found: dict[str, Any] = judge(job, standing.pop(0) if standing else given)
            except ValueError as error:
                asked.append(
                    _(
                        "the {name} does not agree with what is worked out now: {error}",
                        name=name,
                        error=error,
                    )
                )
                raise
            asked.append("")
            return found

        return judged

    return Judges(
        triage=with_it(judges.triage, "triage"),
        verdict=with_it(judges.verdict, "verdict"),
        trend=with_it(judges.trend, "plateau"),
        change=with_it(judges.change, "change"),
        retained=with_it(judges.retained, "retained"),
    )


def _same_outcome(recorded: Mapping[str, Any], again: Mapping[str, Any]) -> bool:
    if recorded == again:
        return True
    events, others = recorded.get("events"), again["events"]
    return (
        recorded.keys() == again.keys()
        and recorded["refused"] == again["refused"]
        and isinstance(events, list)
        and len(events) == len(others)
        and all(_same_event(one, other) for one, other in zip(events, others, strict=True))
    )


def _same_event(recorded: Any, again: dict[str, Any]) -> bool:
    if recorded == again:
        return True
    worked = _WORKED.get(str(again.get("name")))
    held = {"Recorded": "value", "Corrected": "now"}.get(again["kind"])
    if worked is None or held is None or not isinstance(recorded, dict):
        return False
    rest = {key: value for key, value in again.items() if key != held}
    if {key: value for key, value in recorded.items() if key != held} != rest:
        return False
    return _same_numbers(recorded.get(held), again[held], worked)


def _same_numbers(recorded: Any, again: Mapping[str, Any], near: tuple[str, ...]) -> bool:
    """Whether two records are alike, the numbers called ``near`` to within one step."""
    if not isinstance(recorded, dict) or recorded.keys() != again.keys():
        return False
    return all(
        recorded[key] == again[key] or (key in near and _agrees(key, recorded[key], again[key]))
        for key in again
    )


def _agrees(key: str, recorded: Any, again: Any) -> bool:
    try:
        return agrees(key, recorded, again) and Decimal(recorded).is_finite()
    except (NoResolution, InvalidOperation, TypeError, ValueError):
        return False
