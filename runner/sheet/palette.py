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
