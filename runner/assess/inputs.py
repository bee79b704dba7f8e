"""Stated uncertainties of what is read, and the bands of what counts as alike: the numbers.

Every entry says where it comes from. "Workshop default" is a choice of this program that a
workshop may tighten; "common practice, no source" is what the trade says without print.
All uncertainties are standard uncertainties (one standard deviation).
"""

from dataclasses import dataclass
from typing import Final

from steplatch.safety.catalogue import _

REFERENCE_EXHAUST_KG_S: Final = 0.040
REFERENCE_K: Final = 473.15
REFERENCE_PA: Final = 101325.0
REFERENCE_TEXT: Final = _("40 g/s exhaust at 200 degC and 1013 mbar")
"""The flow at which a resistance is stated in mbar. About the raised flow of a 2.0 L engine."""


@dataclass(frozen=True, slots=True)
class Stated:
    """A number with its unit and where it comes from."""

    value: float
    unit: str
    source: str


AIR_SCALE: Final = Stated(
    0.04, "share", _("3 to 5 % is common for an air-flow meter in a vehicle; common practice")
)
"""Scale of the air-flow meter: the same before and after, so it cancels in the ratio."""

AIR_OWN: Final = Stated(
    0.025, "share", _("scatter of one air-flow reading held 30 s; workshop default")
)
AIR_OWN_FLOOR_KG_S: Final = Stated(
    1e-4, "kg/s", _("last figure shown, 0.1 g/s, by eye; workshop default")
)
EXHAUST_SHARED_K: Final = Stated(
    10.0, "K", _("probe beside the filter, not in it; the same both times; workshop default")
)
EXHAUST_OWN_K: Final = Stated(
    10.0, "K", _("the exhaust is still moving while it is read; workshop default")
)
PRESSURE_GAIN: Final = Stated(
    0.03, "share", _("gain of the pressure sensor, the same both times; workshop default")
)
PRESSURE_OWN_PA: Final = Stated(
    40.0, "Pa", _("pulsation and reading by eye, 0.4 mbar; workshop default")
)
PRESSURE_OWN_SHARE: Final = Stated(
    0.015, "share", _("pulsation grows with flow, averaged by eye; workshop default")
)
CURVATURE: Final = Stated(
    0.009,
    "share",
    _(
        "part of the drop that is not proportional to flow: 0.1 to 1 % of a loaded filter "
        "(SAE 2000-01-1016, A16), more on a clean one: within 1.5 % either way, rectangular"
    ),
)
ZERO_PRIOR_PA: Final = Stated(
    200.0, "Pa", _("offset of a sensor whose zero was not read, about 0; workshop default")
)
BEHIND_PA: Final = Stated(
    1000.0, "Pa", _("pipe and silencer behind the filter at the reference flow; from memory")
)
U_BEHIND_PA: Final = Stated(600.0, "Pa", _("0 to 20 mbar, whatever the vehicle; from memory"))
"""One hose reads all that lies behind the filter too: turbulent, by the square of the flow."""
AMBIENT_SHARE: Final = Stated(0.015, "share", _("weather about the standard atmosphere"))
FUEL_SHARE: Final = Stated(0.025, "share", _("fuel on top of air, air to fuel about 40 by mass"))
U_FUEL_SHARE: Final = Stated(0.006, "share", _("air to fuel from about 25 to 80"))

FILLING: Final = Stated(0.90, "share", _("volumetric efficiency 0.85 to 0.95; from memory"))
U_FILLING_SHARED: Final = Stated(0.06, "share", _("the same engine both times"))
U_FILLING_OWN: Final = Stated(
    0.02, "share", _("loads differ: within 3.5 % either way, rectangular; workshop default")
)
RECIRCULATED: Final[dict[str, Stated]] = {
    "shut": Stated(0.0, "share", _("valve shut")),
    "part": Stated(0.20, "share", _("idle recirculation 0 to 0.5; from memory")),
    "open": Stated(0.35, "share", _("35 % open halves nothing but a third; common practice")),
    "unknown": Stated(0.20, "share", _("idle recirculation 0 to 0.5; from memory")),
}
U_RECIRCULATED: Final[dict[str, Stated]] = {
    "shut": Stated(0.02, "share", _("leak past a shut valve; workshop default")),
    "part": Stated(0.12, "share", _("not measured")),
    "open": Stated(0.10, "share", _("not measured")),
    "unknown": Stated(0.15, "share", _("not measured")),
}
VALVE_OWN: Final = Stated(
    0.2,
    "share",
    _(
        "part of what is not known of the valve that differs by the reading: it comes back within "
        "5 points either way, rectangular; by choice"
    ),
)
U_MANIFOLD: Final = Stated(
    0.03,
    "share",
    _("throttle and boost differ, manifold taken as the outside air; workshop default"),
)
INTAKE_K: Final = Stated(313.15, "K", _("warm engine, gas in the manifold; from memory"))
ASSUMED_EXHAUST_K: Final[dict[str, Stated]] = {
    "idle": Stated(423.15, "K", _("warm idle, 110 to 200 degC; common practice, no source")),
    "raised": Stated(493.15, "K", _("2500 1/min unloaded, 180 to 260 degC; common practice")),
}
U_ASSUMED_EXHAUST_SHARED_K: Final = Stated(30.0, "K", _("never measured, but alike both times"))
U_ASSUMED_EXHAUST_VISIT_K: Final = Stated(
    35.0,
    "K",
    _(
        "how long it was driven or held before: alike in the sets of one phase, and up to 60 K "
        "otherwise in those of another, rectangular; workshop default"
    ),
)
U_EARLY_EXHAUST_K: Final = Stated(
    30.0, "K", _("read before it was held for long enough: it still moves; workshop default")
)
U_ASSUMED_EXHAUST_OWN_K: Final = Stated(15.0, "K", _("never measured; workshop default"))


@dataclass(frozen=True, slots=True)
class Bands:
    """Bands of what counts as like, correctable, believable (workshop defaults unless said)."""

    speed_like_rpm: float = 75.0
    coolant_warm_k: float = 353.15
    coolant_least_k: float = 333.15
    exhaust_like_k: float = 20.0
    exhaust_correctable_k: float = 120.0
    air_like_share: float = 0.10
    air_moved_share: float = 0.18
    held_s: float = 120.0
    held_least_s: float = 30.0
    zero_low_pa: float = -1000.0
    zero_high_pa: float = 500.0
    zero_repeat_pa: float = 200.0
    flow_offset_high_pa: float = 300.0
    raised_over_idle: float = 1.5
    fast_idle_rpm: float = 120.0


BANDS: Final = Bands()
"""Sources: revs or idle held for two minutes, and for 30 s at the least, coolant 80 degC, zero
-10 to +5 mbar and repeat within 2 mbar, exhaust within 20 K, offset above +3 mbar = zero or liquid
suspect, a recirculation valve that shuts moves the air flow by a fifth or more: common practice, no
source. The rest are workshop defaults."""

WATCH_S: Final = 120.0
"""Shortest watch of a falling pressure that can be judged: two minutes; common practice."""
LONGEST_MIN: Final = 90.0
"""Longest time to go that is foretold of a falling pressure, minutes; workshop default."""
