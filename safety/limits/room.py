"""Why extraction is asked for: an illustration that can permit nothing."""

import math
from dataclasses import dataclass
from typing import Final

from ..physics.domain import positive
from ..physics.room_air import co_ppm_to_mg_m3, time_to_level_s
from .inputs import Workshop
from .working import Working

_SOURCE_MG_S: Final = 20.0e3 / 3600.0
_LEAKAGE_PER_HOUR: Final = 0.5
_USUAL_BAY_M3: Final = 150.0
_SHORT_TERM_PPM: Final = 100.0
_LONG_TERM_PPM: Final = 20.0


@dataclass(frozen=True, slots=True)
class Illustration:
    """An example worked out for people. It has no truth value, so no rule can rest on it."""

    title: str
    lines: tuple[Working, ...]
    source: str

    def __bool__(self) -> bool:
        """Refuse to be a condition. Raises TypeError always."""
        raise TypeError("an illustration permits nothing and has no truth value")


def room_air_illustration(workshop: Workshop) -> Illustration:
    """Show how soon an idling engine without extraction fills a shut bay with CO.

    For a bay of ``workshop.bay_volume_m3`` (150 m3 when not known). It can never show that
    a place is safe: engines differ by a factor of ten, and nitrogen dioxide, soot and lack
    of oxygen are left out. Raises ValueError on a volume not above zero.
    """
    volume = workshop.bay_volume_m3
    known = volume is not None
    volume_m3 = positive("bay_volume_m3", _USUAL_BAY_M3 if volume is None else volume, "m3")
    exchange_m3_s = _LEAKAGE_PER_HOUR * volume_m3 / 3600.0
    lines = [
        Working(
            f"bay of {volume_m3:.4g} m3{'' if known else ' (not known, taken)'}, doors shut, air "
            f"changed {_LEAKAGE_PER_HOUR:.4g} times an hour, engine giving 20 g of CO an hour"
        )
    ]
    for ppm, period in ((_LONG_TERM_PPM, "8 h"), (_SHORT_TERM_PPM, "15 min")):
        time_s = time_to_level_s(
            0.0, 0.0, _SOURCE_MG_S, exchange_m3_s, volume_m3, co_ppm_to_mg_m3(ppm)
        )
        when = f"after {time_s / 60.0:.0f} min" if math.isfinite(time_s) else "not by this engine"
        lines.append(Working(f"{ppm:.4g} ppm, the United Kingdom limit for {period}: {when}"))
    lines.append(
        Working(
            "light and heavy engines idle at about 8 to 70 g an hour, more as the oxygen falls; "
            "open doors do not replace extraction"
        )
    )
    lines.append(
        Working(
            "this shows why extraction is asked for and permits nothing; your site's own rules "
            "and monitoring take precedence"
        )
    )
    return Illustration(
        title="carbon monoxide in a shut bay",
        lines=tuple(lines),
        source="EH40/2005 (2018), CO; McCormick et al., JAWMA 50 (2000) 1992; SAE 900499",
    )
