"""Pressure against time, drawn in plain characters, newest on the right."""

from collections.abc import Sequence

from steplatch.safety.catalogue import _

from ..assess.plateau import TrendPoint

MARK, ROOM = "o", " "
LABELS = 6
HEIGHT = 6
LAST_SHOWN = 6


def plot(points: Sequence[TrendPoint], width: int, height: int = HEIGHT) -> list[str]:
    """The points in ``height`` rows and one row for the time, in mbar and minutes.

    Fewer than two points make no picture: an empty list.
    """
    if len(points) < 2:
        return []
    across = max(10, width - LABELS - 2)
    first_s, last_s = points[0][0], points[-1][0]
    low, high = min(p for _, p in points), max(p for _, p in points)
    span_s, span_pa = max(1.0, last_s - first_s), max(100.0, high - low)
    grid = [[ROOM] * across for _ in range(height)]
    for time_s, pressure_pa in points:
        column = round((time_s - first_s) / span_s * (across - 1))
        row = round((high - pressure_pa) / span_pa * (height - 1))
        grid[min(height - 1, max(0, row))][column] = MARK
    out = []
    for number, cells in enumerate(grid):
        at_pa = high - span_pa * number / (height - 1)
        label = f"{at_pa / 100:.0f}" if number in (0, height - 1) else ""
        out.append(f"{label:>{LABELS}} |{''.join(cells)}".rstrip())
    minutes = f"{(last_s - first_s) / 60:.0f} min"
    out.append(f"{'mbar':>{LABELS}} +{'-' * (across - len(minutes) - 1)} {minutes}")
    return out


def last_values(points: Sequence[TrendPoint]) -> str:
    """The last pressures in mbar, oldest first, for a screen with no room for a picture."""
    shown = [f"{pressure_pa / 100:.0f}" for _, pressure_pa in points[-LAST_SHOWN:]]
    return f"{' '.join(shown)} mbar" if shown else _("nothing noted yet")
