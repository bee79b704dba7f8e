"""How long a burst may be, from the room that the ledger leaves and the measured rate.

What the next burst gives is bounded by a prediction bound: mean + t s sqrt(1 + 1/n), where one
burst in a thousand gives more. ``s`` pools the scatter of the shots with the one taken beforehand
(``choices.GUN_SCATTER``), t is Student's for the degrees of freedom of both (G. J. Hahn, W. Q.
Meeker, Statistical Intervals (1991); from memory). By simulation it holds for a normally
distributed gun that scatters by up to 6 %, and by up to 7 % in the short bursts with the engine
off. At 8 to 10 % one to fifteen bursts in a thousand go over; of such a gun's sets of shots a
fifth to half are not taken (``gun_rate``).
"""

import math
import statistics
from dataclasses import dataclass, replace
from typing import Final

from ..catalogue import _
from ..physics.domain import not_negative, positive
from . import choices
from .inputs import GunInput
from .working import DML_PER_M3, Working, dml_down, dml_up

_ML = 1e6

HOLDS_TO_SHARE: Final = 0.06
"""Scatter of a gun up to which the bound of one in a thousand was found to hold, by simulation."""

STUDENT_999: Final = (
    318.309, 22.327, 10.215, 7.173, 5.893, 5.208, 4.785, 4.501, 4.297, 4.144,
    4.025, 3.930, 3.852, 3.787, 3.733, 3.686, 3.646, 3.610, 3.579, 3.552,
    3.527, 3.505, 3.485, 3.467, 3.450, 3.435, 3.421, 3.408, 3.396, 3.385,
)  # fmt: skip
"""Student's t that one in a thousand exceeds, by 1 to 30 degrees of freedom; more take the last.
E. T. Federighi, Extended tables of the percentage points of Student's t-distribution, J. Am. Stat.
Assoc. 54 (1959) 683."""


@dataclass(frozen=True, slots=True)
class Burst:
    """A timed burst, or the volume to load instead.

    Rates in m3/s: mean, spread counted, and upper = mean + spread. ``seconds`` is a whole
    number; 0 when ``too_short``. ``counted_m3`` is what the ledger adds for a burst of
    ``seconds``, reaction time included. ``room_m3`` is what the limit leaves.
    """

    rate_mean_m3_s: float
    rate_spread_m3_s: float
    rate_upper_m3_s: float
    reaction_s: float
    room_m3: float
    seconds: int
    too_short: bool
    lines: tuple[Working, ...]

    @property
    def counted_m3(self) -> float:
        """Volume counted for the whole burst, m3; 0 when it is too short to time."""
        return 0.0 if self.too_short else self.counted_for_m3(float(self.seconds))

    @property
    def counted_ml(self) -> int:
        """Volume counted for the whole burst, mL, rounded up."""
        return math.ceil(self.counted_m3 * _ML - 1e-6)

    @property
    def load_ml(self) -> int:
        """Volume that may be loaded and sprayed until empty instead, mL, rounded down."""
        return math.floor(self.room_m3 * _ML + 1e-6)

    @property
    def counted_dml(self) -> int:
        """Volume counted for the whole burst, whole 0.1 mL, rounded up; within the room."""
        return dml_up(self.counted_m3)

    def counted_for_m3(self, sprayed_s: float) -> float:
        """Volume to count for a reported spray of ``sprayed_s``, m3: upper rate, reaction on top.

        Raises ValueError on a negative time.
        """
        not_negative("sprayed_s", sprayed_s, "s")
        return self.rate_upper_m3_s * (sprayed_s + self.reaction_s)

    def advice(self) -> str:
        """What to do, in a line: seconds and volume, or why not."""
        if self.room_m3 <= 0.0:
            return _("nothing left: no spray")
        if self.too_short:
            if self.load_ml == 0:
                return _("less than 1 mL left: no spray")
            return _("too short to time, use the syringe: load {load_ml} mL", load_ml=self.load_ml)
        return _(
            "{seconds} s = {counted_ml} mL counted",
            seconds=self.seconds,
            counted_ml=self.counted_ml,
        )


def rate_spread_m3_s(rates_m3_s: tuple[float, ...]) -> float:
    """What to count on top of the mean of jug-shot rates, m3/s; one burst in a thousand gives more.

    At least the highest shot less the mean. Raises ValueError without a rate.
    """
    mean = _mean(rates_m3_s)
    return max(_ahead(rates_m3_s, choices.GUN_SCATTER.value * mean), max(rates_m3_s) - mean)


def reaction_allowance_s(gun: GunInput) -> float:
    """Time that goes on spraying after "stop", s: what the gun's file says, or the bound that one
    practice burst in a thousand exceeds, whichever is longer."""
    if not gun.practice_stops_s:
        return gun.reaction_s
    mean = statistics.fmean(gun.practice_stops_s)
    bound = mean + _ahead(gun.practice_stops_s, choices.STOP_SCATTER.value)
    return max(gun.reaction_s, bound)


def _ahead(values: tuple[float, ...], beforehand: float) -> float:
    """How far above the mean of these the next value lies at most, except once in a thousand."""
    mean, count = statistics.fmean(values), len(values)
    weight = choices.SCATTER_WEIGHT.value
    freedom = math.floor(weight) + count - 1
    squares = weight * beforehand**2 + math.fsum((value - mean) ** 2 for value in values)
    student = STUDENT_999[min(freedom, len(STUDENT_999)) - 1]
    return student * math.sqrt(squares / freedom * (1.0 + 1.0 / count))


def burst(
    limit_m3: float,
    already_m3: float,
    rates_m3_s: tuple[float, ...],
    reaction_s: float,
    longest_s: float = math.inf,
) -> Burst:
    """Longest burst that stays within ``limit_m3`` with ``already_m3`` in place.

    ``seconds = (limit - already) / (mean + spread) - reaction``, rounded down, so that
    at most one burst in a thousand goes over when it is obeyed; limit and volume in place are first
    rounded to 0.1 mL on the safe side, as the kernel counts them. It lasts ``longest_s`` at most
    (with the engine off: ``choices.LONGEST_OFF_BURST``). Under 3 s it is too short to time.
    ``rates_m3_s`` are jug shots since the gun was last filled or adjusted, at the same air
    pressure.

    Raises ValueError without a rate (then: no spray) and on values out of range.

    >>> shots = tuple(ml * 1e-6 / 5.0 for ml in (19.0, 20.0, 21.0))
    >>> burst(38e-6, 0.0, shots, 0.5).advice()
    '7 s = 38 mL counted'
    """
    not_negative("limit_m3", limit_m3, "m3")
    not_negative("already_m3", already_m3, "m3")
    not_negative("reaction_s", reaction_s, "s")
    mean = _mean(rates_m3_s)
    spread = rate_spread_m3_s(rates_m3_s)
    upper = mean + spread
    limit_dml, already_dml = dml_down(limit_m3), dml_up(already_m3)
    room_m3 = max(0, limit_dml - already_dml) / DML_PER_M3
    exact_s = room_m3 / upper - reaction_s
    fits_s = max(0, math.floor(exact_s))
    seconds = math.floor(min(fits_s, longest_s))
    too_short = seconds < choices.LEAST_TIMED.value
    lines: tuple[Working, ...] = (
        Working(
            _(
                "rate: mean of {count} = {mean:.3g} mL/s, counted {mean:.4g} + {spread:.3g} "
                "= {upper:.4g} mL/s",
                count=len(rates_m3_s),
                mean=mean * _ML,
                spread=spread * _ML,
                upper=upper * _ML,
            )
        ),
        Working(
            _(
                "room = {limit_dml:.1f} - {already_dml:.1f} = {limit_dml_2:.1f} mL",
                limit_dml=limit_dml / 10,
                already_dml=already_dml / 10,
                limit_dml_2=(limit_dml - already_dml) / 10,
            )
        ),
        Working(
            _(
                "time = {room_m3:.4g} / {upper:.4g} - {reaction_s:.3g} = {exact_s:.4g} s, "
                "rounded down {fits_s} s",
                room_m3=room_m3 * _ML,
                upper=upper * _ML,
                reaction_s=reaction_s,
                exact_s=exact_s,
                fits_s=fits_s,
            )
        ),
    )
    if seconds < fits_s:
        lines = (
            *lines,
            Working(
                _("no burst with the engine off lasts longer than {seconds} s", seconds=seconds)
            ),
        )
    made = Burst(
        rate_mean_m3_s=mean,
        rate_spread_m3_s=spread,
        rate_upper_m3_s=upper,
        reaction_s=reaction_s,
        room_m3=room_m3,
        seconds=0 if too_short else seconds,
        too_short=too_short,
        lines=lines,
    )
    if too_short:
        return made
    counted = Working(
        _(
            "counted = {upper:.4g} x ({seconds} + {reaction_s:.3g}) = {counted_m3:.4g} mL",
            upper=upper * _ML,
            seconds=seconds,
            reaction_s=reaction_s,
            counted_m3=made.counted_m3 * _ML,
        )
    )
    return replace(made, lines=(*lines, counted))


def _mean(rates_m3_s: tuple[float, ...]) -> float:
    if not rates_m3_s:
        raise ValueError(
            _(
                "no rate since the gun was last filled or adjusted: no spray; measure shots into a "
                "jug, or load a measured volume"
            )
        )
    for index, rate in enumerate(rates_m3_s, start=1):
        positive(_("rate of shot {index}", index=index), rate, "m3/s")
    return statistics.fmean(rates_m3_s)
