"""The main job, end to end: each fault ends in its own verdict, and every trip has a way out.

The jobs are played through the real guide, engine, kernel and journal at the simulated vehicle.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.jobs.auditing import audit
from steplatch.runner.jobs.bundle import EXAMPLES
from steplatch.runner.screen.talk import Prompt
from steplatch.runner.training.lesson import Lesson, Script, load_lesson
from steplatch.safety.bay import Trip

from tests.played import Played, lesson_with, play

SHIPPED = [
    path
    for path in sorted((EXAMPLES / "lessons").glob("*.yaml"))
    if load_lesson(path).procedure == "clean-above"
]


def _mbar(verdict: dict[str, Any], phase: str) -> float:
    for line in verdict["lines"]:
        words = line.split()
        if words[0] == phase:
            return float(words[1])
    raise AssertionError(f"no line for {phase}: {verdict['lines']}")


# -- the verdict differs for the right reason ---------------------------------------------------


def test_plain_soot_comes_out_and_the_filter_flows_as_expected(good: Played) -> None:
    assert good.ended == "finished"
    verdict = good.verdict
    assert verdict["state"] == "as_expected"
    assert verdict["facts"]["gain"] == "better"
    assert verdict["facts"]["level_before"] == "above"
    truth = good.vehicle.truth()
    assert truth.soot_gone_kg > 0.9 * (truth.soot_gone_kg + truth.soot_kg)
    assert not truth.damaged and truth.mishaps == ()


def test_an_ash_laden_filter_improves_but_stays_above_since_the_ash_stays_in(
    quick: Path, good: Played
) -> None:
    played = play(quick, lesson_with(faults=("ash-laden",)))
    assert played.ended == "finished"
    verdict = played.verdict
    assert verdict["state"] == "improved_not_normal"
    assert verdict["facts"]["level"] == "above"
    assert any("Ash" in line for line in verdict["advice"])
    truth = played.vehicle.truth()
    assert truth.ash_kg > 2 * good.vehicle.truth().ash_kg
    assert _mbar(verdict, "after") > 2 * _mbar(good.verdict, "after")


def test_a_cracked_core_reads_too_low_and_its_points_do_not_lie_on_one_line(
    quick: Path, good: Played
) -> None:
    played = play(quick, lesson_with(faults=("cracked",)))
    verdict = played.verdict
    assert verdict["state"] == "contradictory"
    assert verdict["facts"]["points"] == "disagree"
    assert _mbar(verdict, "before") < 0.3 * _mbar(good.verdict, "before")
    assert played.vehicle.truth().bypass_share > 0.1


def test_soot_seen_behind_a_cracked_core_ends_in_advice_before_any_fluid(quick: Path) -> None:
    lesson = lesson_with(faults=("cracked",), answers={"core": "cracked"})
    played = play(quick, lesson)
    job = played.session.job
    assert played.ended == "finished"
    assert job.bay.triage.value == "dont"
    assert job.bay.fluid_in.value == "no" and job.log.latest("spray") is None


def test_a_zero_out_of_its_band_stops_the_job_before_fluid_and_nothing_is_claimed(
    quick: Path,
) -> None:
    played = play(quick, lesson_with(faults=("zero-error",)))
    job = played.session.job
    assert played.ended == "finished"
    assert job.bay.zero.value == "unknown" or job.bay.zero.value == "out"
    assert job.bay.triage.value == "dont" and job.bay.fluid_in.value == "no"
    assert played.verdict["state"] == "cannot_say"
    assert any("zero reads" in reason for reason in played.verdict["reasons"])


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_a_shipped_lesson_ends_as_it_says(path: Path, shown: Callable[[str], Played]) -> None:
    lesson = load_lesson(path)
    played = shown(lesson.id)
    assert played.ended == lesson.expected.ended
    if played.ended == "finished":
        assert played.verdict["state"] in lesson.expected.verdicts
    found = audit(played.folder)
    assert found.intact and found.differences == () and found.ended == played.ended


# -- every trip has a way on and a way out ------------------------------------------------------


class Meddling(Script):
    """Plays a lesson, but reports an event the first time that a prompt comes up.

    ``again`` are answers that hold only after that, such as 'done' where the gun is away.
    """

    def __init__(
        self, lesson: Lesson, at: str, event: str, again: dict[str, str] | None = None
    ) -> None:
        super().__init__(lesson)
        self.at, self.event, self.again = at, event, again or {}
        self.seen: list[str] = []
        self._state = "before"

    def ask(self, prompt: Prompt) -> str:
        self.seen.append(prompt.key)
        if self._state == "before" and prompt.key == self.at:
            self._state = "event"
            return "event"
        if self._state == "event" and prompt.key == "event":
            self._state = "after"
            return self.event
        if self._state == "after" and prompt.key in self.again:
            return self.again[prompt.key]
        return super().ask(prompt)


RECOVERY = {
    "oil": "ok",
    "dry-choice": "dry",
    "heard": "as_before",
    "tag": "do_not_start",
    "ledger": "above_strict",
}
GUN_AWAY = {"run-spray": "done"}
CAME_OFF = {"card:outcome": "hose_off"}


def _tripped(played: Played) -> list[str]:
    import json

    lines = played.folder.journal.read_text(encoding="utf-8").splitlines()
    events = [e for line in lines for e in json.loads(line)["outcome"]["events"]]
    return [e["trip"] for e in events if e["kind"] == "Tripped"]


def _meddle(
    out: Path, at: str, event: str, again: dict[str, str] | None = None, **lesson: Any
) -> Played:
    shown = lesson_with(answers={**_texts(), **RECOVERY}, **lesson)
    talk = Meddling(shown, at, event, again)
    played = play(out, shown, talk=talk)
    assert played.session.job.bay.trips == frozenset() or played.ended == "abandoned"
    return played


def _texts() -> dict[str, str]:
    """An answer for every text that any recovery or card asks for."""
    from steplatch.runner.core.loading import load_procedure
    from steplatch.runner.core.steps import AskStep
    from steplatch.runner.input.shelf import procedure_files

    found = {}
    for path in procedure_files():
        procedure, _ = load_procedure(path)
        if procedure.role != "main":
            for step in procedure.steps():
                if isinstance(step, AskStep) and step.form != "fields":
                    found[step.id] = (
                        step.options[0].value if step.form == "choice" else "written down"
                    )
    return found


@pytest.mark.parametrize(
    ("at", "event", "trip"),
    [
        ("hold-level", "over_ceiling", Trip.OVER_CEILING),
        ("run-spray", "spilled", Trip.SPILL),
        pytest.param("run-spray", "overdosed", Trip.OVERDOSE, marks=pytest.mark.slow),  # dries long
        ("line-off:outcome", "self_started", Trip.SELF_STARTED),
        ("idle-hose:outcome", "stub_snapped", Trip.STUB),
    ],
    ids=lambda v: v if isinstance(v, str) else v.value,
)
def test_a_recovery_is_worked_and_leads_back_to_a_finished_job(
    quick: Path, at: str, event: str, trip: Trip
) -> None:
    played = _meddle(quick, at, event, CAME_OFF if at == "line-off:outcome" else GUN_AWAY)
    assert trip.value in _tripped(played)
    assert played.ended == "finished"
    assert played.session.job.bay.wet == 0


@pytest.mark.parametrize(
    ("at", "event"),
    [
        ("off-spray", "person_hurt"),
        ("before-raised", "fire_seen"),
        ("hold-level", "fume_alarm"),
    ],
)
def test_an_emergency_card_ends_in_an_abandoned_job(quick: Path, at: str, event: str) -> None:
    played = _meddle(quick, at, event)
    assert played.ended == "abandoned"
    assert played.session.job.bay.engine.value == "stopped"
    assert played.session.job.bay.gun.value == "away"


@pytest.mark.parametrize("at", ["crew", "before-raised", "off-spray"])
def test_giving_up_anywhere_ends_in_an_abandoned_job(quick: Path, at: str) -> None:
    class GivingUp(Meddling):
        def ask(self, prompt: Prompt) -> str:
            if self._state == "before" and prompt.key == at:
                self._state = "event"
                return "s"
            if self._state == "event" and prompt.key == "card":
                self._state = "after"
                return "abandon"
            return super().ask(prompt)

    lesson = lesson_with(answers={**_texts(), **RECOVERY})
    played = play(quick, lesson, talk=GivingUp(lesson, "", ""))
    assert played.ended == "abandoned"


def test_a_stop_within_a_spray_is_counted_and_leaves_no_step_that_cannot_be_ended(
    quick: Path,
) -> None:
    class Stopping(Script):
        stopped = 0

        def ask(self, prompt: Prompt) -> str:
            if prompt.key in ("off-spray:outcome", "run-spray:outcome") and self.stopped < 2:
                self.stopped += 1
                return "s"
            if prompt.key == "card:seconds":
                return "5"
            return super().ask(prompt)

    lesson = lesson_with()
    talk = Stopping(lesson)
    played = play(quick, lesson, talk=talk)
    assert talk.stopped == 2 and played.ended == "finished"
    assert [s["seconds"] for s in played.session.job.log.every("spray")][:2] == ["5", "5"]
