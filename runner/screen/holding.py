"""How long revs or idle were held before a set is read: timed from the record, not believed."""

from typing import Any

from steplatch.safety.catalogue import _

from ..assess.inputs import BANDS
from ..core.clock import wait_credit_ms
from ..core.steps import ReadStep, read
from ..input.quantities import parse_quantity
from .asking import pass_time
from .context import Context
from .talk import StyledLine

HELD_S = BANDS.held_s
"""How long revs or idle are held before a set is read, s."""


def held_s(on: Context, step: Any) -> float | None:
    """Seconds since the engine came to where it is now, while a raised or an idle set is read; None
    at the zero, whose wait is a timer of its own, and at any other step."""
    if not isinstance(step, ReadStep) or step.condition == "zero":
        return None
    log = on.session.job.log
    more_ms = wait_credit_ms(log.last, on.session.clock.now()) if log.last is not None else 0
    return read.held_s(log) + more_ms / 1000


def wanted_s(step: ReadStep) -> float:
    """How long its revs or idle are held: two minutes, or longer where the procedure says so."""
    own = parse_quantity(step.held, "time").si_value if step.held else 0.0
    return max(HELD_S, own)


def held_line(on: Context, step: ReadStep) -> tuple[StyledLine, ...]:
    """How long it has been held, beside how long it has to be."""
    wanted = wanted_s(step)
    held = min(held_s(on, step) or 0.0, wanted)
    now, whole = (f"{int(s // 60)}:{int(s % 60):02d}" for s in (held, wanted))
    return ((_("HELD   {now} of {whole}", now=now, whole=whole), "do"),)


def early(on: Context, step: Any) -> str:
    """What is said of a set that was typed before it was held for long enough: it is taken, with
    how long it was held, by which the comparison is widened or refused."""
    held = held_s(on, step)
    if held is None or held >= wanted_s(step):
        return ""
    then = (
        _("nothing has settled, not compared") if held < BANDS.held_least_s else _("compared wider")
    )
    return _(
        "EARLY  held for {held:.0f} s of {wanted_s:.0f}: {then}. Read it again.",
        held=held,
        wanted_s=wanted_s(step),
        then=then,
    )


def hold_out(on: Context, since_s: float, wanted: float = HELD_S) -> None:
    """In practice: let pass what is missing of ``wanted``, the revs or the idle held."""
    if on.hand is not None and since_s < wanted:
        pass_time(on, wanted - since_s)
        on.session.tick()
