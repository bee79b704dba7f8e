"""Measure the exhaust at the filter inlet. Here a number becomes its classes: one for fluid, one
for hands."""

from collections.abc import Iterator
from typing import Annotated, Any, Final, Literal

from pydantic import Field
from steplatch.safety.bay import Port, Touch
from steplatch.safety.catalogue import _
from steplatch.safety.kernel import Seen

from ...input.quantities import BadQuantity, format_si, parse_quantity
from ...input.resolution import taken
from ..commands import Answer, Fill
from ..draft import Draft, refuse
from ..job import Job, Log
from ..showing import Question, Source
from ..tries import Standing, Try
from .kind import Kind

CAR: Final = {"source": "car"}
"""Beside a number that the vehicle gave; one that was typed has nothing beside it."""


class TemperatureStep(Kind):
    """Measure the exhaust at the filter inlet; passes in the named classes, of fluid (``cool``,
    ``warm``), of hands (``bare``, ``gloved``) or of both."""

    kind: Literal["temperature"]
    want: Annotated[tuple[Literal["cool", "warm", "bare", "gloved"], ...], Field(min_length=1)]

    head = "want"

    takes_min = 1.5
    looked_again = True

    @property
    def led_back_to(self) -> bool:
        """The exhaust is soon measured again."""
        return True

    def settles(self) -> frozenset[str]:
        """The exhaust's classes."""
        return frozenset({"port", "touch"})

    def highest(self) -> tuple[tuple[str, str], ...]:
        """The numbers that the exhaust must not be over, with the names of their worked limits."""
        found = []
        for classes in _LADDERS:
            named = [number for name, *number in classes if name in self.want]
            if named:
                found.append((named[-1][0], named[-1][1]))
        return tuple(found)

    def highest_k(self, log: Log) -> float:
        """The lowest of them, in K."""
        return min(log.number(number) for number, _ in self.highest())

    def answer(self, draft: Draft, value: str) -> None:
        """Record the temperature; done when its class is one that is wanted."""
        self._take(draft, value, {})

    def fill(self, draft: Draft, command: Fill) -> None:
        """The same from the vehicle; its sensor sits in the gas and says nothing of hands."""
        if not draft.job.core.begun:
            raise refuse("two-marks")
        if command.car != ("exhaust",) or not {"cool", "warm"}.issuperset(self.want):
            raise refuse("fill")
        self._take(draft, command.value, CAR)

    def _take(self, draft: Draft, value: str, source: dict[str, str]) -> None:
        _, seen = measured(draft, value, source)
        for fact, classes in zip(("port", "touch"), _LADDERS, strict=True):
            names = {name for name, *_ in classes if name in self.want}
            if names and (fact not in seen or seen[fact].value not in names):
                return
        draft.done(value)

    def limit_lines(self, job: Job, source: Source) -> tuple[str, ...]:
        """The hottest that passes, for fluid and for hands."""
        return tuple(
            _(
                "at most {format_si}{source}",
                format_si=format_si(job.log.number(number), "temperature", rounding="down"),
                source=source(key),
            )
            for number, key in self.highest()
        )

    def asks(self) -> Question:
        """The temperature."""
        return Question(_("Type the temperature at the filter inlet, e.g. 64 degC."))

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """One temperature of each class."""
        for text, names in _TRIED.items():
            if not at.scenario.well or self.want[0] in names:
                yield Try(f"{text} degC ({names[0]})", Answer(self.id, text), kind="answer")


_LADDERS: Final = (
    (("cool", "port_cool_k", "exhaust_engine_off"), ("warm", "port_warm_k", "exhaust_running")),
    (("bare", "touch_k", "touch"), ("gloved", "gloved_k", "gloved")),
)
"""The classes of fluid and of hands, coolest first: name, number in the log, worked limit."""
_TRIED: Final = {"20": ("cool", "bare"), "100": ("warm", "gloved"), "400": ("hot",)}


def measured(
    draft: Draft, value: str, source: dict[str, str]
) -> tuple[dict[str, Any], dict[str, Port | Touch]]:
    """Record the exhaust as typed, or as the vehicle gave it (``source``), and what it says of
    fluid and of hands; both. The vehicle's sensor sits in the gas: of hands it says at most that
    it is too hot for them. Raises No."""
    plain, seen = exhaust(draft, value)
    draft.record("exhaust", plain | source)
    if source == CAR and seen["touch"] is not Touch.HOT:
        del seen["touch"]
    for fact, state in seen.items():
        draft.add(Seen(fact, state))
    return plain, seen


def exhaust(draft: Draft, value: str) -> tuple[dict[str, Any], dict[str, Port | Touch]]:
    """The exhaust at the filter inlet as typed, and its class for each fact. Raises No."""
    typed = value if has_unit(value) else f"{value} degC"
    try:
        quantity = parse_quantity(typed, "temperature")
    except BadQuantity:
        raise refuse("number", typed=typed, quantity="temperature") from None
    log = draft.job.log
    recorded = taken("temperature", quantity.si_value)
    kelvin = float(recorded["k"])
    port = Port.HOT
    if kelvin <= log.number("port_warm_k"):
        port = Port.COOL if kelvin <= log.number("port_cool_k") else Port.WARM
    touch = Touch.HOT
    if kelvin <= log.number("gloved_k"):
        touch = Touch.BARE if kelvin <= log.number("touch_k") else Touch.GLOVED
    return {
        "typed": value,
        **recorded,
        "at_ms": log.aged_ms,
        "class": port.value,
    }, {"port": port, "touch": touch}


def has_unit(value: str) -> bool:
    """Whether what was typed has more than a number in it."""
    return any(letter.isalpha() or letter == "°" for letter in value)
