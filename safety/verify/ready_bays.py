"""Bays in which everything stands ready for an act, written out by hand.

From these the self-test and the tests put one fact at a time out of order. The limits are those
of the proofs (``kernel_model.LIMITS``): strict 1, extended 2, running 3 (0.1 mL).
"""

from dataclasses import replace

from ..bay import (
    Act,
    Agreed,
    Arrival,
    Bar,
    Bay,
    Burning,
    Check,
    Coating,
    Codes,
    Controls,
    Crew,
    Driver,
    Engine,
    Evidence,
    Flash,
    FluidIn,
    Foul,
    Fuel,
    Fumes,
    Gun,
    Hands,
    HandTurn,
    Hose,
    Identity,
    Idle,
    Inspection,
    Key,
    Kit,
    Lift,
    Line,
    LowLoop,
    Oil,
    Port,
    Rate,
    Reach,
    Recovery,
    Road,
    RunOn,
    Secured,
    Sensor,
    Sheet,
    Soak,
    Spill,
    Starter,
    StartTried,
    StopStart,
    Tag,
    Tier,
    Touch,
    Triage,
    Trigger,
    Trip,
    Zero,
)
from ..interlocks import Ask

STANDING = Bay(
    engine=Engine.STOPPED,
    key=Key.BOXED,
    starter=Starter.DISABLED,
    start_tried=StartTried.NOTHING,
    bar=Bar.OFF,
    secured=Secured.YES,
    lift=Lift.WHEELS,
    fumes=Fumes.EXTRACTION,
    controls=Controls.OTHER,
    hands=Hands.CLEAR,
    hose=Hose.ON,
    gun=Gun.AWAY,
    line=Line.CLEAR,
    port=Port.COOL,
    touch=Touch.BARE,
    burning=Burning.NO,
    oil=Oil.OK,
    fuel=Fuel.DIESEL,
    coating=Coating.NONE,
    foul=Foul.NO,
    low_loop=LowLoop.NONE,
    rate=Rate.MEASURED,
    sheet=Sheet.READ,
    flash=Flash.NONE,
    trigger=Trigger.SPRINGS,
    kit=Kit.WORN,
    spill=Spill.READY,
    reach=Reach.CLEAR,
    sensor=Sensor.PROVEN,
    identity=Identity.MATCH,
    crew=Crew.PAIR,
    arrival=Arrival.DRY,
    agreed=Agreed.CLEAN,
    triage=Triage.GO,
    tier=Tier.STRICT,
    zero=Zero.GOOD,
    before=Evidence.GOOD,
    codes=Codes.SAVED,
    fluid_check=Check.OTHER,
    fluid_in=FluidIn.NO,
    wet=0,
)
"""Safe to run, safe for fluid, nothing sprayed yet, the engine still."""

IDLING = replace(
    STANDING, engine=Engine.IDLING, key=Key.ON, starter=Starter.ENABLED, idle=Idle.STEADY,
    stop_start=StopStart.OFF,
    port=Port.WARM, touch=Touch.HOT,
)  # fmt: skip
HANDS_IN = replace(STANDING, hands=Hands.IN)
COUPLED = replace(STANDING, hose=Hose.OFF, gun=Gun.COUPLED)
SOAKED = replace(
    COUPLED, fluid_in=FluidIn.YES, wet=1, soak=Soak.DUE, start_check=Check.OTHER, line=Line.UNKNOWN
)
DRIED = replace(
    STANDING, fluid_in=FluidIn.YES, run_on=RunOn.DONE, codes=Codes.READ_AGAIN,
    after=Evidence.GOOD, release_check=Check.OTHER, tag=Tag.KEY_TAGGED, road=Road.READY,
    driver=Driver.LICENSED,
)  # fmt: skip
TRIPPED = replace(
    COUPLED, fluid_in=FluidIn.YES, recovery=Recovery.CHECKED,
    trips=frozenset({Trip.STALLED, Trip.UNATTENDED}), wet=1, soak=Soak.DUE,
    hand_turn=HandTurn.VALID, inspection=Inspection.DRY,
)  # fmt: skip

READY: dict[Act, tuple[Bay, Ask]] = {
    Act.IGNITION_ON: (STANDING, Ask(Act.IGNITION_ON)),
    Act.TRY_START: (STANDING, Ask(Act.TRY_START)),
    Act.START: (SOAKED, Ask(Act.START)),
    Act.STOP_ENGINE: (IDLING, Ask(Act.STOP_ENGINE)),
    Act.RAISE: (IDLING, Ask(Act.RAISE)),
    Act.HANDS_IN: (STANDING, Ask(Act.HANDS_IN)),
    Act.HANDS_AT_HOSE: (IDLING, Ask(Act.HANDS_AT_HOSE)),
    Act.TAKE_HOSE_OFF: (HANDS_IN, Ask(Act.TAKE_HOSE_OFF)),
    Act.COUPLE_GUN: (replace(HANDS_IN, hose=Hose.OFF), Ask(Act.COUPLE_GUN)),
    Act.UNCOUPLE_GUN: (
        replace(IDLING, gun=Gun.COUPLED, hose=Hose.OFF, hands=Hands.AT_HOSE),
        Ask(Act.UNCOUPLE_GUN),
    ),
    Act.CLEAR_LINE: (
        replace(IDLING, hose=Hose.OFF, hands=Hands.AT_HOSE, line=Line.UNKNOWN),
        Ask(Act.CLEAR_LINE),
    ),
    Act.PUT_HOSE_ON: (
        replace(IDLING, hose=Hose.OFF, hands=Hands.AT_HOSE, fluid_in=FluidIn.YES),
        Ask(Act.PUT_HOSE_ON),
    ),
    Act.FILL_GUN: (STANDING, Ask(Act.FILL_GUN)),
    Act.SPRAY_OFF: (COUPLED, Ask(Act.SPRAY_OFF, 1)),
    Act.SPRAY_RUNNING: (
        replace(IDLING, hose=Hose.OFF, gun=Gun.COUPLED),
        Ask(Act.SPRAY_RUNNING, 3),
    ),
    Act.HAND_TURN: (replace(SOAKED, hands=Hands.IN), Ask(Act.HAND_TURN)),
    Act.RUN_ON: (IDLING, Ask(Act.RUN_ON)),
    Act.READ_ZERO: (STANDING, Ask(Act.READ_ZERO)),
    Act.READ_BEFORE: (IDLING, Ask(Act.READ_BEFORE)),
    Act.READ_AFTER: (DRIED, Ask(Act.READ_AFTER)),
    Act.CLEAR_CODES: (DRIED, Ask(Act.CLEAR_CODES)),
    Act.ROAD_TEST: (DRIED, Ask(Act.ROAD_TEST)),
    Act.HAND_OVER: (DRIED, Ask(Act.HAND_OVER)),
    Act.ABANDON: (DRIED, Ask(Act.ABANDON)),
    Act.RESET: (TRIPPED, Ask(Act.RESET, trip=Trip.STALLED)),
}

TURNED = replace(SOAKED, wet=2, hand_turn=HandTurn.VALID)

NAMED: dict[str, tuple[Bay, Ask]] = {
    **{act.value: ready for act, ready in READY.items()},
    "ignition_on, fluid soaked in": (
        replace(STANDING, fluid_in=FluidIn.YES, wet=2, soak=Soak.DUE),
        Ask(Act.IGNITION_ON),
    ),
    "ignition_on, towed in": (replace(STANDING, wet=None), Ask(Act.IGNITION_ON)),
    "ignition_on, dried": (replace(STANDING, fluid_in=FluidIn.YES), Ask(Act.IGNITION_ON)),
    "start, dry": (STANDING, Ask(Act.START)),
    "start, myself at the controls": (
        replace(STANDING, controls=Controls.SELF),
        Ask(Act.START),
    ),
    "start, adult alone with the gun on": (
        replace(SOAKED, crew=Crew.ALONE_ADULT, controls=Controls.SELF),
        Ask(Act.START),
    ),
    "start, adult alone with the gun on and nothing gone in": (
        replace(COUPLED, crew=Crew.ALONE_ADULT, controls=Controls.SELF),
        Ask(Act.START),
    ),
    "start, adult alone with a strict dose in": (
        replace(
            SOAKED, crew=Crew.ALONE_ADULT, controls=Controls.SELF, start_check=Check.SAME,
        ),
        Ask(Act.START),
    ),
    "start, adult alone, turned by two before": (
        replace(TURNED, crew=Crew.ALONE_ADULT, controls=Controls.SELF),
        Ask(Act.START),
    ),
    "spray_off, adult alone, checked by another before": (
        replace(COUPLED, crew=Crew.ALONE_ADULT, controls=Controls.SELF, rate=Rate.LOADED),
        Ask(Act.SPRAY_OFF, 1),
    ),
    "spray_off, adult alone": (
        replace(
            COUPLED, crew=Crew.ALONE_ADULT, controls=Controls.SELF, fluid_check=Check.SAME,
            rate=Rate.LOADED,
        ),
        Ask(Act.SPRAY_OFF, 1),
    ),
    "reset of a spill, adult alone": (
        replace(
            TRIPPED, trips=frozenset({Trip.SPILL}), crew=Crew.ALONE_ADULT, recovery=Recovery.OWN,
        ),
        Ask(Act.RESET, trip=Trip.SPILL),
    ),
    "reset of a self-start, adult alone, nothing gone in": (
        replace(
            TRIPPED, trips=frozenset({Trip.SELF_STARTED}), crew=Crew.ALONE_ADULT,
            recovery=Recovery.OWN, fluid_in=FluidIn.NO, wet=0,
        ),
        Ask(Act.RESET, trip=Trip.SELF_STARTED),
    ),
    "stop_engine, still already": (replace(STANDING, wet=None), Ask(Act.STOP_ENGINE)),
    "stop_engine, dried at idle": (
        replace(IDLING, gun=Gun.COUPLED, fluid_in=FluidIn.YES, wet=None, run_on=RunOn.LINE),
        Ask(Act.STOP_ENGINE),
    ),
    "raise, line not looked at": (replace(IDLING, line=Line.UNKNOWN), Ask(Act.RAISE)),
    "run_on, adult alone with the gun on": (
        replace(IDLING, crew=Crew.ALONE_ADULT, controls=Controls.SELF, gun=Gun.COUPLED),
        Ask(Act.RUN_ON),
    ),
    "read_after, nothing gone in": (IDLING, Ask(Act.READ_AFTER)),
    "start, turned by hand": (TURNED, Ask(Act.START)),
    "start, recovered": (replace(TURNED, wet=None, inspection=Inspection.OPENED), Ask(Act.START)),
    "raise, fluid gone in": (replace(IDLING, fluid_in=FluidIn.YES, wet=3), Ask(Act.RAISE)),
    "raise, held already": (
        replace(IDLING, engine=Engine.RAISED, idle=Idle.UNKNOWN),
        Ask(Act.RAISE),
    ),
    "take_hose_off, heat-proof gloves": (
        replace(HANDS_IN, touch=Touch.GLOVED, kit=Kit.HEAT, port=Port.WARM),
        Ask(Act.TAKE_HOSE_OFF),
    ),
    "uncouple_gun, engine still": (
        replace(COUPLED, hands=Hands.IN, fluid_in=FluidIn.YES),
        Ask(Act.UNCOUPLE_GUN),
    ),
    "spray_off, extended": (replace(COUPLED, tier=Tier.EXTENDED, wet=1), Ask(Act.SPRAY_OFF, 1)),
    "spray_running, adult alone": (
        replace(
            IDLING, crew=Crew.ALONE_ADULT, controls=Controls.SELF, fluid_check=Check.SAME,
            hose=Hose.OFF, gun=Gun.COUPLED,
        ),
        Ask(Act.SPRAY_RUNNING, 3),
    ),
    "hand_over, adult alone": (
        replace(DRIED, crew=Crew.ALONE_ADULT, release_check=Check.SAME),
        Ask(Act.HAND_OVER),
    ),
    "abandon, with fluid in": (
        replace(DRIED, wet=None, tag=Tag.DO_NOT_START),
        Ask(Act.ABANDON),
    ),
    "abandon, after a fire": (
        replace(
            DRIED, gun=Gun.COUPLED, tag=Tag.DO_NOT_START, trips=frozenset({Trip.FIRE})
        ),
        Ask(Act.ABANDON),
    ),
    "reset, ledger unknown": (
        replace(TRIPPED, wet=None, inspection=Inspection.OPENED),
        Ask(Act.RESET, trip=Trip.STALLED)),
    "reset, within extended": (replace(TRIPPED, wet=2), Ask(Act.RESET, trip=Trip.STALLED)),
    "reset, within strict": (
        replace(TRIPPED, inspection=Inspection.UNKNOWN),
        Ask(Act.RESET, trip=Trip.STALLED),
    ),
    "reset, engine running": (
        replace(TRIPPED, engine=Engine.IDLING, wet=0),
        Ask(Act.RESET, trip=Trip.STALLED),
    ),
    "reset, left unattended": (
        replace(
            IDLING, gun=Gun.COUPLED, hose=Hose.OFF, trips=frozenset({Trip.UNATTENDED}),
            recovery=Recovery.CHECKED,
        ),
        Ask(Act.RESET, trip=Trip.UNATTENDED),
    ),
    "reset, left unattended, adult alone": (
        replace(
            IDLING, crew=Crew.ALONE_ADULT, controls=Controls.SELF, gun=Gun.COUPLED,
            hose=Hose.OFF, trips=frozenset({Trip.UNATTENDED}), recovery=Recovery.CHECKED,
        ),
        Ask(Act.RESET, trip=Trip.UNATTENDED),
    ),
    "reset, left unattended, myself at the controls": (
        replace(
            IDLING, controls=Controls.SELF, trips=frozenset({Trip.UNATTENDED}),
            recovery=Recovery.CHECKED,
        ),
        Ask(Act.RESET, trip=Trip.UNATTENDED),
    ),
    "reset, left unattended, stopped": (
        replace(
            STANDING, secured=Secured.PART, fumes=Fumes.NOTHING, controls=Controls.NOBODY,
            hands=Hands.IN, trips=frozenset({Trip.UNATTENDED}), recovery=Recovery.CHECKED,
        ),
        Ask(Act.RESET, trip=Trip.UNATTENDED),
    ),
    "reset of a spill": (
        replace(TRIPPED, trips=frozenset({Trip.SPILL}), wet=None, engine=Engine.UNKNOWN),
        Ask(Act.RESET, trip=Trip.SPILL),
    ),
}  # fmt: skip
"""Every act in its ready bay, and the other ways in which some acts are ready."""
