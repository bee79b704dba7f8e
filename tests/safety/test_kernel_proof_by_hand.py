"""What the kernel proof goes through and what it says, written out by hand for small cases."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from steplatch.safety.bay import Act, Bay, DoseLimits, Hose, Rate, Trip
from steplatch.safety.interlocks import INTERLOCKS, Interlock, Rule
from steplatch.safety.verify import kernel_proof
from steplatch.safety.verify.kernel_model import Kernel
from steplatch.safety.verify.kernel_proof import (
    ObserverMonitor,
    believed,
    comes,
    gaps,
    never_believed,
    never_permitted,
    prove_belief,
    told,
    told_belief,
)
from steplatch.safety.verify.needs import Needs
from steplatch.safety.verify.observer_machines import LatchObserver, LedgerObserver
from steplatch.safety.verify.observer_machines import RateObserver as RateOf
from steplatch.safety.verify.observers import HOSE, MUCH_DML, Observer, PlantEvent
from steplatch.safety.verify.search import Breach, SearchCapped, search

RATE_OF = RateOf()
STUB = LatchObserver("stub", frozenset({"stub_snapped"}))
FIRE = LatchObserver("fire", frozenset({"fire_seen"}))


def never_met(acts: str, *observers: Observer) -> Needs:
    """A monitor that is broken whenever one of its acts is begun."""
    return Needs("never", 0, frozenset(acts.split()), observers, lambda now, event: False, "begun")


def closed(*acts: Act) -> Interlock:
    never = Rule("never", frozenset(), lambda bay, ask, limits: False)
    return replace(INTERLOCKS[0], id="closed", acts=frozenset(acts), allows=never)


# -- what is permitted is met ------------------------------------------------------------------


def test_every_ledger_to_one_above_the_largest_limit_stands_for_all_that_it_may_hide() -> None:
    hidden: Any = gaps(never_met("start", LedgerObserver()), ())
    found = [(bay.wet, dml) for bay, _, ((dml, _, _),) in hidden]
    expected: list[tuple[int | None, int]] = [(None, dml) for dml in (0, 1, 2, 3, 4, 5, MUCH_DML)]
    expected += [(wet, dml) for wet in (0, 1, 2, 3, 4) for dml in range(wet + 1)]
    assert found == expected
    tight = gaps(never_met("start", LedgerObserver()), (), DoseLimits(1, 1, 1))
    assert {bay.wet for bay, _, _ in tight} == {None, 0, 1, 2}


def test_every_state_of_a_fact_is_believed_and_unknown_stands_for_every_truth() -> None:
    found = [(bay.hose.value, now) for bay, _, (now,) in gaps(never_met("start", HOSE), ())]
    assert sorted(found) == [
        *(("off", "off"), ("on", "on")),
        *(("unknown", ""), ("unknown", "off"), ("unknown", "on")),
    ]


def test_a_trip_is_believed_latched_or_not_and_what_is_latched_is_believed_so() -> None:
    found = [(bay.trips, now) for bay, _, (now,) in gaps(never_met("start", STUB), ())]
    latched = frozenset({Trip.STUB})
    assert found == [(frozenset(), ""), (latched, ""), (latched, "latched")]


def test_a_reset_is_asked_for_the_trips_that_are_followed_or_for_all_where_none_is() -> None:
    followed = {ask.trip for _, ask, _ in gaps(never_met("reset", STUB), ())}
    assert followed == {Trip.STUB}
    assert {ask.trip for _, ask, _ in gaps(never_met("reset", HOSE), ())} == set(Trip)


def test_only_the_acts_of_a_monitor_are_asked_for_and_each_with_every_dose() -> None:
    asked = {
        (ask.act.value, ask.dose)
        for _, ask, _ in gaps(never_met("start spray_off", HOSE), (), doses=(1, 3))
    }
    assert asked == {("start", 0), ("spray_off", 1), ("spray_off", 3)}


def test_what_is_refused_or_met_is_no_gap() -> None:
    needs = never_met("start raise", HOSE)
    left = {ask.act for _, ask, _ in gaps(needs, (closed(Act.START),))}
    assert left == {Act.RAISE}
    events: list[PlantEvent] = []

    def met(now: tuple[Any, ...], event: PlantEvent) -> bool:
        events.append((*now, *event))
        return now == ("on",)

    on_only = replace(needs, acts=frozenset({"start"}), met=met)
    assert {now for _, _, now in gaps(on_only, ())} == {("",), ("off",)}
    assert ("on", "begin", "start", 0, True) in events


def test_the_acts_that_no_belief_permits_are_named_in_a_fixed_order() -> None:
    needs = never_met("start raise hand_turn", HOSE)
    assert never_permitted(needs, ()) == ()
    assert never_permitted(needs, (closed(Act.START),)) == ("start",)
    assert never_permitted(needs, (closed(Act.START, Act.RAISE),)) == ("raise", "start")


# -- what is known is true ---------------------------------------------------------------------


def kernel_with(
    observer: Observer, *bays: Bay, keep: tuple[str, ...] = (), rows: Any = ()
) -> Kernel:
    """A kernel in which a search has come to these bays."""
    kernel = Kernel(ObserverMonitor(observer), (*observer.facts, *keep), rows)
    kernel.bays = list(bays)
    return kernel


def test_a_belief_is_read_off_fact_by_fact_the_ledger_and_latched_trips_too() -> None:
    bay = replace(Bay(), wet=3, hose=Hose.ON, trips=frozenset({Trip.STUB}))
    assert believed(bay, LedgerObserver()) == (3,)
    assert believed(bay, HOSE) == ("on",)
    assert believed(bay, STUB) == (True,)
    assert believed(bay, FIRE) == (False,)


def test_a_state_of_a_fact_that_no_bay_shows_is_named() -> None:
    unknown, on = Bay(), replace(Bay(), hose=Hose.ON)
    assert never_believed(kernel_with(HOSE, unknown), HOSE) == ("hose on", "hose off")
    assert never_believed(kernel_with(HOSE, unknown, on), HOSE) == ("hose off",)
    off = replace(Bay(), hose=Hose.OFF)
    assert never_believed(kernel_with(HOSE, on, off), HOSE) == (), "unknown need not be shown"


def test_a_ledger_is_shown_only_where_it_tells_one_volume_from_another() -> None:
    ledger = LedgerObserver()
    bays = [replace(Bay(), wet=wet) for wet in (None, 0, 1, 2)]
    missed = ("wet, with fluid in",)
    assert never_believed(kernel_with(ledger, *bays[:3]), ledger) == missed
    assert never_believed(kernel_with(ledger, *bays[1:]), ledger) == ()
    large = replace(Bay(), wet=3)
    assert never_believed(kernel_with(ledger, bays[1], large), ledger) == missed
    assert never_believed(kernel_with(HOSE, *bays[:1]), HOSE) == ("hose on", "hose off")


def test_a_trip_that_is_followed_has_to_be_latched_and_where_it_can_be_reset() -> None:
    latched = replace(Bay(), trips=frozenset({Trip.STUB}))
    missed = ("trip stub latched", "trip stub reset")
    assert never_believed(kernel_with(STUB, Bay()), STUB) == missed
    assert never_believed(kernel_with(STUB, Bay(), latched), STUB) == ()
    shut = kernel_with(STUB, Bay(), latched, rows=(closed(Act.RESET),))
    assert never_believed(shut, STUB) == ("trip stub reset",)
    burning = replace(Bay(), trips=frozenset({Trip.FIRE}))
    assert never_believed(kernel_with(FIRE, Bay()), FIRE) == ("trip fire latched",)
    ended = kernel_with(FIRE, burning, rows=(closed(Act.RESET),))
    assert never_believed(ended, FIRE) == (), "a fire ends the job: it has no reset"


def test_a_trip_that_is_kept_and_not_followed_need_not_be_latched() -> None:
    shown = [replace(Bay(), hose=hose) for hose in (Hose.ON, Hose.OFF)]
    assert never_believed(kernel_with(HOSE, *shown, keep=("trip stub",)), HOSE) == ()


def test_what_only_keeps_an_account_stands_behind_no_invariant_and_breaks_nothing() -> None:
    follows = ObserverMonitor(HOSE)
    assert (follows.name, follows.invariant) == ("true: hose", 0)
    assert follows.start() == HOSE.start() == ""
    assert follows.step("", ("did", "hose_off", 0)) == ("off", None)
    assert (follows.hears, follows.sees) == (HOSE.hears, HOSE.sees)


def test_a_proof_of_a_belief_stops_at_its_first_breach_and_under_its_cap(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: dict[str, Any] = {}

    def noting(*by: Any, **how: Any) -> Any:
        asked.update(how)
        return search(*by, **how)

    monkeypatch.setattr(kernel_proof, "search", noting)
    with pytest.raises(SearchCapped):
        prove_belief(HOSE, cap=5)
    assert asked == {"cap": 5, "first_breach_only": True}


# -- what is said ------------------------------------------------------------------------------

MOVE_1, MOVE_2 = ("permitted: start", ()), ("reported: started", ())
TRACE: Any = ((MOVE_1, (1, 0, 0, "")), (MOVE_2, (1, 0, 1, "cranked wet")))


def test_a_breach_is_told_a_line_a_move_and_ends_with_what_it_breaks() -> None:
    start: Any = (0, 0, 0, "")
    said = told(Breach("start-with-fluid", start, TRACE))
    assert said == "1. permitted: start\n2. reported: started\n=> cranked wet"
    assert told(Breach("true: hose", start, TRACE[:1])) == "1. permitted: start\n=> true: hose"


def test_a_false_belief_is_told_with_what_is_believed_and_what_is_true() -> None:
    kernel = kernel_with(RATE_OF, Bay(), replace(Bay(), rate=Rate.LOADED))
    kernel.accounts = ["", "measured"]
    said = told_belief(kernel, RATE_OF, Breach("true: rate", (0, 0, 0, ""), TRACE))
    assert said.endswith("=> cranked wet: believed {'rate': 'loaded'}, truly 'measured'")


@pytest.mark.parametrize(
    ("event", "met"),
    [
        (("begin", "start"), True),
        (("begin",), True),
        (("tripped", "stub"), True),
        (("begin", "raise"), False),
        (("begin", "start", 1), False),
        (("start",), False),
    ],
)
def test_what_is_asked_for_comes_where_an_event_of_the_truth_begins_like_it(
    event: tuple[object, ...], met: bool
) -> None:
    happened = [("begin", "start", 0, True), ("tripped", "stub")]
    kernel: Any = SimpleNamespace(happened=lambda move: iter(happened))
    state: Any = ()
    assert comes(kernel, *event)(state, MOVE_1, state) is met
