"""How long revs or idle were held before a set is read: timed from the record, not believed."""

from typing import Any

from ..core.clock import wait_credit_ms
from ..core.steps import ReadStep
from .context import Context
from .talk import StyledLine

HELD_S = 120.0
"""How long revs or idle are held before a set is read, s (common practice, no source)."""


def held_s(on: Context, step: Any) -> float | None:
    """Seconds since the engine came to where it is now, while a raised or an idle set is read; None
    at the zero, whose wait is a timer of its own, and at any other step."""
    if not isinstance(step, ReadStep) or step.condition == "zero":
        return None
    log = on.session.job.log
    since_ms = log.aged_ms - log.set_ms.get("engine", log.aged_ms)
    if log.last is not None:
        since_ms += wait_credit_ms(log.last, on.session.clock.now())
    return since_ms / 1000


def held_line(on: Context, step: ReadStep) -> tuple[StyledLine, ...]:
    """How long it has been held, beside how long it has to be."""
    held = min(held_s(on, step) or 0.0, HELD_S)
    return ((f"HELD   {int(held // 60)}:{int(held % 60):02d} of {HELD_S / 60:.0f}:00", "do"),)


def early(on: Context, step: Any) -> str:
    """What is said of a set that was typed before it was held for long enough: it is taken, and
    both times stand in the record. A practice vehicle is held by its hands."""
    held = held_s(on, step)
    if on.hand is not None or held is None or held >= HELD_S:
        return ""
    return f"EARLY  held for {held:.0f} s of {HELD_S:.0f}: perhaps not comparable. Read it again."
