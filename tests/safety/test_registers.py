"""The two registers and the interlock table name each other, and nothing that does not exist."""

import re
from dataclasses import FrozenInstanceError

import pytest
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.input.shelf import procedure_files
from steplatch.safety.interlocks import INTERLOCKS
from steplatch.safety.registers.caution import WORDS, Caution
from steplatch.safety.registers.cautions import CAUTIONS
from steplatch.safety.registers.hazard import Hazard
from steplatch.safety.registers.hazards import HAZARDS
from steplatch.safety.verify.row_monitors import monitors_of

from tests.each import each
from tests.safety.rules_against import AGAINST
from tests.safety.who_else import WHO_ELSE

PROCEDURES = procedure_files()
INTERLOCK_IDS = {row.id for row in INTERLOCKS}

REQUIRED: dict[str, str] = {
    "hydraulic lock": "hydraulic-lock",
    "partial lock that starts and fails later": "partial-lock",
    "fluid into a hot exhaust": "hot-flash",
    "burns": "burns",
    "exhaust fumes indoors": "fumes",
    "vehicle moving": "vehicle-moves",
    "revs over the ceiling": "over-revs",
    "fire or regeneration starting in or under the car": "fire",
    "stall during a running spray": "stall-in-spray",
    "sensor or stub damage": "stub",
    "fluid on the sensor": "sensor-wetted",
    "fluid on skin, eyes, breathing mist": "fluid-contact",
    "foam and soot at the tailpipe and joints": "foam",
    "drains": "drains",
    "reading with the hose off": "hose-off",
    "wrong sensor of two alike": "wrong-sensor",
    "self-starting vehicle (stop-start, hybrid)": "self-start",
    "engine runaway from oil": "runaway",
    "oil diluted or over-full": "oil-diluted",
    "battery flat": "battery",
    "urea system near by": "urea",
    "filter missing or broken": "filter-broken",
    "handed over with a fault latched": "handed-over-latched",
    "tired or alone apprentice, person under 18": "alone-or-young",
    "a raised vehicle": "raised-vehicle",
    "automatic stop-start in the spray": "stop-start",
    "recirculation from behind the filter": "low-loop",
    "flammable vapour, residue that burns": "fluid-vapour",
    "a gun that does not close by itself": "gun-stays-open",
    "injection through skin or eye": "injection",
    "fluid left in the line after an idle drying": "line-keeps-fluid",
    "a burn that begins in the hold": "burn-in-hold",
    "hot sensor wetted": "hot-sensor-wetted",
    "turbine bearing and oil": "turbocharger",
    "noise at raised revs": "noise",
    "ammonia from urea": "ammonia",
    "interruption and resume": "interruption",
    "reliance on the screen": "reliance",
    "wrong vehicle": "wrong-vehicle",
}
"""What the register must hold at least -> the id of the hazard that holds it."""
BEYOND = {"moving-parts", "false-evidence", "road-test", "check-outlived"}
"""What it holds beyond that."""


def test_every_required_hazard_stands_in_the_register_by_its_id() -> None:
    assert {h.id for h in HAZARDS} == {*REQUIRED.values(), *BEYOND}
    assert len(set(REQUIRED.values())) == len(REQUIRED) == 39


@each("hazard", HAZARDS, ids=lambda h: h.id)
def test_every_hazard_names_a_source_with_its_year_or_says_that_there_is_none(
    hazard: Hazard,
) -> None:
    dated = re.search(r"\b(1[89]|20)\d\d\b|\bundated\b", hazard.source)
    assert dated or "common practice, no source" in hazard.source, hazard.source


def test_hazard_ids_differ_and_are_short_words() -> None:
    ids = [h.id for h in HAZARDS]
    assert len(set(ids)) == len(ids)
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", i) and len(i) <= 24 for i in ids)


@each("hazard", HAZARDS, ids=lambda h: h.id)
def test_every_hazard_says_harm_who_cause_answer_and_what_is_left(hazard: Hazard) -> None:
    assert hazard.causes and hazard.interlocks and hazard.cautions
    for text in (hazard.harm, hazard.who, hazard.left_over, hazard.only_a_person_can):
        assert len(text) >= 10
    assert hazard.source
    assert set(hazard.interlocks) <= INTERLOCK_IDS, set(hazard.interlocks) - INTERLOCK_IDS
    assert set(hazard.cautions) <= set(CAUTIONS), set(hazard.cautions) - set(CAUTIONS)
    assert len(set(hazard.interlocks)) == len(hazard.interlocks)
    assert len(set(hazard.cautions)) == len(hazard.cautions)


def test_every_interlock_answers_at_least_one_hazard() -> None:
    named = {i for hazard in HAZARDS for i in hazard.interlocks}
    assert INTERLOCK_IDS - named == set()


def test_every_caution_belongs_to_a_hazard() -> None:
    named = {c for hazard in HAZARDS for c in hazard.cautions}
    assert set(CAUTIONS) - named == set()


def test_every_caution_is_shown_before_some_step_or_is_the_card_of_a_resume() -> None:
    shown = {
        caution
        for path in PROCEDURES
        for step in load_procedure(path)[0].steps()
        for caution in step.shown_cautions(fluid=True)
    }
    # 'interruption' is shown by the resume itself, which is no step of a procedure.
    assert set(CAUTIONS) - shown - {"interruption"} == set()


@each("caution", CAUTIONS.values(), ids=lambda c: c.id)
def test_every_caution_has_its_word_hazard_consequence_avoidance_and_source(
    caution: Caution,
) -> None:
    assert caution.word in WORDS
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", caution.id)
    for text in (caution.hazard, caution.consequence, caution.avoid):
        assert text[0].isupper() and text.endswith("."), text
    assert len(caution.source) > 5


IMPERATIVES = (
    *("take", "put", "switch", "stop", "start", "wear", "keep", "open", "close", "measure"),
    *("check", "turn", "wait", "call", "connect", "remove", "cover", "set", "press", "pull"),
)


@each("caution", CAUTIONS.values(), ids=lambda c: c.id)
def test_no_caution_holds_an_act_that_has_to_be_done_as_a_step(caution: Caution) -> None:
    for text in (caution.hazard, caution.consequence, caution.avoid):
        for sentence in re.split(r"(?<=[.;:])\s+", text):
            first = re.split(r"\W+", sentence.lower())[0]
            assert first not in IMPERATIVES, sentence


def test_a_notice_never_speaks_of_harm_to_people() -> None:
    """ANSI Z535.6 / ISO 3864-2: NOTICE is for property only."""
    people = re.compile(
        r"\b(eyes?|skin|face|hands?|burns? (you|the hand)|kills?|injur\w+|lungs?)\b"
    )
    for caution in CAUTIONS.values():
        if caution.word == "NOTICE":
            assert not people.search(f"{caution.hazard} {caution.consequence}".lower()), caution.id


def test_danger_is_kept_for_what_kills() -> None:
    assert sum(c.word == "DANGER" for c in CAUTIONS.values()) <= 4


def test_no_register_claims_a_safety_integrity_or_performance_level() -> None:
    claim = re.compile(r"\b(SIL\s?\d?|PL\s?[a-e]|ASIL|safety integrity|performance level)\b")
    texts = [repr(c) for c in CAUTIONS.values()] + [repr(h) for h in HAZARDS]
    assert [t for t in texts if claim.search(t)] == []


def test_register_entries_cannot_be_changed() -> None:
    with pytest.raises(FrozenInstanceError):
        HAZARDS[0].harm = "none"  # type: ignore[misc]
    with pytest.raises(FrozenInstanceError):
        CAUTIONS["drains"].word = "CAUTION"  # type: ignore[misc]


@each("hazard", HAZARDS, ids=lambda hazard: hazard.id)
def test_a_hazard_has_row_monitor_and_word_and_says_what_is_left_and_who_else_must_act(
    hazard: Hazard,
) -> None:
    monitors = [name for row in hazard.interlocks for name in monitors_of(row)]
    assert hazard.interlocks and monitors, "a row refuses, and a monitor stands behind the row"
    required = [rule for rule, against in AGAINST.items() if against == hazard.id]
    assert hazard.cautions or required, "it is told before the step, or a file must hold it"
    assert len(hazard.left_over.split()) > 4
    assert len(hazard.only_a_person_can.split()) > 4
    assert len(WHO_ELSE[hazard.id].split()) > 4


def test_who_else_must_act_is_said_of_every_hazard_and_of_nothing_else() -> None:
    assert set(WHO_ELSE) == {hazard.id for hazard in HAZARDS}
    assert len(set(WHO_ELSE.values())) == len(WHO_ELSE)
