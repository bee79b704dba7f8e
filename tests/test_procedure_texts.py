"""The shipped procedures: their heads, cautions before harm, an end for every trip. The rules of
style are those of ``check``, which each of them passes (``test_check_rules``)."""

from functools import cache
from pathlib import Path
from typing import Any

from steplatch.runner.core.loading import load_procedure
from steplatch.runner.core.procedure import Procedure
from steplatch.runner.core.steps import ActStep, SprayStep
from steplatch.runner.input.shelf import procedure_files
from steplatch.safety.bay import Trip

from tests.each import each

ROOT = Path(__file__).resolve().parents[1]
FILES = procedure_files()
MAIN = ROOT / "procedures" / "clean-above.yaml"


@cache
def loaded(path: Path) -> Procedure:
    return load_procedure(path)[0]


ALL_STEPS = [(path, step) for path in FILES for step in loaded(path).steps()]
HARM = {
    "start": {"fumes-indoors", "vehicle-rolls", "moving-parts"},
    "try_start": {"vehicle-rolls"},
    "raise": {"over-revs", "noise"},
    "hands_in": {"hot-exhaust", "self-start"},
    "hands_at_hose": {"moving-parts", "hot-exhaust"},
    "take_hose_off": {"hot-exhaust"},
    "couple_gun": {"gun-pressure", "injection"},
    "uncouple_gun": {"gun-pressure", "fluid-splash"},
    "clear_line": {"hose-blowback"},
    "hand_turn": {"bar-kicks", "hydraulic-lock"},
    "clear_codes": {"codes-erased"},
    "road_test": {"road-test", "hot-ground"},
    "off": {"hydraulic-lock", "fluid-splash", "steam-at-stub"},
    "running": {"stall-with-fluid", "fluid-mist"},
}
"""What an act must show even where the file writes no caution: chosen by hand."""


@each("path", FILES, ids=lambda p: p.stem)
def test_every_head_names_sources_and_leaves_the_approver_to_the_workshop(path: Path) -> None:
    procedure = loaded(path)
    assert procedure.id == path.stem
    assert procedure.sources and all(len(s) > 8 for s in procedure.sources)
    assert "workshop" in procedure.approver
    assert "data sheet" in path.read_text("utf-8") or not procedure.sprays()


def test_they_are_read_in_an_editor_without_moving_sideways() -> None:
    texts = [path.read_text("utf-8") for path in (ROOT / "procedures").glob("*.yaml")]
    assert max(len(line) for text in texts for line in text.splitlines()) <= 100
    assert len(MAIN.read_text("utf-8")) < 32_000


@each(("path", "step"), ALL_STEPS)
def test_an_act_that_can_hurt_shows_its_caution_before_it(path: Path, step: Any) -> None:
    if isinstance(step, SprayStep) or (isinstance(step, ActStep) and step.act.value in HARM):
        shown = step.model_copy(update={"cautions": ()}).shown_cautions(fluid=False)
        assert HARM[step.doings[0].split()[1]] <= {*shown}, f"{step.id} shows {shown}"


def test_every_trip_is_answered_by_exactly_one_file() -> None:
    for trip in Trip:
        by = [p.stem for p in FILES if trip in loaded(p).answers]
        assert len(by) == 1, (trip, by)
        assert loaded(ROOT / "procedures" / f"{by[0]}.yaml").role == (
            "card" if trip.terminal else "recovery"
        )


def test_the_job_has_the_checkers_visits_before_fluid_before_the_start_and_at_release() -> None:
    slots = [getattr(s, "slot", None) for s in loaded(MAIN).steps()]
    found = [s for s in slots if s in ("fluid_check", "start_check", "release_check")]
    assert list(dict.fromkeys(found)) == ["fluid_check", "start_check", "release_check"]
