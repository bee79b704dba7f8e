"""Which vehicles a procedure is for, as its file says it and as a vehicle's file can be held
against it: each word, its states, and what people read of them."""

from typing import Annotated, Final, Literal, NamedTuple

from pydantic import Field
from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import VehicleInput

from ..input.strict_yaml import StrictModel

ANY: Final = "any vehicle"
"""What stands in a file where nothing of a vehicle is asked for."""


class Applies(StrictModel):
    """What a vehicle's file must say; a word that is left out asks for nothing.

    What the vehicle's file does not know is no misfit where its word has no 'unknown': it is
    looked at in the job.
    """

    fuel: Annotated[tuple[Literal["diesel", "petrol"], ...], Field(max_length=2)] = ()
    filter: Annotated[tuple[Literal["above", "below", "unknown"], ...], Field(max_length=3)] = ()
    hoses: Annotated[tuple[Literal["one", "two"], ...], Field(max_length=2)] = ()
    pressure: Annotated[tuple[Literal["shown", "not_shown"], ...], Field(max_length=2)] = ()


class Misfit(NamedTuple):
    """One word that does not fit: what the procedure asks for, and what the vehicle's file says."""

    word: str
    wanted: tuple[str, ...]
    is_so: str


SAID: Final[dict[str, dict[str, str]]] = {
    "fuel": {"diesel": "diesel", "petrol": "petrol"},
    "filter": {
        "above": _("filter inlet above the exhaust ports"),
        "below": _("filter inlet below the exhaust ports"),
        "unknown": _("filter inlet at a height that nobody knows"),
    },
    "hoses": {"one": _("one pressure hose"), "two": _("two pressure hoses")},
    "pressure": {"shown": _("filter pressure shown"), "not_shown": _("no filter pressure shown")},
}
"""Each state in words."""


def misfits(applies: Applies | str, vehicle: VehicleInput) -> tuple[Misfit, ...]:
    """What of a vehicle's file does not fit; nothing where the procedure says it in words only."""
    if isinstance(applies, str):
        return ()
    is_so = {
        "fuel": vehicle.fuel.value if vehicle.fuel is not None else "",
        "filter": vehicle.height.value,
        "hoses": "one" if vehicle.one_hose else "two",
        "pressure": "shown" if "pressure" in vehicle.shows else "not_shown",
    }
    asked = ((word, getattr(applies, word)) for word in SAID)
    return tuple(
        Misfit(word, wanted, is_so[word])
        for word, wanted in asked
        if wanted and is_so[word] and is_so[word] not in wanted
    )


def in_words(applies: Applies | str) -> str:
    """A sentence of which vehicles it is for."""
    if isinstance(applies, str):
        return applies
    parts = [
        " or ".join(words[state] for state in states)
        for word, words in SAID.items()
        if (states := getattr(applies, word))
    ]
    return _("For vehicles with: {parts}.", parts="; ".join(parts))
