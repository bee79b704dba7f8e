"""The false answers that one person may give in one world, written out by hand."""

from dataclasses import replace
from typing import Any

import pytest
from steplatch.safety.bay import Act, Kit, Port
from steplatch.safety.kernel import Happened, Seen
from steplatch.safety.occurrences import Happening, happening_of
from steplatch.safety.plant.truth import PlantState
from steplatch.safety.verify.observers import MUCH_DML

from tests.safety.false_reports import FalseReportTransitions

H = Happening
WORLD = PlantState(engine="stopped", key="on")


def false_reports(
    act: Act | None,
    world: PlantState,
    facts: tuple[str, ...] = (),
    happenings: tuple[Happening, ...] = (),
    only: str | None = None,
) -> list[tuple[str, list[Any]]]:
    """The false answers alone: what is there beside the transitions that honest people take."""
    found = FalseReportTransitions(facts, happenings, frozenset(), False)
    found.only = only
    kinds = ("look: ", "report: ", "silence: ", "volume: ")
    return [(said, ends) for said, ends in found.of(act, world) if said.startswith(kinds)]


def test_one_person_may_say_that_an_act_was_done_of_which_nothing_was_begun() -> None:
    told = dict(false_reports(Act.START, WORLD))
    assert set(told) == {
        *("report: started", "report: cranked_no_fire", "report: cranked_uneven"),
    }
    for false_report, ends in told.items():
        said = happening_of(false_report.removeprefix("report: "))
        assert ends == [(Happened(said, 0), replace(WORLD, false_report=false_report), ())]


def test_of_an_act_that_was_begun_every_other_outcome_may_be_the_true_one() -> None:
    told = dict(false_reports(Act.START, replace(WORLD, begun=True)))
    said, false_report = Happened(H.STARTED, 0), "report: started"
    stands = PlantState(engine="stopped", key="off", false_report=false_report)
    assert told[false_report] == [
        (said, replace(WORLD, false_report=false_report), ()),
        (said, stands, (("did", "cranked_no_fire", 0),)),
        (said, stands, (("did", "cranked_uneven", 0),)),
    ]


def volume_lies(act: Act, world: PlantState) -> list[tuple[str, int | None, int]]:
    """(what is said, how much is said, how much truly went in)."""
    found = []
    for false_report, ends in false_reports(act, world):
        ((event, after, truth),) = ends
        assert false_report == f"volume: {event.what.value}"
        assert after.false_report == false_report and not after.begun
        gone_in = [dml for name, dml, *_ in truth if name == "sprayed"]
        found.append((event.what.value, event.amount, sum(gone_in)))
    return found


def test_less_is_told_than_went_in_or_that_nothing_was_sprayed() -> None:
    spraying = replace(WORLD, begun=True, dose=2)
    expected: list[tuple[str, int | None, int]] = [("spray_ended", 1, 2), ("spray_none", 0, 2)]
    for much in (3, 3, MUCH_DML):  # an end that overran, and twice more than was permitted
        expected += [("spray_ended", 1, much), ("spray_ended", 2, much), ("spray_none", 0, much)]
    assert sorted(volume_lies(Act.SPRAY_OFF, spraying)) == sorted(expected)


def test_of_a_spray_of_which_nothing_went_in_no_less_can_be_told() -> None:
    assert false_reports(Act.SPRAY_OFF, WORLD) == [], "not begun: there is no volume"
    spraying = replace(WORLD, begun=True, dose=1)
    assert all(gone_in > (told or 0) for _, told, gone_in in volume_lies(Act.SPRAY_OFF, spraying))


def test_a_look_is_false_where_it_names_a_state_in_which_the_thing_is_not() -> None:
    told = false_reports(None, replace(WORLD, engine="idling"), ("engine", "kit", "port"))
    names = [false_report for false_report, _ in told]
    assert "look: engine stopped" in names and "look: engine raised" in names
    assert "look: engine idling" not in names, "that would be true"
    assert "look: kit not_worn" not in names, "no interlock asks for it"
    false_reporting = replace(WORLD, engine="idling", false_report="look: kit worn")
    assert dict(told)["look: kit worn"] == [(Seen("kit", Kit.WORN), false_reporting, ())]
    assert dict(told)["look: port cool"][0][0] == Seen("port", Port.COOL)


@pytest.mark.parametrize(
    ("what", "amount"), [(H.DRAINED, 2), (H.OVERDOSED, None), (H.SPILLED, 0), (H.TURN_SEEN, 0)]
)
def test_a_happening_may_be_told_that_never_came(what: Happening, amount: int | None) -> None:
    false_report = f"report: {what.value}"
    told = dict(false_reports(None, WORLD, happenings=(what,)))
    assert told[false_report] == [
        (Happened(what, amount), replace(WORLD, false_report=false_report), ())
    ]


def test_a_happening_may_be_kept_silent_and_a_silent_overdose_is_a_hidden_spray() -> None:
    told = dict(
        false_reports(None, WORLD, happenings=(H.SPILLED, H.OVERDOSED, H.DRAINED, H.STALLED))
    )
    hidden = [said for said in told if said.startswith("silence: ")]
    assert hidden == ["silence: spilled", "silence: overdosed"], (
        "an engine that stands cannot stall"
    )
    false_report = "silence: spilled"
    assert told[false_report] == [
        (None, replace(WORLD, false_report=false_report), (("did", "spilled", 0),))
    ]
    assert told["silence: overdosed"][0][2] == (("sprayed", MUCH_DML), ("did", "overdosed", 0))


def test_no_lie_is_told_of_what_the_tool_counts_itself_nor_of_what_answers_the_act() -> None:
    counted = (H.SOAK_BEGUN, H.SOAK_DUE, H.RUN_ON_DUE, H.INTERRUPTED)
    assert false_reports(None, WORLD, happenings=counted) == []
    assert false_reports(None, WORLD, happenings=(H.STARTED, H.HOSE_ON)) == [], "they need a permit"
    stopping = dict(false_reports(Act.STOP_ENGINE, WORLD, happenings=(H.STOPPED, H.SPILLED)))
    assert set(stopping) == {"report: stopped", "report: spilled", "silence: spilled"}


def test_after_one_lie_only_the_truth_is_told_and_a_named_lie_is_the_only_one() -> None:
    assert (
        false_reports(
            Act.START, replace(WORLD, false_report="look: kit worn"), ("kit",), (H.SPILLED,)
        )
        == []
    )
    only = false_reports(Act.START, WORLD, ("kit",), (H.SPILLED,), only="report: spilled")
    assert [false_report for false_report, _ in only] == ["report: spilled"]
