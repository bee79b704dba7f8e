"""Measure the exhaust at the filter inlet. Here a number becomes its class."""

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import Field
from steplatch.safety.bay import Port
from steplatch.safety.kernel import Seen

from ...input.quantities import BadQuantity, format_si, parse_quantity
from ...input.resolution import taken
from ..commands import Answer
from ..draft import Draft, refuse
from ..job import Job
from ..showing import Question, Source
from ..tries import Standing, Try
from .kind import Kind


class TemperatureStep(Kind):
    """Measure the exhaust at the filter inlet; passes in the named classes."""

    kind: Literal["temperature"]
    want: Annotated[tuple[Literal["cool", "warm"], ...], Field(min_length=1)]

    head = "want"

    takes_min = 1.5
    looked_again = True

    def settles(self) -> frozenset[str]:
        """The exhaust's class."""
        return frozenset({"port"})

    def answer(self, draft: Draft, value: str) -> None:
        """Record the temperature; done when its class is one that is wanted."""
        plain, port = exhaust(draft, value)
        draft.record("exhaust", plain)
        draft.add(Seen("port", port))
        if port.value in self.want:
            draft.done(value)

    def limit_lines(self, job: Job, source: Source) -> tuple[str, ...]:
        """The hottest that passes."""
        cool = self.want == ("cool",)
        limit = job.log.number("port_cool_k" if cool else "port_warm_k")
        key = "exhaust_engine_off" if cool else "exhaust_running"
        return (f"at most {format_si(limit, 'temperature', rounding='down')}{source(key)}",)

    def asks(self) -> Question:
        """The temperature."""
        return Question("Type the temperature at the filter inlet, e.g. 64 degC.")

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """One temperature of each class."""
        for text, name in (("20", "cool"), ("100", "warm"), ("400", "hot")):
            if not at.scenario.well or name in self.want[:1]:
                yield Try(f"{text} degC ({name})", Answer(self.id, text), kind="answer")


def exhaust(draft: Draft, value: str) -> tuple[dict[str, Any], Port]:
    """The exhaust at the filter inlet as typed, and its class. Raises No."""
    typed = value if has_unit(value) else f"{value} degC"
    try:
        quantity = parse_quantity(typed, "temperature")
    except BadQuantity:
        raise refuse("number", typed=typed, quantity="temperature") from None
    log = draft.job.log
    recorded = taken("temperature", quantity.si_value)
    if float(recorded["k"]) <= log.number("port_cool_k"):
        port = Port.COOL
    elif float(recorded["k"]) <= log.number("port_warm_k"):
        port = Port.WARM
    else:
        port = Port.HOT
    return {
        "typed": value,
        **recorded,
        "at_ms": log.aged_ms,
        "class": port.value,
    }, port


def has_unit(value: str) -> bool:
    """Whether what was typed has more than a number in it."""
    return any(letter.isalpha() or letter == "°" for letter in value)
