"""Trips, looks, lapses and the small refusals of ``bay`` and ``kernel``, each by a plain case."""

from dataclasses import replace
from typing import Any

import pytest
from steplatch.safety import effects, kernel
from steplatch.safety.bay import (
    FACTS,
    Act,
    Bay,
    Controls,
    Crew,
    DoseLimits,
    Engine,
    FluidIn,
    Fumes,
    Gun,
    Hands,
    Hose,
    Key,
    Kit,
    Line,
    Rate,
    Recovery,
    Road,
    Secured,
    Trip,
    Zero,
    state_of,
)
from steplatch.safety.effects import GRANTS
from steplatch.safety.interlocks import INTERLOCKS, Ask, language, rows_for, volumes
from steplatch.safety.kernel import (
    LOOKED_AT,
    BayEvent,
    Granted,
    Happened,
    Lapsed,
    PermitLapsed,
    ResetDone,
    Seen,
    Tripped,
    apply,
    permit,
    trips,
)
from steplatch.safety.occurrences import ALWAYS_POSSIBLE, OUTCOMES, TRIPS, Happening, happening_of
from steplatch.safety.registers.cautions import CAUTIONS
from steplatch.safety.registers.cautions_harm import HARM
from steplatch.safety.registers.cautions_parts import PARTS

from tests.each import each

H = Happening
LIMITS = DoseLimits(strict=1, extended=2, running=3)


def caused(before: Bay, event: BayEvent) -> tuple[Trip, ...]:
    return trips(before, event, apply(before, event), LIMITS)


# -- bay and happenings ----------------------------------------------------------------------


def test_dose_limits_are_never_negative_and_strict_never_passes_extended() -> None:
    assert DoseLimits(0, 0, 0) == DoseLimits(strict=0, extended=0, running=0)
    for strict, extended in ((-1, 0), (2, 1)):
        with pytest.raises(ValueError, match="0 <= strict <= extended"):
            DoseLimits(strict, extended, 0)
    with pytest.raises(ValueError, match="running dose limit cannot be negative"):
        DoseLimits(0, 0, -1)


def test_a_new_job_knows_nothing_but_that_no_fluid_went_in_by_it() -> None:
    bay = Bay()
    assert [f for f in FACTS if not getattr(bay, f).unknown] == ["fluid_in"]
    assert (bay.wet, bay.reserved, bay.permit, bay.trips) == (None, 0, None, frozenset())
    assert bay.fluid_in is FluidIn.NO


def test_a_new_job_may_do_nothing_that_needs_to_know_something() -> None:
    allowed = {act for act in Act if not permit(Bay(), Ask(act, dose=1), LIMITS)}
    assert allowed == set()


def test_every_fact_has_exactly_one_state_that_means_unknown() -> None:
    for fact, states in FACTS.items():
        assert [s for s in states if s.unknown] == [state_of(fact, "unknown")]
        assert all(state.said for state in states)


def test_states_facts_and_happenings_that_do_not_exist_are_named_with_those_that_do() -> None:
    assert state_of("hose", "on") is Hose.ON
    with pytest.raises(ValueError, match=r"no fact 'colour'; known: engine, idle"):
        state_of("colour", "red")
    with pytest.raises(ValueError, match=r"hose has no state 'red'; known: unknown, on, off"):
        state_of("hose", "red")
    assert happening_of("stalled") is H.STALLED
    with pytest.raises(ValueError, match="'exploded'"):
        happening_of("exploded")


def test_the_worst_of_several_latched_trips_is_worked_first() -> None:
    assert Bay().worst_trip is None
    both = replace(Bay(), trips=frozenset({Trip.STUB, Trip.STALLED, Trip.SPILL}))
    assert both.worst_trip is Trip.STALLED


def test_no_two_cautions_share_an_id() -> None:
    assert len(CAUTIONS) == len((*HARM, *PARTS))


# -- permit -----------------------------------------------------------------------------------


def test_every_reason_to_refuse_is_given_in_the_order_of_the_table() -> None:
    refused = [r.interlock for r in permit(Bay(), Ask(Act.START), LIMITS)]
    order = [row.id for row in INTERLOCKS]
    assert refused == sorted(refused, key=order.index)
    assert set(refused) <= {row.id for row in rows_for(Act.START)}


def test_a_refusal_says_why_what_would_allow_it_and_where_the_rule_comes_from() -> None:
    for refusal in permit(Bay(), Ask(Act.SPRAY_RUNNING, 1), LIMITS):
        row = next(r for r in INTERLOCKS if r.id == refusal.interlock)
        assert (refusal.reason, refusal.remedy, refusal.source) == (
            row.reason,
            row.remedy,
            row.source,
        )


def test_interlocks_have_ids_of_their_own() -> None:
    assert len({row.id for row in INTERLOCKS}) == len(INTERLOCKS)


class Spy:
    """A bay that notes which facts are read."""

    def __init__(self, bay: Bay) -> None:
        self._bay = bay
        self.read: set[str] = set()

    def __getattr__(self, name: str) -> Any:
        self.read.add(name)
        return getattr(self._bay, name)

    def among(self, fact: str, states: Any) -> bool:
        return getattr(self, fact) in states


@each("row", INTERLOCKS, ids=lambda row: row.id)
def test_a_row_reads_no_more_than_it_declares(row: Any) -> None:
    for wet in (None, 0, 1, 2, 3, 4):
        for state in range(6):
            facts: dict[str, Any] = {f: list(s)[min(state, len(s) - 1)] for f, s in FACTS.items()}
            for act in row.acts:
                spy = Spy(replace(Bay(), **facts, wet=wet))
                row.allows.holds(spy, Ask(act, 1, trip=Trip.STALLED), LIMITS)
                assert spy.read <= row.reads


# -- copies of a bay ----------------------------------------------------------------------------


@each("name", Bay.__dataclass_fields__)
def test_a_bay_but_for_one_thing_is_the_one_that_replace_makes(name: str) -> None:
    others: dict[str, tuple[Any, ...]] = {
        **{fact: tuple(states) for fact, states in FACTS.items()},
        "wet": (None, 0, 7),
        "reserved": (0, 3),
        "permit": (None, *Act),
        "trips": (frozenset(), frozenset({Trip.FIRE})),
    }
    before = Bay()
    for bay in (before, replace(before, engine=Engine.IDLING, wet=2)):
        for value in others[name]:
            assert bay.but(**{name: value}) == replace(bay, **{name: value})
    assert before == Bay()


def test_a_bay_but_for_nothing_is_that_bay_and_a_name_it_does_not_have_is_a_mistake() -> None:
    bay = replace(Bay(), hose=Hose.OFF)
    assert bay.but(hose=Hose.OFF) is bay
    with pytest.raises(AttributeError, match="hoze"):
        bay.but(hoze=Hose.ON)


# -- looks, lapses, trips and resets ------------------------------------------------------------


def test_a_look_at_a_state_of_another_fact_is_a_programmers_mistake() -> None:
    with pytest.raises(ValueError, match="is no state of hose"):
        apply(Bay(), Seen("hose", Gun.AWAY))


def test_what_follows_from_acts_readings_or_checks_cannot_be_settled_by_looking() -> None:
    assert {"engine", "hose", "crew", "tag", "codes"} <= LOOKED_AT
    assert not LOOKED_AT & {
        "port",
        "touch",
        "rate",
        "hand_turn",
        "fluid_check",
        "start_check",
        "fluid_in",
    }


def test_a_vehicle_that_came_dry_has_an_empty_ledger_unless_fluid_went_in_since() -> None:
    dry = Seen("arrival", state_of("arrival", "dry"))
    assert apply(Bay(), dry).wet == 0
    assert apply(replace(Bay(), fluid_in=FluidIn.YES), dry).wet is None
    assert apply(replace(Bay(), wet=3), Seen("arrival", state_of("arrival", "unknown"))).wet == 3


def test_a_look_that_finds_the_engine_changed_ends_what_hung_on_it() -> None:
    names = ("idle", "hand_turn", "start_check", "inspection", "port", "touch", "run_on")
    facts: dict[str, Any] = {name: list(FACTS[name])[1] for name in names}
    bay = replace(Bay(), engine=Engine.STOPPED, **facts)
    same = apply(bay, Seen("engine", Engine.STOPPED))
    assert same == bay
    other = apply(bay, Seen("engine", Engine.IDLING))
    assert all(getattr(other, name).unknown for name in names)


@pytest.mark.parametrize(("fact", "state"), [("hose", Hose.OFF), ("gun", Gun.AWAY)])
def test_a_look_that_finds_hose_or_gun_changed_ends_zero_and_line(fact: str, state: Any) -> None:
    bay = replace(Bay(), hose=Hose.ON, gun=Gun.COUPLED, zero=Zero.GOOD, line=Line.CLEAR)
    other = apply(bay, Seen(fact, state))
    assert other.zero.unknown and other.line.unknown
    assert apply(bay, Seen(fact, getattr(bay, fact))) == bay


def test_another_crew_ends_who_is_at_the_controls() -> None:
    bay = replace(Bay(), crew=Crew.PAIR, controls=Controls.OTHER)
    assert apply(bay, Seen("crew", Crew.PAIR)) == bay
    assert apply(bay, Seen("crew", Crew.ALONE_ADULT)).controls.unknown


def test_ready_for_the_road_and_secured_in_the_bay_exclude_each_other() -> None:
    bay = replace(Bay(), secured=Secured.YES, fumes=Fumes.EXTRACTION)
    ready = apply(bay, Seen("road", Road.READY))
    assert (ready.secured, ready.fumes) == (Secured.PART, Fumes.NOTHING)
    assert apply(ready, Seen("secured", Secured.YES)).road.unknown
    assert apply(ready, Seen("fumes", Fumes.EXTRACTION)).road.unknown
    assert apply(ready, Seen("secured", Secured.PART)).road is Road.READY
    assert apply(bay, Seen("road", Road.NOT_READY)).secured is Secured.YES


@each("fact", sorted(FACTS))
def test_a_fact_that_grew_too_old_is_unknown_and_nothing_else_changes(fact: str) -> None:
    known: dict[str, Any] = {f: list(states)[1] for f, states in FACTS.items()}
    bay = replace(Bay(), **known, wet=1)
    after = apply(bay, Lapsed(fact))
    assert getattr(after, fact).unknown
    assert [f for f in FACTS if getattr(after, f) is not getattr(bay, f)] == [fact]
    assert after.wet == 1


def test_a_new_trip_and_a_reset_make_an_earlier_recovery_worthless() -> None:
    bay = replace(Bay(), recovery=Recovery.CHECKED)
    tripped = apply(bay, Tripped(Trip.SPILL))
    assert tripped.trips == {Trip.SPILL} and tripped.recovery.unknown
    again = apply(replace(tripped, recovery=Recovery.CHECKED), ResetDone(Trip.SPILL))
    assert again.trips == frozenset() and again.recovery.unknown


def test_a_lapse_without_a_permit_changes_nothing() -> None:
    assert apply(Bay(), PermitLapsed()) == Bay()


@pytest.mark.parametrize("act", [Act.READ_ZERO, Act.READ_BEFORE, Act.READ_AFTER])
def test_half_a_reading_moves_no_evidence_and_nothing_else(act: Act) -> None:
    known: dict[str, Any] = {f: list(states)[1] for f, states in FACTS.items()}
    bay = replace(Bay(), **known, wet=1)
    assert apply(apply(bay, Granted(act)), PermitLapsed()) == bay


@pytest.mark.parametrize("act", [Act.SPRAY_OFF, Act.SPRAY_RUNNING])
@pytest.mark.parametrize(
    ("rate", "wet"), [(Rate.MEASURED, None), (Rate.UNKNOWN, None), (Rate.LOADED, 3)]
)
def test_a_spray_that_nobody_ended_is_unknown_unless_a_measured_volume_was_loaded(
    act: Act, rate: Rate, wet: int | None
) -> None:
    opened = apply(replace(Bay(), wet=1, rate=rate), Granted(act, 2))
    assert (opened.wet, opened.reserved, opened.gun) == (3, 2, Gun.OPEN)
    lapsed = apply(opened, PermitLapsed())
    assert (lapsed.wet, lapsed.reserved, lapsed.permit) == (wet, 0, None)
    assert lapsed.gun.unknown and lapsed.rate.unknown
    assert lapsed.fluid_in is FluidIn.YES


def test_a_permit_without_a_volume_leaves_the_ledger_unknown() -> None:
    bay = replace(Bay(), wet=1)
    row = GRANTS[Act.SPRAY_OFF]
    assert kernel._ledger(bay, row.wet, None) == (None, 0)


def test_the_ledger_moves_only_by_what_the_table_knows() -> None:
    with pytest.raises(ValueError, match="unknown move 'evaporate'"):
        kernel._ledger(Bay(), "evaporate", 0)


def test_a_drain_without_a_volume_takes_nothing_off() -> None:
    assert apply(replace(Bay(), wet=3), Happened(H.DRAINED, None)).wet == 3
    assert apply(replace(Bay(), wet=3), Happened(H.DRAINED, 3)).wet == 0


def test_a_jug_that_holds_more_than_was_counted_makes_the_count_unknown() -> None:
    assert apply(replace(Bay(), wet=3), Happened(H.DRAINED, 4)).wet is None
    assert apply(replace(Bay(), wet=0), Happened(H.DRAINED, 1)).wet is None
    spraying = replace(Bay(), wet=5, reserved=3)
    assert apply(spraying, Happened(H.DRAINED, 5)).wet == 3
    assert apply(spraying, Happened(H.DRAINED, 6)).wet is None


def test_the_builders_of_the_tables_put_everything_in_its_place() -> None:
    still = language.is_("engine", Engine.STOPPED)
    assert (still.fact, still.states) == ("engine", (Engine.STOPPED,))
    assert language.either(still).parts == language.both(still).parts == (still,)
    fits = volumes.dose_fits("extended")
    assert fits.name == "dose fits the extended limit"
    assert fits.reads == {"wet"}
    held = [
        fits.holds(replace(Bay(), wet=wet), Ask(Act.SPRAY_OFF, dose), LIMITS)
        for wet, dose in ((None, 1), (0, 0), (0, 1), (0, 2), (0, 3), (1, 1), (1, 2), (2, 1))
    ]
    assert held == [False, False, True, True, False, True, False, False]
    row = language.row("name", (Act.START,), still, "reason", "remedy", "source", 7)
    assert row == language.Interlock(
        "name", frozenset({Act.START}), still, "reason", "remedy", "source", 7
    )
    assert not row.waivable
    kept = effects._row("engine key hose", but="key", hose=Hose.ON)
    assert kept.keeps == {"engine"}
    assert (dict(kept.sets), kept.wet) == ({"hose": Hose.ON}, "keep")
    assert kept.ends == frozenset(FACTS) - {"engine", "hose"}
    assert effects._row("engine").keeps == {"engine"}
    assert effects._row("engine", wet="dry").wet == "dry"
    for keeps, but in (("colour", ""), ("", "colour")):
        with pytest.raises(ValueError, match="unknown facts: \\['colour'\\]"):
            effects._row(keeps, but)
    with pytest.raises(ValueError, match="unknown facts"):
        effects._row("engine", colour=Hose.ON)


# -- trips ------------------------------------------------------------------------------------


@pytest.mark.parametrize("what", list(TRIPS))
def test_what_always_trips_trips_with_and_without_a_permit(what: Happening) -> None:
    for act in (None, *Act):
        assert TRIPS[what] in caused(replace(Bay(), permit=act), Happened(what))


@each("what", list(Happening), ids=lambda what: what.value)
def test_a_report_that_nothing_permitted_trips(what: Happening) -> None:
    for act in (None, *Act):
        expected = what in ALWAYS_POSSIBLE or (act is not None and what in OUTCOMES[act])
        found = caused(replace(Bay(), permit=act), Happened(what))
        assert (Trip.UNPERMITTED in found) == (not expected)


@pytest.mark.parametrize(
    ("fact", "known", "free"),
    [
        ("engine", Engine.STOPPED, "stopped unknown"),
        ("hose", Hose.ON, "on unknown"),
        ("gun", Gun.COUPLED, "coupled unknown"),
        ("hands", Hands.IN, "in clear unknown"),
        ("hands", Hands.CLEAR, "clear unknown"),
        ("key", Key.ON, "on off boxed unknown"),
        ("key", Key.BOXED, "boxed off unknown"),
        ("kit", Kit.WORN, "worn heat not_worn unknown"),
    ],
)
def test_a_look_that_finds_moved_what_nobody_may_have_moved_trips(
    fact: str, known: Any, free: str
) -> None:
    changes: dict[str, Any] = {fact: known}
    bay = replace(Bay(), **changes)
    moved = {
        state.value
        for state in FACTS[fact]
        if Trip.UNPERMITTED not in caused(bay, Seen(fact, state))
    }
    assert moved == set(free.split())
    for state in FACTS[fact]:
        assert Trip.UNPERMITTED not in caused(Bay(), Seen(fact, state))


@pytest.mark.parametrize(
    ("bay", "trips_"),
    [
        (replace(Bay(), wet=0), False),
        (replace(Bay(), wet=1), True),
        (Bay(), True),
        (replace(Bay(), wet=0, permit=Act.SPRAY_RUNNING), True),
        (replace(Bay(), wet=0, permit=Act.START), False),
    ],
)
def test_a_stall_trips_over_fluid_or_during_a_spray(bay: Bay, trips_: bool) -> None:
    assert (Trip.STALLED in caused(bay, Happened(H.STALLED))) == trips_


IDLING = replace(
    Bay(),
    engine=Engine.IDLING,
    controls=Controls.OTHER,
    fumes=Fumes.EXTRACTION,
    secured=Secured.YES,
    crew=Crew.PAIR,
)


@each("engine", list(Engine), ids=lambda engine: engine.value)
@each(
    ("event", "lost"),
    [
        (Lapsed("controls"), True),
        (Lapsed("fumes"), True),
        (Lapsed("secured"), True),
        (Lapsed("kit"), False),
        (Seen("controls", Controls.NOBODY), True),
        (Seen("controls", Controls.SELF), False),
        (Seen("fumes", Fumes.DOOR_OPEN), True),
        (Seen("fumes", Fumes.NOTHING), True),
        (Seen("fumes", Fumes.OUTDOORS), False),
        (Seen("secured", Secured.PART), True),
        (Seen("road", Road.READY), True),
        (Seen("crew", Crew.ALONE_ADULT), True),
        (Happened(H.PERSON_HURT), True),
        (Happened(H.FUME_ALARM), True),
    ],
)
def test_losing_what_a_running_engine_needs_trips_while_it_runs_in_the_bay(
    engine: Engine, event: BayEvent, lost: bool
) -> None:
    running = engine in (Engine.IDLING, Engine.RAISED)
    found = caused(replace(IDLING, engine=engine), event)
    assert (Trip.UNATTENDED in found) == (lost and running)


def test_what_was_never_there_cannot_be_lost() -> None:
    bare = replace(Bay(), engine=Engine.IDLING)
    for fact in ("controls", "fumes", "secured"):
        assert Trip.UNATTENDED not in caused(bare, Lapsed(fact))


@pytest.mark.parametrize(
    ("wet", "fluid", "over"),
    [
        (2, FluidIn.YES, False),
        (3, FluidIn.YES, True),
        (None, FluidIn.YES, True),
        (None, FluidIn.UNKNOWN, True),
        (None, FluidIn.NO, False),
    ],
)
def test_a_stop_over_more_than_any_start_is_allowed_with_trips(
    wet: int | None, fluid: FluidIn, over: bool
) -> None:
    bay = replace(IDLING, wet=wet, fluid_in=fluid)
    assert (Trip.OVERDOSE in caused(bay, Happened(H.STOPPED))) == over
    assert Trip.OVERDOSE not in caused(bay, Happened(H.RAISED))
    stopped = replace(bay, engine=Engine.STOPPED)
    assert Trip.OVERDOSE not in caused(stopped, Happened(H.STOPPED))
    opened = replace(bay, gun=Gun.OPEN)
    assert Trip.OVERDOSE not in caused(opened, Happened(H.STOPPED))
    assert (Trip.OVERDOSE in caused(bay, Happened(H.INTERRUPTED))) == over


def test_a_trip_that_is_latched_already_does_not_come_again() -> None:
    latched = replace(Bay(), trips=frozenset({Trip.SPILL}))
    assert caused(latched, Happened(H.SPILLED)) == ()


def test_trips_come_worst_first() -> None:
    bay = replace(Bay(), permit=Act.SPRAY_RUNNING, fluid_in=FluidIn.YES, engine=Engine.IDLING)
    assert caused(bay, Happened(H.STALLED, None)) == (Trip.OVERDOSE, Trip.STALLED)
