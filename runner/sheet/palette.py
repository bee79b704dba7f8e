"""Colours of sheet and plots, and their contrast. Colour never carries a meaning alone.

Every text colour has at least 4.5:1 on every background that it stands on (WCAG 2.2, success
criterion 1.4.3), lines and marks at least 3:1 (1.4.11); a test computes them all.
"""

from typing import Final

INK: Final = "#1b1d1f"
MUTED: Final = "#4a4f55"
PAPER: Final = "#ffffff"
TINT: Final = "#f3f4f2"
RULE: Final = "#8a9097"
ACCENT: Final = "#17435e"
MARK_INK: Final = "#ffffff"
MARK_PAPER: Final = "#7a1f1a"

KIND: Final[dict[str, str]] = {
    "good": "#1d5c3c",
    "between": "#7a4d00",
    "bad": "#7a1f1a",
    "none": "#4a4f55",
}
"""Edge and title of the verdict box, by its kind; the title says the same in words."""

SIGNAL: Final[dict[str, tuple[str, str]]] = {
    "DANGER": ("#ffffff", "#9b2423"),
    "WARNING": ("#000000", "#e58a3c"),
    "CAUTION": ("#2b2b2c", "#f9c74a"),
    "NOTICE": ("#ffffff", "#005387"),
}
"""Text and background of the signal words, after the colours of ISO 3864-4 where they give
enough contrast, lighter where they do not."""

LINES: Final[dict[str, str]] = {"before": "#7a4d00", "after": "#17435e", "road": "#1d5c3c"}

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
