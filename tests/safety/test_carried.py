"""Cautions follow from the act: a procedure adds, and can leave none out."""

from pathlib import Path

from steplatch.runner.core.loading import load_procedure
from steplatch.runner.core.steps import KINDS
from steplatch.runner.input.shelf import procedure_files
from steplatch.safety.bay import Act
from steplatch.safety.kernel import LOOKED_AT
from steplatch.safety.occurrences import Happening
from steplatch.safety.registers.carried import CARRIED, WITH_FLUID, carried
from steplatch.safety.registers.caution import WORDS
from steplatch.safety.registers.cautions import CAUTIONS

BY_A_STEP_OF_THEIR_OWN = {
    *(Act.FILL_GUN, Act.SPRAY_OFF, Act.SPRAY_RUNNING, Act.RUN_ON, Act.READ_ZERO, Act.READ_BEFORE),
    *(Act.READ_AFTER, Act.HAND_OVER, Act.ABANDON, Act.RESET),
}


def test_every_act_of_a_procedure_stands_in_the_table() -> None:
    acts = {f"act {act.value}" for act in Act if act not in BY_A_STEP_OF_THEIR_OWN}
    assert acts | {"gun rate", "spray off", "spray running", "hold dry"} <= CARRIED.keys()
    silent = {doing for doing, cautions in CARRIED.items() if not cautions}
    assert silent == {"act ignition_on"}


def test_the_table_names_what_can_be_done_and_cautions_that_there_are() -> None:
    heads = {kind.kind_name() for kind in KINDS}
    for doing, cautions in [*CARRIED.items(), *WITH_FLUID.items()]:
        head, _, what = doing.partition(" ")
        assert head in heads, doing
        assert head != "look" or what in LOOKED_AT, doing
        assert head != "report" or what in {h.value for h in Happening}, doing
        assert set(cautions) <= CAUTIONS.keys(), doing
        if cautions is WITH_FLUID.get(doing):
            assert not {*cautions} & {*CARRIED.get(doing, ())}, doing


def test_a_step_shows_what_its_act_carries_whatever_its_file_writes() -> None:
    for path in procedure_files():
        for step in load_procedure(Path(path))[0].steps():
            for fluid in (False, True):
                bare = step.model_copy(update={"cautions": ()}).shown_cautions(fluid)
                assert {*step.shown_cautions(fluid)} == {*bare, *step.cautions}
                words = [WORDS.index(CAUTIONS[c].word) for c in step.shown_cautions(fluid)]
                assert words == sorted(words), step.id


def test_what_fluid_adds_is_shown_only_once_it_may_be_in() -> None:
    dry, wet = (carried(["act start"], [], fluid) for fluid in (False, True))
    assert "partial-lock" in wet and "partial-lock" not in dry and {*dry} < {*wet}


def test_what_can_lock_an_engine_beside_people_is_no_mere_notice() -> None:
    locks = ("hydraulic-lock", "partial-lock", "heaters-awake", "stall-with-fluid", "low-loop")
    assert {CAUTIONS[c].word for c in locks} == {"WARNING"}
    said = [c for c in CAUTIONS.values() if "locks the engine" in c.consequence]
    assert said and not [c.id for c in said if c.word == "NOTICE"]
