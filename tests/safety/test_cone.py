"""The cone of facts that matter to a question, by hand on small cases."""

from dataclasses import replace

from steplatch.safety.bay import Act, Bay, Engine, FluidIn, Hose, Port, Trip
from steplatch.safety.interlocks import INTERLOCKS, Both, Either, Is, Rule
from steplatch.safety.verify.cone_of_influence import (
    close,
    latch,
    project,
    readable,
    weaken,
    weakened_rows,
)

HOT = replace(
    Bay(),
    engine=Engine.IDLING,
    hose=Hose.ON,
    wet=3,
    reserved=2,
    permit=Act.SPRAY_RUNNING,
    trips=frozenset({Trip.STUB, Trip.FIRE}),
)
STILL = Is("engine", (Engine.STOPPED,))
COOL = Is("port", (Port.COOL,))
DRY = Rule("dry", frozenset({"wet"}), lambda bay, ask, limits: bay.wet == 0)
QUIET = Rule("quiet", frozenset({"trips"}), lambda bay, ask, limits: not bay.trips)


def test_what_is_kept_is_kept_with_all_that_decides_what_it_becomes() -> None:
    assert close(()) == frozenset()
    assert close(["hose"]) == {"hose"}
    assert close(["idle"]) == {"idle", "engine"}
    assert close(["zero"]) == {"zero", "hose", "gun"}
    assert close(["wet"]) == {"wet", "rate", "fluid_in", "run_on", "engine"}, "two steps away"
    moved_unasked = {"engine", "hands", "hose", "gun", "key"}  # what may be found moved
    assert close([latch(Trip.UNPERMITTED)]) == {"trip unpermitted"} | moved_unasked
    assert close([latch(Trip.OVERDOSE)]) == close(["wet"]) | {"trip overdose", "gun"}


def test_a_bay_shows_the_kept_facts_and_trips_and_always_the_permit() -> None:
    seen = project(HOT, frozenset({"hose", "trip stub"}))
    assert seen == replace(
        Bay(), hose=Hose.ON, fluid_in=FluidIn.UNKNOWN, wet=0, permit=Act.SPRAY_RUNNING,
        trips=frozenset({Trip.STUB}),
    )  # fmt: skip
    seen = project(HOT, frozenset({"wet", "trip fire"}))
    assert (seen.wet, seen.reserved, seen.trips) == (3, 2, frozenset({Trip.FIRE}))
    assert seen.hose.unknown and seen.engine.unknown


def test_trips_can_be_read_where_one_of_them_is_kept() -> None:
    assert readable(frozenset({"hose"})) == {"hose"}
    assert readable(frozenset({"hose", "trip stub"})) == {"hose", "trip stub", "trips"}


def test_of_a_condition_what_can_be_read_is_left_and_one_open_way_leaves_nothing() -> None:
    kept = frozenset({"engine", "wet"})
    assert weaken(STILL, kept) is STILL
    assert weaken(COOL, kept) is None
    assert weaken(DRY, kept) is DRY and weaken(QUIET, kept) is None
    assert weaken(QUIET, frozenset({"trip stub"})) is QUIET
    assert weaken(Both((STILL, COOL)), kept) == Both((STILL,))
    assert weaken(Both((COOL, QUIET)), kept) is None
    assert weaken(Either((STILL, DRY)), kept) == Either((STILL, DRY))
    assert weaken(Either((STILL, COOL)), kept) is None, "the port may be cool: nothing is known"
    assert weaken(Either((Both((STILL, COOL)), DRY)), kept) == Either((Both((STILL,)), DRY))


def test_a_row_of_which_nothing_can_be_read_is_dropped_and_the_others_keep_their_place() -> None:
    row = replace(INTERLOCKS[0], acts=frozenset({Act.START}))
    rows = (replace(row, allows=COOL), replace(row, allows=Both((COOL, STILL))))
    assert weakened_rows(rows, frozenset({"engine"})) == (replace(row, allows=Both((STILL,))),)
