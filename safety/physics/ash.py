"""Ash from burnt engine oil. Ash never burns off and fluid does not take it out."""

from ..catalogue import _
from .domain import not_negative, positive, share

TRAPPED_SHARE_LOW = 0.20
TRAPPED_SHARE_HIGH = 0.70
"""Range of the share of the oil's ash that ends in the filter.

Source: Wang et al., Energy Sources A 41 (2019) 2184.
"""


def oil_burnt_kg(
    consumption_l_per_1000_km: float, distance_km: float, density_kg_l: float = 0.85
) -> float:
    """Mass of oil burnt over a distance, kg; consumption in litres per 1000 km.

    Takes all oil that is topped up as burnt. Raises ValueError on negative values.

    >>> round(oil_burnt_kg(0.1, 100_000.0), 3)
    8.5
    """
    not_negative("consumption_l_per_1000_km", consumption_l_per_1000_km, _("L per 1000 km"))
    not_negative("distance_km", distance_km, "km")
    positive("density_kg_l", density_kg_l, "kg/L")
    return consumption_l_per_1000_km * distance_km / 1000.0 * density_kg_l


def ash_kg(oil_kg: float, sulphated_ash_share: float, trapped_share: float) -> float:
    """Ash in the filter, kg: oil burnt, its sulphated ash (mass share), share trapped.

    Oil gives about 90 % of the ash (Wang 2019); wear, fuel and additives give the rest,
    which is left out. Sulphated ash is the ASTM D874 figure: 0.008 for 0.8 %.
    Raises ValueError on values out of range.

    >>> round(ash_kg(8.5, 0.008, 1.0) * 1e3, 1)
    68.0
    """
    not_negative("oil_kg", oil_kg, "kg")
    share("sulphated_ash_share", sulphated_ash_share)
    share("trapped_share", trapped_share)
    return oil_kg * sulphated_ash_share * trapped_share
