"""Commands, events and outcomes as plain JSON objects, and back.

One rule for all: ``{"kind": class name, field: value, ...}``. Enumerations travel by their
value; the state of a fact by its name beside the fact. Reading back is strict: an unknown
kind, field or value raises ``BadWire``, which names it.
"""

from collections.abc import Callable
from dataclasses import MISSING, Field, fields
from enum import Enum
from functools import cache
from types import UnionType
from typing import Any, Final, Union, get_args, get_origin, get_type_hints

from steplatch.safety.bay import Act, Trip, state_of
from steplatch.safety.catalogue import _
from steplatch.safety.interlocks import Refusal
from steplatch.safety.kernel import Granted, Happened, MeasuredHappening, ResetDone, Seen, Tripped
from steplatch.safety.occurrences import happening_of

from .clock import Times
from .commands import Command
from .events import Event, Ticked


class BadWire(ValueError):  # noqa: N818 - it names the thing, as the other refusals do
    """An object in a journal that no command or event of this program has written."""


_COMMANDS: Final[dict[str, type]] = {c.__name__: c for c in get_args(Command)}
_EVENTS: Final[dict[str, type]] = {c.__name__: c for c in get_args(Event)}
_ENUMS: dict[str, Callable[[str], Enum]] = {"act": Act, "what": happening_of, "trip": Trip}


def encode(item: object) -> dict[str, Any]:
    """A command or event as a plain object."""
    out: dict[str, Any] = {"kind": type(item).__name__}
    for f in fields(item):  # type: ignore[arg-type]
        out[f.name] = _plain(getattr(item, f.name))
    return out


def encode_refusal(refusal: Refusal) -> dict[str, Any]:
    """A refusal as a plain object: its id and what it is about. Its words are not recorded; see
    ``refusals.recorded``."""
    about = {name: _plain(value) for name, value in refusal.about}
    return {"interlock": refusal.interlock, "about": about}


def decode_command(plain: dict[str, Any]) -> Command:
    """The command that ``encode`` wrote. Raises ``BadWire``."""
    return _decode(plain, _COMMANDS)  # type: ignore[no-any-return]


def decode_event(plain: dict[str, Any]) -> Event:
    """The event that ``encode`` wrote. Raises ``BadWire``."""
    return _decode(plain, _EVENTS)  # type: ignore[no-any-return]


def _plain(value: Any) -> Any:
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    if isinstance(value, Times):
        return {f.name: getattr(value, f.name) for f in fields(value)}
    return value


def _decode(plain: dict[str, Any], known: dict[str, type]) -> Any:
    name = plain.get("kind") if isinstance(plain, dict) else plain
    if not isinstance(name, str) or name not in known:
        raise BadWire(
            _("unknown kind {name}; known: {known}", name=repr(name)[:60], known=", ".join(known))
        )
    kind = known[name]
    names, may_lack, readers = _form(kind)
    values = {}
    try:
        for key, value in plain.items():
            if key == "kind":
                continue
            reader = readers.get(key)
            if reader is None:
                break
            values[key] = reader(tuple(value) if isinstance(value, list) else value, plain)
        else:
            if values.keys() >= names - may_lack:
                return kind(**values)
    except _NotThere as other:
        raise BadWire(
            _("{name}: the field {key!r} holds what does not belong there", name=name, key=key)
        ) from other
    except (KeyError, TypeError, ValueError) as error:
        raise BadWire(f"{name}: {error}") from error
    given = plain.keys() - {"kind"}
    strange = sorted((given - names) | (names - may_lack - given))
    raise BadWire(
        _("{name}: missing or unknown field {strange!r}", name=name, strange=strange[0][:60])
    )


class _NotThere(Exception):  # noqa: N818 - control flow
    """A value is of another type than its field."""


_Reader = Callable[[Any, dict[str, Any]], Any]
_Fits = Callable[[Any], bool]


@cache
def _form(kind: type) -> tuple[frozenset[str], frozenset[str], dict[str, _Reader]]:
    """The fields of a command or event, those that may be lacking, and what reads each one."""
    all_fields, types = fields(kind), get_type_hints(kind)
    return (
        frozenset(f.name for f in all_fields),
        frozenset(f.name for f in all_fields if _since_given(f)),
        {f.name: _reader(kind, f.name, types[f.name]) for f in all_fields},
    )


def _reader(kind: type, key: str, type_: Any) -> _Reader:
    """What reads one field back: its value in the type of the program. Raises ``_NotThere``."""
    fits = _fits(type_)
    if kind is Seen and key == "state":
        made: _Reader = lambda value, given: state_of(given["fact"], value)  # noqa: E731
    elif kind in _ENUMERATED and key in _ENUMS:
        enum = _ENUMS[key]
        made = lambda value, given: enum(value)  # noqa: E731
    elif kind is Ticked and key == "at":
        made = lambda value, given: Times(**value)  # noqa: E731
    else:
        made = lambda value, given: value  # noqa: E731
    people = key in _PEOPLE

    def read(value: Any, given: dict[str, Any]) -> Any:
        value = made(value, given)
        if not fits(value) or (people and not _is_person(value)):
            raise _NotThere
        return value

    return read


_ENUMERATED: Final = (Granted, Happened, MeasuredHappening, Tripped, ResetDone)
_PEOPLE = frozenset({"people", "person"})
"""Fields that hold people as plain objects, or one person's id."""


def _is_person(value: Any) -> bool:
    people = value if isinstance(value, tuple) else (value,)
    return all(
        isinstance(one, str)
        or (
            isinstance(one, dict)
            and all(isinstance(one.get(key), str) for key in ("id", "name", "role"))
            and isinstance(one.get("under_18", False), bool)
        )
        for one in people
    )


def _fits(kind: Any) -> _Fits:
    """Whether a value read back is of an annotated type, all the way down; worked out once."""
    if kind is Any:
        return lambda value: True
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (Union, UnionType):
        several = tuple(map(_fits, inner))
        return lambda value: any(one(value) for one in several)
    if origin is tuple:
        item = _fits(inner[0])
        return lambda value: isinstance(value, tuple) and all(map(item, value))
    if origin is dict:
        if inner[1] is Any:
            return lambda value: isinstance(value, dict)
        held = _fits(inner[1])
        return lambda value: isinstance(value, dict) and all(map(held, value.values()))
    if kind is Times:
        parts = tuple((name, _fits(each)) for name, each in get_type_hints(Times).items())
        return lambda value: (
            isinstance(value, Times) and all(part(getattr(value, name)) for name, part in parts)
        )
    if kind in (int, bool, str):
        return lambda value: type(value) is kind
    return lambda value: isinstance(value, kind)


def _since_given(field: Field[Any]) -> bool:
    """Whether a field has a default: journals from before it was added lack it."""
    return field.default is not MISSING or field.default_factory is not MISSING
