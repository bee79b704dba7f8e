"""The hazard register: what can hurt whom, which interlocks and cautions answer it, what is left.

An interlock refuses an act on what people report; it senses and moves nothing. So each hazard
names what is **left over** and what **only a person can do**. Local rules, the maker's data and
the fluid's data sheet stand above every line.
"""

from .hazard import Hazard
from .hazards_engine import ENGINE
from .hazards_parts import PARTS

HAZARDS: tuple[Hazard, ...] = (*ENGINE, *PARTS)
"""Every hazard; the order is that of the printed register."""
