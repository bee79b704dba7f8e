"""Turns pydantic's errors into what a person can act on: which key, what is wrong, the remedy."""

import difflib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from pydantic import BaseModel
from pydantic.errors import PydanticInvalidForJsonSchema
from steplatch.safety.catalogue import _, ngettext

from .findings import BadValue, shown

KeyPath: TypeAlias = tuple[str | int, ...]
DISGUISED = frozenset({"yes", "no", "on", "off", "y", "n", "true", "false"})


@dataclass(frozen=True, slots=True)
class ModelFinding:
    """One error at a path in the data; ``at_key`` when the key itself is at fault."""

    path: KeyPath
    problem: str
    remedy: str
    at_key: bool = False


def findings_of(
    errors: Iterable[Any], data: Any, model: type[BaseModel]
) -> tuple[ModelFinding, ...]:
    """Return one finding for each error, the alternatives of a union at one path joined by "or".

    ``errors`` are pydantic's error details, ``data`` the values that were checked.
    """
    schema = _Schema(model)
    refused: Mapping[str, str] = getattr(model, "refused_keys", {})
    joined: dict[tuple[KeyPath, bool], ModelFinding] = {}
    for error in errors:
        path = path_of(error["loc"], data, schema.discriminators, error["type"])
        found = _finding(error, path, data, schema, refused)
        slot = (found.path, found.at_key)
        before = joined.get(slot)
        joined[slot] = found if before is None else _either(before, found)
    return tuple(joined.values())


def _either(one: ModelFinding, other: ModelFinding) -> ModelFinding:
    if other.problem in one.problem:
        return one
    problem = _("{problem}; or {problem_2}", problem=one.problem, problem_2=other.problem)
    return ModelFinding(one.path, problem, f"{one.remedy}; or: {other.remedy}", one.at_key)


def path_of(
    loc: Sequence[str | int], data: Any, discriminators: frozenset[str], kind: str
) -> KeyPath:
    """Return the path in ``data`` that ``loc`` means, without the tags that unions put into it.

    An element is a tag when the data has no such key there, or when the mapping there names it
    as its kind. Of several readings the first that can be followed to the end is taken.
    """
    found = _follow(tuple(loc), data, discriminators, kind == "missing", tagged=False)
    return () if found is None else found


def _follow(
    loc: tuple[str | int, ...],
    node: Any,
    discriminators: frozenset[str],
    missing: bool,
    tagged: bool,
) -> KeyPath | None:
    if not loc:
        return None if missing else ()
    head, rest = loc[0], loc[1:]

    def drop() -> KeyPath | None:
        return _follow(rest, node, discriminators, missing, True)

    def descend() -> KeyPath | None:
        if _has(node, head):
            inner = node[head]
        elif missing and not rest and isinstance(node, dict):
            return (head,)
        else:
            return None
        tail = _follow(rest, inner, discriminators, missing, False)
        return None if tail is None else (head, *tail)

    is_kind = isinstance(node, dict) and any(node.get(name) == head for name in discriminators)
    first, second = (drop, descend) if is_kind and not tagged else (descend, drop)
    found = first()
    return second() if found is None else found


def _has(node: Any, part: str | int) -> bool:
    if isinstance(node, dict):
        return part in node
    return isinstance(node, list) and isinstance(part, int) and part < len(node)


class _Schema:
    """The model's JSON schema, asked only for the keys known at a path."""

    def __init__(self, model: type[BaseModel]) -> None:
        try:
            self._root: dict[str, Any] = model.model_json_schema()
        except PydanticInvalidForJsonSchema:
            self._root = {"properties": {key: {} for key in model.model_fields}}
        names: set[str] = set()
        self._collect(self._root, names)
        self.discriminators = frozenset(names)

    def _collect(self, node: Any, names: set[str]) -> None:
        if isinstance(node, dict):
            mark = node.get("discriminator")
            if isinstance(mark, dict) and isinstance(mark.get("propertyName"), str):
                names.add(mark["propertyName"])
            node = list(node.values())
        if isinstance(node, list):
            for inner in node:
                self._collect(inner, names)

    def known_keys(self, path: KeyPath, data: Any) -> tuple[str, ...]:
        """Return the keys that the model knows in the mapping at ``path``."""
        nodes = self._choices(self._root, data)
        for part in path:
            inner = data[part] if _has(data, part) else None
            nodes = [
                choice
                for node in nodes
                for step in _steps(node, part)
                for choice in self._choices(step, inner)
            ]
            data = inner
        keys = dict.fromkeys(key for node in nodes for key in node.get("properties", {}))
        return tuple(keys)

    def _choices(self, node: Any, data: Any) -> list[dict[str, Any]]:
        """Return the plain schemas that ``node`` may stand for, given the data's kind."""
        if not isinstance(node, dict):
            return []
        if "$ref" in node:
            name = str(node["$ref"]).rsplit("/", 1)[-1]
            return self._choices(self._root.get("$defs", {}).get(name), data)
        mark = node.get("discriminator")
        if isinstance(mark, dict) and isinstance(data, dict):
            chosen = mark.get("mapping", {}).get(str(data.get(mark["propertyName"])))
            if chosen:
                return self._choices({"$ref": chosen}, data)
        branches = [*node.get("anyOf", []), *node.get("oneOf", []), *node.get("allOf", [])]
        return [node] + [choice for branch in branches for choice in self._choices(branch, data)]


def _steps(node: dict[str, Any], part: str | int) -> list[Any]:
    if isinstance(part, str):
        return [node.get("properties", {}).get(part) or node.get("additionalProperties")]
    prefix = node.get("prefixItems", [])
    return [prefix[part] if part < len(prefix) else node.get("items")]


def _finding(
    error: Any, path: KeyPath, data: Any, schema: _Schema, refused: Mapping[str, str]
) -> ModelFinding:
    kind, given, context = error["type"], error["input"], error.get("ctx", {})
    if kind == "extra_forbidden":
        key = str(path[-1])
        if len(path) == 1 and key in refused:
            return ModelFinding(path, _("this key is refused here"), refused[key], True)
        remedy = _unknown_remedy(key, schema.known_keys(path[:-1], data))
        return ModelFinding(path, _("unknown key"), remedy, True)
    if kind == "missing":
        return ModelFinding(
            path, _("this key is missing"), _('Add "{path}: ..."', path=path[-1]), True
        )
    if kind == "union_tag_not_found":
        name = str(context["discriminator"]).strip("'")
        return ModelFinding(
            (*path, name), _("this key is missing"), _('Add "{name}: ..."', name=name), True
        )
    if kind == "union_tag_invalid":
        name = str(context["discriminator"]).strip("'")
        problem = _('"{shown}" is not one of the kinds known here', shown=shown(context["tag"]))
        return ModelFinding((*path, name), problem, _choice_remedy(context, "expected_tags"))
    if kind in ("literal_error", "enum"):
        problem = _("{given} is not allowed here", given=_given(given))
        return ModelFinding(path, problem, _choice_remedy(context, "expected", given))
    own = context.get("error")
    if isinstance(own, BadValue):
        return ModelFinding(path, own.problem, own.remedy)
    if own is not None:
        return ModelFinding(path, str(own), _("Correct the value"))
    words = _WORDS.get(kind)
    if words is None:
        message = str(error["msg"])
        return ModelFinding(path, message[:1].lower() + message[1:], _("Correct the value"))
    problem, remedy = words(given, context)
    return ModelFinding(path, problem, remedy)


def _unknown_remedy(key: str, known: tuple[str, ...]) -> str:
    near = difflib.get_close_matches(key.lower().replace("-", "_"), known, n=1, cutoff=0.6)
    if near:
        return _('Did you mean "{near}"?', near=near[0])
    return _("Known here: ") + ", ".join(known) if known else _("Remove it")


def _choice_remedy(context: Mapping[str, Any], name: str, given: Any = None) -> str:
    allowed = str(context.get(name, "")).replace("'", "")
    if isinstance(given, bool):
        return _(
            'Write one of: {allowed}; quote it if you mean the text "{yaml}"',
            allowed=allowed,
            yaml=_yaml(given),
        )
    return _("Write one of: {allowed}", allowed=allowed)


def _yaml(value: Any) -> str:
    """Return a plain value as the file spells it."""
    if value is None:
        return "null"
    return str(value).lower() if isinstance(value, bool) else str(value)


def _given(value: Any) -> str:
    """Return the words for what was found instead."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return _("the switch {yaml}", yaml=_yaml(value))
    if isinstance(value, int | float):
        return _("the number {value}", value=value)
    if isinstance(value, str):
        return _('the text "{shown}"', shown=shown(value))
    return _("a list") if isinstance(value, list | tuple) else _("a group of keys")


_Words: TypeAlias = Callable[[Any, Mapping[str, Any]], tuple[str, str]]


def _wanted_text(given: Any, _unused: Mapping[str, Any]) -> tuple[str, str]:
    if isinstance(given, bool | int | float):
        return _("a text is wanted, not {given}", given=_given(given)), _("Put quotes around it")
    return _("a text is wanted, not {given}", given=_given(given)), _("Write a text")


def _wanted_switch(given: Any, _unused: Mapping[str, Any]) -> tuple[str, str]:
    if isinstance(given, str) and given.lower() in DISGUISED:
        return (
            _('"{given}" is a text here, not true or false', given=given),
            _("Write true or false, in small letters and without quotes"),
        )
    return _("true or false is wanted, not {given}", given=_given(given)), _("Write true or false")


def _wanted_whole(given: Any, _unused: Mapping[str, Any]) -> tuple[str, str]:
    return (
        _("a whole number is wanted, not {given}", given=_given(given)),
        _("Write digits only, such as 4, without quotes or unit"),
    )


def _wanted_number(given: Any, _unused: Mapping[str, Any]) -> tuple[str, str]:
    return (
        _("a number is wanted, not {given}", given=_given(given)),
        _("Write a plain number such as 16 or 0.5, without quotes, unit or exponent"),
    )


def _wanted_list(given: Any, _unused: Mapping[str, Any]) -> tuple[str, str]:
    return _("a list is wanted, not {given}", given=_given(given)), _(
        'Write each item on a line after "- "'
    )


def _wanted_group(given: Any, _unused: Mapping[str, Any]) -> tuple[str, str]:
    return (
        _("a group of keys is wanted, not {given}", given=_given(given)),
        _('Write "key: value" lines, indented alike'),
    )


def _bound(sign: str, name: str) -> _Words:
    def words(given: Any, context: Mapping[str, Any]) -> tuple[str, str]:
        return _("{given} is outside what is believed here", given=given), _(
            "Write {sign} {context}", sign=sign, context=context[name]
        )

    return words


def _characters(size: int) -> str:
    return ngettext("{size} character", "{size} characters", size, size=size)


def _items(size: int) -> str:
    return ngettext("{size} item", "{size} items", size, size=size)


def _size(sign: str, name: str, counted: Callable[[int], str]) -> _Words:
    def words(given: Any, context: Mapping[str, Any]) -> tuple[str, str]:
        return _("{given} has the wrong size", given=_given(given)), _(
            "Write {sign} {count}", sign=sign, count=counted(context[name])
        )

    return words


def _pattern(given: Any, context: Mapping[str, Any]) -> tuple[str, str]:
    remedy = _FORMS.get(context["pattern"], _("Write it as the examples beside this file do"))
    return _("{given} has the wrong form", given=_given(given)), remedy


_NAME: Final = _("Use small letters, digits and {}, a letter first, 2 to 40 characters")
_FORMS: Final = {
    "^[0-9a-f]{64}$": _("It is a SHA-256: 64 of the digits 0 to 9 and a to f"),
    r"^22 [0-9A-F]{4}$": _("Write 22 and four of the digits 0 to 9 and A to F, such as 22 F40C"),
    r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$": _("Write year-month-day, such as 2024-05-31"),
    r"^[a-z0-9]+(-[a-z0-9]+)*$": _("Use small letters and digits, parts joined by -"),
    r"^[a-z][a-z0-9-]*/[a-z0-9][a-z0-9_-]*$": _("Write two names with / between them"),
    r"^[a-z][a-z0-9-]{1,39}$": _NAME.format("-"),
    r"^[a-z][a-z0-9_-]{1,39}$": _NAME.format(_("- or _")),
    r"^[a-z][a-z0-9_]{1,39}$": _NAME.format("_"),
}
"""Each form that a model asks for, in words: nobody has to read a pattern."""


def _date(given: Any, _unused: Mapping[str, Any]) -> tuple[str, str]:
    return _("{given} is not a date", given=_given(given)), _(
        "Write year-month-day, such as 2024-05-31"
    )


_WORDS: Mapping[str, _Words] = {
    "string_type": _wanted_text,
    "bool_type": _wanted_switch,
    "bool_parsing": _wanted_switch,
    "int_type": _wanted_whole,
    "int_from_float": _wanted_whole,
    "int_parsing": _wanted_whole,
    "float_type": _wanted_number,
    "float_parsing": _wanted_number,
    "list_type": _wanted_list,
    "tuple_type": _wanted_list,
    "set_type": _wanted_list,
    "frozen_set_type": _wanted_list,
    "dict_type": _wanted_group,
    "model_type": _wanted_group,
    "dataclass_type": _wanted_group,
    "model_attributes_type": _wanted_group,
    "greater_than": _bound(_("more than"), "gt"),
    "greater_than_equal": _bound(_("at least"), "ge"),
    "less_than": _bound(_("less than"), "lt"),
    "less_than_equal": _bound(_("at most"), "le"),
    "string_too_short": _size(_("at least"), "min_length", _characters),
    "string_too_long": _size(_("at most"), "max_length", _characters),
    "too_short": _size(_("at least"), "min_length", _items),
    "too_long": _size(_("at most"), "max_length", _items),
    "string_pattern_mismatch": _pattern,
    "date_type": _date,
    "date_parsing": _date,
    "date_from_datetime_parsing": _date,
    "date_from_datetime_inexact": _date,
}
