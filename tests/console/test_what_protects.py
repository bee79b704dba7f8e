"""What protected people when every step had a screen of its own still does on shared pages.

``before.json`` was written from the shipped lessons as they played before pages were shared and
anything was left unasked: how often each fact was looked at in a step of its own, each thing
reported, which hold points were signed in which role, which cautions with DANGER stood on a
screen. A look that is asked again because time has passed is not counted.
``python -m tests.console.test_what_protects`` prints what plays now.
"""

import json
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from steplatch.runner.record import read
from steplatch.runner.screen.moments import ALWAYS, Read
from steplatch.runner.screen.talk import Prompt
from steplatch.safety.bay import Bay, Engine, FluidIn
from steplatch.safety.registers.cautions import CAUTIONS

from tests.played import Played, lesson_with, play

BEFORE = Path(__file__).with_name("before.json")
LESSONS = ("good-clean", "stall-recovered", "overdose-recovered", "ash-laden")


def protects(played: Played) -> dict[str, Any]:
    """What was looked at, reported, signed and warned of in a played job."""
    looks: Counter[str] = Counter()
    reports: Counter[str] = Counter()
    signed: Counter[str] = Counter()
    danger: set[str] = set()
    plan = played.session.plan
    for line in read(played.folder.path):
        command = line.command
        if command["kind"] == "Report":
            reports[command["what"]] += 1
        for event in line.outcome["events"]:
            if event["kind"] == "Signed":
                signed[f"{event['role']} {event['meaning']}"] += 1
            if event["kind"] == "Done":
                for procedure in plan.procedures:
                    steps = [s for s in procedure.steps() if s.id == event["step"]]
                    danger |= {
                        c
                        for s in steps
                        for c in s.shown_cautions(True)
                        if CAUTIONS[c].word == ALWAYS
                    }
                facts = {s.fact for p in plan.procedures for s in p.steps()
                         if s.id == event["step"] and s.kind == "look"}  # fmt: skip
                looks.update(facts)
    return {
        "looks": dict(sorted(looks.items())),
        "reports": dict(sorted(reports.items())),
        "signed": dict(sorted(signed.items())),
        "danger": sorted(danger),
    }


@pytest.mark.parametrize("lesson", LESSONS)
def test_every_look_report_danger_and_hold_point_of_the_lessons_still_appears(
    shown: Callable[[str], Played], lesson: str
) -> None:
    before = json.loads(BEFORE.read_text(encoding="utf-8"))[lesson]
    today = protects(shown(lesson))
    for kind in ("looks", "reports", "signed"):
        fewer = {k: (n, today[kind].get(k, 0)) for k, n in before[kind].items()
                 if today[kind].get(k, 0) < n}  # fmt: skip
        assert fewer == {}, kind
    assert set(before["danger"]) <= set(today["danger"])
    assert before["looks"] and before["signed"]


def test_no_caution_of_a_step_is_left_off_its_screen_and_danger_is_always_in_full(
    clean_prompts: list[Prompt],
) -> None:
    full: Counter[str] = Counter()
    for prompt in clean_prompts:
        page = prompt.page
        if page is None or ":" not in page.step or not (page.cautions or page.reminded):
            continue
        full.update(page.cautions)
        assert not any(CAUTIONS[caution].word == ALWAYS for caution in page.reminded)
    assert sum(full.values()) > 30
    assert {c for p in clean_prompts if p.page for c in p.page.reminded} <= set(full)


def test_a_caution_is_read_again_in_full_once_its_hazard_is_another() -> None:
    read_before, dry = Read(), Bay(engine=Engine.STOPPED, fluid_in=FluidIn.NO)
    wet = dry.but(fluid_in=FluidIn.YES)
    assert read_before.split("main", "a", ("moving-parts",), dry) == (("moving-parts",), ())
    assert read_before.split("main", "a", ("moving-parts",), dry)[0], "asked again: still in full"
    assert read_before.split("main", "b", ("moving-parts",), dry) == ((), ("moving-parts",))
    assert read_before.split("main", "c", ("moving-parts",), wet)[0] == ("moving-parts",)
    assert read_before.split("card", "a", ("moving-parts",), dry)[0] == ("moving-parts",)
    danger = next(c for c, known in CAUTIONS.items() if known.word == ALWAYS)
    for step in "ab":
        assert read_before.split("main", step, (danger,), dry) == ((danger,), ())


if __name__ == "__main__":
    found = {}
    for name in LESSONS:
        with TemporaryDirectory(prefix="steplatch-protects-") as room:
            found[name] = protects(play(Path(room), lesson_with(name)))
    sys.stdout.write(json.dumps(found, indent=1, sort_keys=True) + "\n")
