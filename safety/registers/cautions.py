"""The cautions register: every caution that a step can show before it is done."""

from .caution import Caution
from .cautions_harm import HARM
from .cautions_parts import PARTS

CAUTIONS: dict[str, Caution] = {caution.id: caution for caution in (*HARM, *PARTS)}
"""Every caution by its id."""
