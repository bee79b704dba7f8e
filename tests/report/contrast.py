"""The contrast of the pairs of colours that a sheet uses."""

from typing import Final

from steplatch.runner.sheet.palette import (
    ACCENT,
    INK,
    KIND,
    LINES,
    MARK_INK,
    MARK_PAPER,
    MUTED,
    PAPER,
    RULE,
    SIGNAL,
    TINT,
)

TEXT_ON: Final = (
    (INK, PAPER),
    (INK, TINT),
    (MUTED, PAPER),
    (MUTED, TINT),
    (ACCENT, PAPER),
    (MARK_INK, MARK_PAPER),
    (MARK_PAPER, PAPER),
    *((colour, TINT) for colour in KIND.values()),
    *SIGNAL.values(),
)
"""Every pair of text and background that a sheet uses."""
MARKS_ON: Final = ((RULE, PAPER), *((colour, PAPER) for colour in LINES.values()))
"""Every pair of line or mark and background that a sheet uses."""


def contrast(one: str, two: str) -> float:
    """Contrast ratio of two ``#rrggbb`` colours, 1 to 21 (WCAG 2.2, definition)."""
    light, dark = sorted((_luminance(one), _luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    parts = []
    for start in (1, 3, 5):
        share = int(colour[start : start + 2], 16) / 255
        parts.append(share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4)
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]
