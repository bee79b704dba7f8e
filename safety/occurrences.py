"""The closed set of things that can happen, and what each permitted act can lead to.

A happening is the truth as a person or a timer reports it. ``OUTCOMES`` says which ones
answer a permitted act; any other report of one of them comes unexpected and trips.
"""

from enum import Enum

from .bay import Act, Trip
from .catalogue import _


class Happening(Enum):
    """One thing that happened, with the words in which a person reports it."""

    said: str

    def __new__(cls, value: str, said: str) -> "Happening":
        member = object.__new__(cls)
        member._value_ = value
        member.said = said
        return member

    __hash__ = object.__hash__  # as for ``safety.facts.State``

    IGNITION_ON = "ignition_on", _("ignition on, the engine stands still")
    TRIED_NOTHING = "tried_nothing", _("start tried with the key: nothing happened, key off")
    TRIED_TURNED = "tried_turned", _("it turned or started: key off at once")
    STARTED = "started", _("cranked evenly and runs at idle")
    CRANKED_NO_FIRE = "cranked_no_fire", _("cranked evenly for 2 s, did not fire, key off")
    CRANKED_UNEVEN = "cranked_uneven", _("slow, uneven or a thump: key off")
    STOPPED = "stopped", _("engine stopped, ignition off")
    STALLED = "stalled", _("the engine stalled")
    SELF_STARTED = "self_started", _("the engine started by itself")
    RAISED = "raised", _("held inside the band")
    LOWERED = "lowered", _("back at idle")
    OVER_CEILING = "over_ceiling", _("the revs went over the ceiling")
    HANDS_IN = "hands_in", _("hands in, everybody told")
    HANDS_AT_HOSE = "hands_at_hose", _("hands at the hose only")
    HOSE_OFF = "hose_off", _("hose off, sensor still plugged in, stub whole")
    HOSE_ON = "hose_on", _("hose and sensor back on and tugged")
    GUN_COUPLED = "gun_coupled", _("adaptor seated and tugged, trigger shut, then air on")
    GUN_UNCOUPLED = "gun_uncoupled", _("air off, adaptor off, gun put away")
    LINE_CLEARED = "line_cleared", _("blown clear: nothing more comes out")
    LINE_STILL_WET = "line_still_wet", _("fluid or foam still comes out")
    GUN_FILLED = "gun_filled", _("gun filled, rate not measured")
    RATE_MEASURED = "rate_measured", _("three shots into the jug measured")
    GUN_LOADED = "gun_loaded", _("gun emptied, measured volume loaded")
    SPRAY_ENDED = "spray_ended", _("trigger shut, seconds noted")
    SPRAY_SAGGED = "spray_sagged", _("idle sagged: trigger shut at once, idle picked up")
    SPRAY_NONE = "spray_none", _("nothing was sprayed")
    SOAK_BEGUN = "soak_begun", _("soak begun")
    SOAK_DUE = "soak_due", _("soak time over")
    RUN_ON_BEGUN = "run_on_begun", _("drying begun")
    RUN_ON_DUE = "run_on_due", _("drying time over")
    DRAINED = "drained", _("drained into the jug and measured")
    TURNED_EVEN = "turned_even", _("two full turns, every compression alike, no stop")
    TURNED_HARD = "turned_hard", _("it stopped dead, or one was harder: weight taken off")
    TURN_SEEN = "turn_seen", _("a second person saw both turns")
    LOOKED_DRY = "looked_dry", _("dry on the engine side of the turbine, seen by two")
    LOOKED_WET = "looked_wet", _("wet, or could not look")
    CYLINDERS_OPENED = (
        "cylinders_opened",
        _("cylinders opened: all empty, oil and compression right"),
    )
    ZERO_GOOD = "zero_good", _("zero inside the gross band")
    ZERO_OUT = "zero_out", _("zero outside the gross band")
    BEFORE_GOOD = "before_good", _("'before' readings complete")
    BEFORE_PARTIAL = "before_partial", _("'before' readings in part")
    AFTER_GOOD = "after_good", _("'after' readings complete")
    AFTER_PARTIAL = "after_partial", _("'after' readings in part")
    CODES_CLEARED = "codes_cleared", _("codes cleared")
    ROAD_ENDED = "road_ended", _("back from the road, engine stopped, ignition off")
    HANDED_OVER = "handed_over", _("handed over")
    ABANDONED = "abandoned", _("made safe and abandoned")
    RECOVERED = "recovered", _("recovery worked to its end, checked by another")
    RECOVERED_ALONE = "recovered_alone", _("recovery worked to its end, looked over again, alone")
    INTERRUPTED = "interrupted", _("the work was interrupted")
    FUME_ALARM = "fume_alarm", _("fume alarm, headache, dizzy or unwell")
    FIRE_SEEN = "fire_seen", _("flames, or smoke from under the car or the bay")
    PERSON_HURT = "person_hurt", _("burn, fluid in the eye or on the skin, or any injury")
    RAN_AWAY = "ran_away", _("revs climb by themselves")
    SPILLED = "spilled", _("fluid or foam where it should not be")
    STUB_SNAPPED = "stub_snapped", _("the sensor stub snapped")
    OVERDOSED = "overdosed", _("more went in than was permitted, or I don't know how much")


H = Happening

OUTCOMES: dict[Act, tuple[Happening, ...]] = {
    Act.IGNITION_ON: (H.IGNITION_ON,),
    Act.TRY_START: (H.TRIED_NOTHING, H.TRIED_TURNED),
    Act.START: (H.STARTED, H.CRANKED_NO_FIRE, H.CRANKED_UNEVEN),
    Act.STOP_ENGINE: (H.STOPPED,),
    Act.RAISE: (H.RAISED,),
    Act.HANDS_IN: (H.HANDS_IN,),
    Act.HANDS_AT_HOSE: (H.HANDS_AT_HOSE,),
    Act.TAKE_HOSE_OFF: (H.HOSE_OFF, H.STUB_SNAPPED),
    Act.COUPLE_GUN: (H.GUN_COUPLED,),
    Act.UNCOUPLE_GUN: (H.GUN_UNCOUPLED,),
    Act.CLEAR_LINE: (H.LINE_CLEARED, H.LINE_STILL_WET),
    Act.PUT_HOSE_ON: (H.HOSE_ON, H.STUB_SNAPPED),
    Act.FILL_GUN: (H.GUN_FILLED, H.RATE_MEASURED, H.GUN_LOADED),
    Act.SPRAY_OFF: (H.SPRAY_ENDED, H.SPRAY_NONE, H.OVERDOSED),
    Act.SPRAY_RUNNING: (H.SPRAY_ENDED, H.SPRAY_SAGGED, H.SPRAY_NONE, H.OVERDOSED, H.STALLED),
    Act.HAND_TURN: (H.TURNED_EVEN, H.TURNED_HARD),
    Act.RUN_ON: (H.RUN_ON_BEGUN,),
    Act.READ_ZERO: (H.ZERO_GOOD, H.ZERO_OUT),
    Act.READ_BEFORE: (H.BEFORE_GOOD, H.BEFORE_PARTIAL),
    Act.READ_AFTER: (H.AFTER_GOOD, H.AFTER_PARTIAL),
    Act.CLEAR_CODES: (H.CODES_CLEARED,),
    Act.ROAD_TEST: (H.ROAD_ENDED,),
    Act.HAND_OVER: (H.HANDED_OVER,),
    Act.ABANDON: (H.ABANDONED,),
    Act.RESET: (),
}
"""Which happenings answer a permitted act. A reset has none: it is an event of its own."""

ALWAYS_POSSIBLE = frozenset(
    {
        H.STOPPED, H.STALLED, H.SELF_STARTED, H.LOWERED, H.OVER_CEILING, H.SOAK_BEGUN, H.SOAK_DUE,
        H.RUN_ON_DUE, H.DRAINED, H.TURN_SEEN, H.LOOKED_DRY, H.LOOKED_WET,
        H.CYLINDERS_OPENED, H.RECOVERED,
        H.RECOVERED_ALONE,
        H.INTERRUPTED, H.FUME_ALARM, H.FIRE_SEEN, H.PERSON_HURT, H.RAN_AWAY, H.SPILLED,
        H.STUB_SNAPPED, H.OVERDOSED, H.LINE_STILL_WET,
    }
)  # fmt: skip
"""Happenings that need no standing permit: the world, the timers and the emergencies."""


def happening_of(name: str) -> Happening:
    """The happening called ``name``. Raises ValueError when there is none."""
    for what in Happening:
        if what.value == name:
            return what
    raise ValueError(_("nothing that can happen is called {name!r}", name=name))


TRIPS: dict[Happening, Trip] = {
    H.FIRE_SEEN: Trip.FIRE,
    H.FUME_ALARM: Trip.FUMES,
    H.PERSON_HURT: Trip.INJURY,
    H.RAN_AWAY: Trip.RUNAWAY,
    H.TURNED_HARD: Trip.HARD_TURN,
    H.CRANKED_UNEVEN: Trip.UNEVEN_CRANK,
    H.OVERDOSED: Trip.OVERDOSE,
    H.SELF_STARTED: Trip.SELF_STARTED,
    H.OVER_CEILING: Trip.OVER_CEILING,
    H.SPILLED: Trip.SPILL,
    H.STUB_SNAPPED: Trip.STUB,
}
"""Happenings that trip whenever they are reported; the kernel adds those that depend."""
