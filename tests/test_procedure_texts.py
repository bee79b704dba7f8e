"""The shipped procedures as texts: one act a step, cautions before harm, an end for every trip."""

import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.core.procedure import Procedure
from steplatch.runner.core.steps import ActStep, EndStep, SprayStep
from steplatch.runner.input.shelf import procedure_files
from steplatch.safety.bay import Act, Trip

ROOT = Path(__file__).resolve().parents[1]
FILES = procedure_files()
MAIN = ROOT / "procedures" / "clean-above.yaml"


@cache
def loaded(path: Path) -> Procedure:
    return load_procedure(path)[0]


ALL_STEPS = [
    pytest.param(path, step, id=f"{path.stem}:{step.id}")
    for path in FILES
    for step in loaded(path).steps()
]
VAGUE = re.compile(
    r"\b(slowly|carefully|as needed|properly|quickly|if necessary|adequately|gradually|"
    r"sufficiently|thoroughly|briefly|soon|approximately|etc)\b"
)
NO_ACT = ("the", "a", "an", "it", "there", "this", "is", "are", "you", "we", "should", "must")
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


@pytest.mark.parametrize(("path", "step"), ALL_STEPS)
def test_a_step_is_one_imperative_act_of_at_most_twenty_words(path: Path, step: Any) -> None:
    words = step.do.split()
    assert 2 <= len(words) <= 20
    assert not VAGUE.search(step.do.lower()), "an adverb that nobody can check"
    assert not re.search(r"[.;]\s+\S|\bthen\b", step.do), "more than one act"
    assert step.do.endswith(".") and step.do[0].isupper()
    assert step.do.split()[0].lower() not in NO_ACT, "not an imperative"


@pytest.mark.parametrize(("path", "step"), ALL_STEPS)
def test_a_condition_comes_first_in_a_step(path: Path, step: Any) -> None:
    assert not re.search(r"\sif\s|,\s(if|when|once|unless)\s", step.do.lower()[1:])


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_every_stage_is_short_and_ends_with_a_completion_line(path: Path) -> None:
    for stage in loaded(path).stages:
        assert len(stage.steps) < 10
        assert stage.done.endswith(".") and len(stage.done.split()) >= 3, stage.id
        assert "?" not in stage.done


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_every_head_names_sources_and_leaves_the_approver_to_the_workshop(path: Path) -> None:
    procedure = loaded(path)
    assert procedure.id == path.stem
    assert procedure.sources and all(len(s) > 8 for s in procedure.sources)
    assert "workshop" in procedure.approver
    assert "data sheet" in path.read_text("utf-8") or not procedure.sprays()


@pytest.mark.parametrize(("path", "step"), ALL_STEPS)
def test_an_act_that_can_hurt_shows_its_caution_before_it(path: Path, step: Any) -> None:
    if isinstance(step, SprayStep) or (isinstance(step, ActStep) and step.act.value in HARM):
        shown = step.model_copy(update={"cautions": ()}).shown_cautions(fluid=False)
        assert HARM[step.doings[0].split()[1]] <= {*shown}, f"{step.id} shows {shown}"


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_a_spray_and_a_hand_turn_say_why(path: Path) -> None:
    for step in loaded(path).steps():
        hand_turn = isinstance(step, ActStep) and step.act is Act.HAND_TURN
        if hand_turn or isinstance(step, SprayStep):
            assert step.why, step.id


def test_no_procedure_sets_an_ash_counter_back() -> None:
    for path in FILES:
        for step in loaded(path).steps():
            text = f"{step.do} {step.why or ''} {step.remedy or ''}".lower()
            assert not re.search(r"(zero|reset|set back|clear)\w* the ash", text), step.id


def test_no_word_that_the_customer_must_never_hear_stands_in_a_procedure() -> None:
    never = re.compile(r"\b(restored|like new|guaranteed?|owner's risk|\d+ ?% clean)\b", re.I)
    claim = re.compile(r"\b(SIL ?\d?|PL ?[a-e]|ASIL|safety integrity|performance level)\b")
    for path in FILES:
        text = path.read_text("utf-8")
        assert not never.search(text) and not claim.search(text), path.name


def test_every_trip_is_answered_by_exactly_one_file() -> None:
    for trip in Trip:
        by = [p.stem for p in FILES if trip in loaded(p).answers]
        assert len(by) == 1, (trip, by)
        assert loaded(ROOT / "procedures" / f"{by[0]}.yaml").role == (
            "card" if trip.terminal else "recovery"
        )


@pytest.mark.parametrize(
    "path", [p for p in FILES if loaded(p).role == "card"], ids=lambda p: p.stem
)
def test_an_emergency_card_sees_to_people_and_engine_first_fits_one_screen_and_never_returns(
    path: Path,
) -> None:
    card = loaded(path)
    before = [step.kind for step in card.steps()].index("report")
    assert card.steps()[before].want == ("stopped",) and before < 2
    assert [step.kind for step in card.steps()[:before]] in ([], ["ask"])
    assert all(len(stage.steps) <= 7 for stage in card.stages)
    assert isinstance(card.steps()[-1], EndStep) and card.steps()[-1].how == "abandoned"
    assert card.return_to is None


def test_the_job_has_the_checkers_visits_before_fluid_before_the_start_and_at_release() -> None:
    slots = [getattr(s, "slot", None) for s in loaded(MAIN).steps()]
    found = [s for s in slots if s in ("fluid_check", "start_check", "release_check")]
    assert list(dict.fromkeys(found)) == ["fluid_check", "start_check", "release_check"]


def test_personal_answers_are_marked_so() -> None:
    named = {s.name: s.personal for s in loaded(MAIN).steps() if s.kind == "ask"}
    personal = {n for n in named if re.search("customer|contact|registration|vin|chassis", n)}
    assert personal and all(named[n] for n in personal)
