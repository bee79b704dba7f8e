"""Odd lines typed where numbers are asked for: each is taken or refused in words, never a crash."""

import traceback
from random import Random

from steplatch.runner.core.draft import No
from steplatch.runner.core.gun_entry import parse_gun
from steplatch.runner.core.reading_set import BadReading
from steplatch.runner.core.steps.spray import parse_seconds
from steplatch.runner.core.typed_set import parse_set
from steplatch.runner.input.findings import BadFile
from steplatch.runner.input.quantities import DIMENSIONS, BadQuantity, parse_quantity
from steplatch.runner.input.strict_yaml import load_bytes

_PARTS = (
    "19", "20", "0", "-1", "1e9", "1e999", ".", ",", "1,5", "1.5", "1_000", "0x10", "nan", "inf",
    "mL", "in", "s", "degC", "mbar", "kPa", "x", "open", "shut", "loaded", "drained", "%", "/",
    "°C", "µL", "٣", "８", "২", "\u202e", "\x1b[31m", "\x00", "\ud800", "\t", "\u00a0", "a" * 400,
    "9" * 400, "1/min", "[", "{", "&a", "*a", "!!python", "? ", ": ", "- ", "#", "|", "\n",
)  # fmt: skip


def typed(chance: Random) -> str:
    """A line of odd parts."""
    between = chance.choice(("", " ", " ", "  "))
    return between.join(chance.choice(_PARTS) for _ in range(chance.randrange(1, 9)))


def crashed(text: str, chance: Random) -> str:
    """What a reader of typed lines or of a file crashed with on ``text``; '' for none."""
    try:
        match chance.randrange(5):
            case 0:
                parse_gun(text, 0.5)
            case 1:
                parse_quantity(text, chance.choice(tuple(DIMENSIONS)))
            case 2:
                parse_seconds(text)
            case 3:
                parse_set(text, chance.choice(("raised", "idle", "zero")), "before", cylinders=4)
            case _:
                load_bytes(text.encode("utf-8", "surrogatepass"), "vehicle.yaml")
    except (No, BadQuantity, BadReading, BadFile):
        return ""
    except Exception:
        return traceback.format_exc().strip().splitlines()[-1][:100]
    return ""
