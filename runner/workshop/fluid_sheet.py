"""What a fluid's file says of its safety data sheet, and what follows from it.

The classes of hazard statements are those of Regulation (EC) No 1272/2008, Annex III, parts 1 and 2
(from memory); how old a sheet may be is stated nowhere, so the years are a design choice.
"""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Final

from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import Fluid

FEEDS_FIRE: Final = frozenset(
    {"H220", "H221", "H222", "H223", "H224", "H225", "H226", "H228", "H240", "H241", "H242"}
    | {"H250", "H251", "H252", "H260", "H261", "H270", "H271", "H272"}
)
"""Flammable, self-igniting, giving off flammable gas, oxidising: none of it meets a hot exhaust."""
_WEAR: Final = (
    (_("gloves that resist it"), ("H310", "H311", "H312", "H314", "H315", "H317")),
    (_("closed eye protection"), ("H314", "H318", "H319")),
    (_("breathing protection where mist is not drawn off"),
     ("H330", "H331", "H332", "H334", "H335", "H336")),
)  # fmt: skip
OLD_YEARS: Final = 5
_YEAR_DAYS: Final = 365.25


def feeding_fire(codes: Iterable[str]) -> tuple[str, ...]:
    """Those of the hazard statements for which no fluid goes into a hot exhaust."""
    return tuple(code for code in _single(codes) if code in FEEDS_FIRE)


def to_wear(codes: Iterable[str]) -> tuple[str, ...]:
    """What the hazard statements ask to be worn, in words."""
    named = set(_single(codes))
    return tuple(what for what, asks in _WEAR if named.intersection(asks))


def sheet_lines(fluid: Fluid, today: date) -> tuple[str, ...]:
    """The fluid as its container and sheet name it, with what to wear; an old sheet is told."""
    dated = date.fromisoformat(fluid.data_sheet_date)
    years = int((today - dated).days / _YEAR_DAYS)
    old = _(", {years} years old: ask for today's", years=years) if years >= OLD_YEARS else ""
    worn = "; ".join(to_wear(fluid.hazard_codes))
    named = " ".join(fluid.hazard_codes) or _("no hazard statement")
    label = _(
        "LABEL  {label}; data sheet {data_sheet} of {dated}{old}",
        label=fluid.label,
        data_sheet=fluid.data_sheet,
        dated=dated,
        old=old,
    )
    return (
        label,
        _("SHEET  {named}{part}{worn}", named=named, part=": " if worn else "", worn=worn),
    )


def _single(codes: Iterable[str]) -> Iterator[str]:
    """Each statement by its class alone: of those joined by + each, letters behind it left off."""
    for code in codes:
        for part in code.split("+"):
            yield part[:4]
