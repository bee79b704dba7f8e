"""Numbers as the trade reads them: always with their unit, and no more figures than they carry."""

import math
from typing import Any, Final

from steplatch.safety.catalogue import _

from ..assess.resistance import COVERAGE

ZERO_CELSIUS_K: Final = 273.15


def number(value: Any) -> float | None:
    """A float from what the journal holds (numbers travel as text); None where there is none."""
    if value is None or isinstance(value, bool):
        return None
    try:
        got = float(value)
    except (TypeError, ValueError):
        return None
    return got if math.isfinite(got) else None


def mbar(pressure_pa: float, sign: bool = False) -> str:
    """Pa -> ``22.0 mbar``."""
    return f"{no_minus_zero(pressure_pa / 100, 1):{'+' if sign else ''}.1f} mbar"


def no_minus_zero(value: float, decimals: int) -> float:
    """``value`` rounded for showing, so that -0.04 does not become -0.0."""
    return round(value, decimals) + 0.0


def celsius(temperature_k: float) -> str:
    """K -> ``168 °C``."""
    return f"{temperature_k - ZERO_CELSIUS_K:.0f} °C"


def grams_per_second(flow_kg_s: float) -> str:
    """kg/s -> ``9.0 g/s``."""
    return f"{flow_kg_s * 1000:.1f} g/s"


def speed(speed_rpm: float) -> str:
    """1/min -> ``820 1/min``."""
    return f"{speed_rpm:.0f} 1/min"


def ml(tenths: int | None) -> str:
    """Tenths of a millilitre -> ``36.4 mL``; None -> ``not known``."""
    return _("not known") if tenths is None else f"{tenths / 10:.1f} mL"


def with_spread(mean_mbar: float, u_mbar: float) -> str:
    """``52 ± 4 mbar`` with the 95 % half-width of a standard uncertainty in mbar."""
    half = COVERAGE * u_mbar
    decimals = 0 if half >= 0.95 else 1
    mean_mbar = no_minus_zero(mean_mbar, decimals)
    return f"{mean_mbar:.{decimals}f} ± {half:.{decimals}f} mbar"


def groups(text: str, size: int = 4, count: int | None = None) -> str:
    """A long hash in groups: ``3f2a 91bc ...``; ``count`` groups from its start, or all."""
    parts = [text[i : i + size] for i in range(0, len(text), size)]
    return " ".join(parts if count is None else parts[:count])
