"""What a caution is: shown before a step is done, from the register in ``cautions.py``.

A caution informs; it never holds an act that has to be done as a step. ``avoid`` describes
the state in which the harm does not come about. Local rules, the maker's data and the data
sheet stand above every line here.

Signal words follow ANSI Z535.6 and ISO 3864-2 (read in secondary sources):

======= ===========================================================
DANGER  will kill or seriously injure if it is not avoided
WARNING could kill or seriously injure
CAUTION could injure in a minor or moderate way
NOTICE  property, engine or environment; no injury
======= ===========================================================
"""

from dataclasses import dataclass
from typing import Literal

from ..catalogue import _

Word = Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]

WORDS: tuple[Word, ...] = ("DANGER", "WARNING", "CAUTION", "NOTICE")
"""The signal words, gravest first; where several hazards meet, the gravest word is shown."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: the hazard, what it does, how it is avoided, where that comes from."""

    id: str
    word: Word
    hazard: str
    consequence: str
    avoid: str
    source: str


TRADE = _("common practice, no source")
SHEET = _("COSHH Regulations 2002; the fluid's safety data sheet, sections 2, 4 and 8")
BURN = _("WorkSafeBC, risk advisory on diesel particulate filters (soot burns at up to 600 degC)")
START = _("ISO 14118 (isolation from unexpected start-up), scope")
