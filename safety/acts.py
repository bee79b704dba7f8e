"""The closed sets of acts that need a permit, and of trips that latch."""

from enum import Enum


class Trip(Enum):
    """Latched trips, worst first. ``terminal`` ones end in abandon or an emergency card."""

    FIRE = "fire"
    FUMES = "fumes"
    INJURY = "injury"
    RUNAWAY = "runaway"
    HARD_TURN = "hard_turn"
    UNEVEN_CRANK = "uneven_crank"
    OVERDOSE = "overdose"
    STALLED = "stalled"
    SELF_STARTED = "self_started"
    UNPERMITTED = "unpermitted"
    OVER_CEILING = "over_ceiling"
    UNATTENDED = "unattended"
    SPILL = "spill"
    STUB = "stub"

    __hash__ = object.__hash__  # as for ``State``

    @property
    def terminal(self) -> bool:
        """True where the job can only end: no reset exists."""
        return self in _TERMINAL


_TERMINAL = frozenset(
    {Trip.FIRE, Trip.FUMES, Trip.INJURY, Trip.RUNAWAY, Trip.HARD_TURN, Trip.UNEVEN_CRANK}
)


class Act(Enum):
    """The closed set of acts that need a permit. A request names one of them."""

    IGNITION_ON = "ignition_on"
    TRY_START = "try_start"
    START = "start"
    STOP_ENGINE = "stop_engine"
    RAISE = "raise"
    HANDS_IN = "hands_in"
    HANDS_AT_HOSE = "hands_at_hose"
    TAKE_HOSE_OFF = "take_hose_off"
    COUPLE_GUN = "couple_gun"
    UNCOUPLE_GUN = "uncouple_gun"
    CLEAR_LINE = "clear_line"
    PUT_HOSE_ON = "put_hose_on"
    FILL_GUN = "fill_gun"
    SPRAY_OFF = "spray_off"
    SPRAY_RUNNING = "spray_running"
    HAND_TURN = "hand_turn"
    RUN_ON = "run_on"
    READ_ZERO = "read_zero"
    READ_BEFORE = "read_before"
    READ_AFTER = "read_after"
    CLEAR_CODES = "clear_codes"
    ROAD_TEST = "road_test"
    HAND_OVER = "hand_over"
    ABANDON = "abandon"
    RESET = "reset"

    __hash__ = object.__hash__  # as for ``State``


SPRAYS = frozenset({Act.SPRAY_OFF, Act.SPRAY_RUNNING})
READINGS = frozenset({Act.READ_ZERO, Act.READ_BEFORE, Act.READ_AFTER})
