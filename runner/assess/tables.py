"""The tables of this package: read once from the YAML files beside it, and one way to match.

A row says ``when`` these enumerated facts hold; a list is "any of these", and all named facts
must match. A fact that a row does not name does not matter to it. There is no expression
language.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from importlib.resources import files
from typing import Any, TypeAlias

from steplatch.safety.catalogue import _

TableConditions: TypeAlias = Mapping[str, Sequence[str]]


class BadTable(ValueError):  # noqa: N818 - it names the thing refused
    """A table of this package that cannot be used: file, row, what is wrong."""


@lru_cache(maxsize=8)
def load_table(name: str) -> Any:
    """The content of ``<name>.yaml`` beside this file. Raises ``BadTable`` if unreadable."""
    import yaml

    text = files("steplatch.runner.assess").joinpath(f"{name}.yaml").read_text(encoding="utf-8")
    try:
        return _said(yaml.load(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader)))
    except yaml.YAMLError as error:
        raise BadTable(f"{name}.yaml: {error}") from None


def _said(plain: Any) -> Any:
    """A table with its sentences in the language of the program; an id has no space in it."""
    if isinstance(plain, dict):
        return {key: _said(value) for key, value in plain.items()}
    if isinstance(plain, list):
        return [_said(value) for value in plain]
    return _(plain) if isinstance(plain, str) and " " in plain else plain


def matches(when: TableConditions, facts: Mapping[str, str]) -> bool:
    """True when every fact that ``when`` names has one of the values listed for it.

    A fact missing from ``facts`` is "unknown".
    """
    return all(facts.get(name, "unknown") in values for name, values in when.items())


def as_when(
    table: str, row: str, plain: object, domains: Mapping[str, Sequence[str]]
) -> TableConditions:
    """``when`` of a row, checked against the facts that exist and their values."""
    if not isinstance(plain, dict):
        raise BadTable(_("{table}.yaml, row {row}: when is not a mapping", table=table, row=row))
    when: dict[str, tuple[str, ...]] = {}
    for name, values in plain.items():
        if name not in domains:
            raise BadTable(
                _("{table}.yaml, row {row}: no such fact {name!r}", table=table, row=row, name=name)
            )
        listed = values if isinstance(values, list) else [values]
        for value in listed:
            if value not in domains[name]:
                raise BadTable(
                    _(
                        "{table}.yaml, row {row}: {name} is never {value!r}",
                        table=table,
                        row=row,
                        name=name,
                        value=value,
                    )
                )
        when[name] = tuple(listed)
    return when
