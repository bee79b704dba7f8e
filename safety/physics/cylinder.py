"""Space in one cylinder, and what liquid in it does to the compression pressure.

Compression is taken as polytropic with a constant exponent, the liquid as incompressible
and as not evaporating, the cylinder as full of intake air at bottom dead centre. Leakage,
which lowers the true pressure at cranking speed, is left out: that errs on the safe side.
No published safe share of the clearance volume exists; these formulas compare, they do
not permit.
"""

import math

from ..catalogue import _
from .domain import positive


def clearance_volume_m3(swept_m3: float, compression_ratio: float) -> float:
    """Space left in one cylinder at top dead centre, m3: ``swept / (CR - 1)``.

    ``swept_m3`` is one cylinder's. From CR = (swept + clearance) / clearance.
    Raises ValueError for a ratio of 1 or less.

    >>> round(clearance_volume_m3(500e-6, 16.0) * 1e6, 2)
    33.33
    """
    positive("swept_m3", swept_m3, "m3")
    _real_ratio(compression_ratio)
    return swept_m3 / (compression_ratio - 1.0)


def effective_ratio(compression_ratio: float, fill_share: float) -> float:
    """Compression ratio once liquid fills a share of the clearance volume (no unit).

    ``(CR - f) / (1 - f)``, f from 0 (dry) to below 1 (locked solid). Raises ValueError
    outside that range.

    >>> effective_ratio(16.0, 0.5)
    31.0
    """
    _real_ratio(compression_ratio)
    if not 0.0 <= fill_share < 1.0:
        raise ValueError(
            _(
                "fill_share is {fill_share!r}: give a share from 0 to below 1; at 1 the "
                "cylinder is locked solid and no compression ratio exists",
                fill_share=fill_share,
            )
        )
    return (compression_ratio - fill_share) / (1.0 - fill_share)


def peak_pressure_ratio(
    compression_ratio: float, fill_share: float, exponent: float = 1.32
) -> float:
    """Peak compression pressure over intake pressure, both absolute (no unit).

    ``effective_ratio ** exponent``; the exponent lies from 1 (no heating) to 1.4 (no heat
    lost). Raises ValueError outside that range.

    >>> round(peak_pressure_ratio(16.0, 0.5), 1)
    93.0
    """
    _polytropic(exponent)
    return math.pow(effective_ratio(compression_ratio, fill_share), exponent)


def fill_share_for_pressure_ratio(
    compression_ratio: float, pressure_ratio: float, exponent: float = 1.32
) -> float:
    """Share of the clearance volume that brings compression to ``pressure_ratio``.

    The inverse of :func:`peak_pressure_ratio`: with E = pressure_ratio^(1/exponent),
    ``(E - CR) / (E - 1)``. Raises ValueError when the dry cylinder already exceeds the
    pressure ratio: no liquid at all is then allowed, and the caller has to say so.

    >>> round(fill_share_for_pressure_ratio(16.0, 93.0), 3)
    0.5
    """
    _polytropic(exponent)
    _real_ratio(compression_ratio)
    positive("pressure_ratio", pressure_ratio, _("(absolute over absolute)"))
    allowed = math.pow(pressure_ratio, 1.0 / exponent)
    if allowed < compression_ratio:
        dry = math.pow(compression_ratio, exponent)
        raise ValueError(
            _(
                "pressure_ratio is {pressure_ratio:g}, but compression ratio "
                "{compression_ratio:g} already gives {dry:.1f} when dry: no liquid is "
                "allowed, or give a higher ratio",
                pressure_ratio=pressure_ratio,
                compression_ratio=compression_ratio,
                dry=dry,
            )
        )
    return (allowed - compression_ratio) / (allowed - 1.0)


def _real_ratio(compression_ratio: float) -> None:
    if not (math.isfinite(compression_ratio) and compression_ratio > 1.0):
        raise ValueError(
            _(
                "compression_ratio is {compression_ratio!r}: give a finite value above 1, "
                "such as 16.5",
                compression_ratio=compression_ratio,
            )
        )


def _polytropic(exponent: float) -> None:
    if not 1.0 <= exponent <= 1.4:
        raise ValueError(
            _("exponent is {exponent!r}: give a value from 1 to 1.4", exponent=exponent)
        )
