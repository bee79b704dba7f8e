"""The answers that triage and verdict rest on: enumerated facts, a few numbers, the codes.

A fact not given is ``unknown``; a fact or value that does not exist is refused. YAML reads a
bare ``no`` as false: here true and false are taken as yes and no.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any, TypeAlias

from steplatch.safety.catalogue import _

from .codes import BadCode, Code, describe_all
from .tables import load_table

Given: TypeAlias = Mapping[str, Any]

UNKNOWN = "unknown"


class BadFact(ValueError):  # noqa: N818 - it names the thing refused
    """A fact that does not exist, or a value it never has: which, what, the remedy."""


@dataclass(frozen=True, slots=True)
class Facts:
    """Checked facts: ``choices`` by name, ``numbers`` by name, ``codes`` described."""

    choices: Mapping[str, str]
    numbers: Mapping[str, float]
    codes: tuple[Code, ...]

    def get(self, name: str) -> str:
        """The value of a choice, ``unknown`` when not given."""
        return self.choices.get(name, UNKNOWN)

    def number(self, name: str) -> float | None:
        """The value of a number, None when not given."""
        return self.numbers.get(name)


def check_facts(given: Given) -> Facts:
    """The facts in ``given`` ("codes" is a sequence of trouble codes). Raises ``BadFact``."""
    choices: dict[str, str] = {}
    numbers: dict[str, float] = {}
    codes: tuple[Code, ...] = ()
    table = choice_domains()
    bounds = _bounds()
    for name, value in given.items():
        if name == "codes":
            codes = _codes(value)
        elif name in table:
            word = ("yes" if value else "no") if isinstance(value, bool) else value
            if word not in table[name]:
                raise BadFact(
                    _(
                        "{name} is {value!r}. Use one of: {table}.",
                        name=name,
                        value=value,
                        table=", ".join(table[name]),
                    )
                )
            choices[name] = str(word)
        elif name in bounds:
            numbers[name] = _number(name, value, *bounds[name])
        else:
            known = ", ".join([*table, *bounds, "codes"])
            raise BadFact(_("no such fact: {name!r}. Known are {known}.", name=name, known=known))
    return Facts(MappingProxyType(choices), MappingProxyType(numbers), codes)


@lru_cache(maxsize=1)
def choice_domains() -> dict[str, tuple[str, ...]]:
    """Every enumerated fact and the values it may have, ``unknown`` last."""
    out: dict[str, tuple[str, ...]] = {}
    for name, row in load_table("facts")["choices"].items():
        words = [{True: "yes", False: "no"}.get(v, v) for v in row["values"]]
        out[name] = (*words, UNKNOWN)
    return out


def question(name: str) -> str:
    """The question that asks for a fact, in plain words."""
    return str(load_table("facts")["choices"][name]["ask"])


def _bounds() -> dict[str, tuple[float, float]]:
    rows = load_table("facts")["numbers"]
    return {name: (float(row["low"]), float(row["high"])) for name, row in rows.items()}


def _number(name: str, value: object, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadFact(
            _("{name} is {value!r}, not a number. Write digits only.", name=name, value=value)
        )
    if not low <= value <= high:
        raise BadFact(
            _(
                "{name} is {value!r}. It lies between {low:g} and {high:g}.",
                name=name,
                value=value,
                low=low,
                high=high,
            )
        )
    return float(value)


def _codes(value: object) -> tuple[Code, ...]:
    if isinstance(value, str) or not isinstance(value, Sequence):
        raise BadFact(_("codes is not a list. Write [P2002, P2463], or [] for none."))
    try:
        return describe_all([str(v) for v in value])
    except BadCode as error:
        raise BadFact(f"codes: {error}") from None
