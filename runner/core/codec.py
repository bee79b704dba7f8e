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
from typing import Any, Union, get_args, get_origin, get_type_hints

from steplatch.safety import kernel
from steplatch.safety.bay import Act, State, Trip, state_of
from steplatch.safety.interlocks import Refusal
from steplatch.safety.occurrences import happening_of

from . import commands, job
from .clock import Times


class BadWire(ValueError):  # noqa: N818 - it names the thing, as the other refusals do
    """An object in a journal that no command or event of this program has written."""


_COMMANDS: dict[str, type] = {
    c.__name__: c
    for c in (
        commands.Open,
        commands.Join,
        commands.SetLimits,
        commands.Tick,
        commands.Begin,
        commands.Answer,
        commands.Report,
        commands.Look,
        commands.Sign,
        commands.AnswerMeanwhile,
        commands.Stop,
        commands.GoOn,
        commands.Back,
        commands.Interrupted,
        commands.GiveUp,
        commands.Correct,
        commands.NotApplicable,
        commands.Waive,
        commands.Note,
        commands.VehicleReport,
        commands.SetAside,
        commands.Fill,
    )
}
_EVENTS: dict[str, type] = {
    c.__name__: c
    for c in (
        kernel.Granted,
        kernel.Happened,
        kernel.MeasuredHappening,
        kernel.Seen,
        kernel.Lapsed,
        kernel.PermitLapsed,
        kernel.Tripped,
        kernel.ResetDone,
        job.Ticked,
        job.Opened,
        job.Joined,
        job.LimitsSet,
        job.Begun,
        job.Done,
        job.Moved,
        job.Recorded,
        job.Signed,
        job.TimerSet,
        job.Held,
        job.WentOn,
        job.AskAgain,
        job.Meanwhile,
        job.Ended,
        job.Corrected,
        job.MarkedNotApplicable,
        job.Waived,
        job.WaiverUsed,
        job.WaiverLapsed,
        job.MeasuredNow,
        job.ChannelSetAside,
    )
}
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


def decode_command(plain: dict[str, Any]) -> commands.Command:
    """The command that ``encode`` wrote. Raises ``BadWire``."""
    return _decode(plain, _COMMANDS)  # type: ignore[no-any-return]


def decode_event(plain: dict[str, Any]) -> job.Event:
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
        raise BadWire(f"unknown kind {repr(name)[:60]}; known: {', '.join(known)}")
    kind = known[name]
    given = {key: value for key, value in plain.items() if key != "kind"}
    names, may_lack, types = _form(kind)
    strange = sorted((given.keys() - names) | (names - may_lack - given.keys()))
    if strange:
        raise BadWire(f"{name}: missing or unknown field {strange[0][:60]!r}")
    try:
        values = {key: _value(kind, key, value, given) for key, value in given.items()}
    except (KeyError, TypeError, ValueError) as error:
        raise BadWire(f"{name}: {error}") from error
    for key, value in values.items():
        if not _is_a(value, types[key]) or (key in _PEOPLE and not _is_person(value)):
            raise BadWire(f"{name}: the field {key!r} holds what does not belong there")
    return kind(**values)


@cache
def _form(kind: type) -> tuple[frozenset[str], frozenset[str], dict[str, Any]]:
    """The fields of a command or event, those that may be lacking, and the type of each."""
    all_fields = fields(kind)
    return (
        frozenset(f.name for f in all_fields),
        frozenset(f.name for f in all_fields if _since_given(f)),
        get_type_hints(kind),
    )


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


def _is_a(value: Any, kind: Any) -> bool:
    """Whether a value read back is of an annotated type, all the way down."""
    if kind is Any:
        return True
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (Union, UnionType):
        return any(_is_a(value, one) for one in inner)
    if origin is tuple:
        return isinstance(value, tuple) and all(_is_a(one, inner[0]) for one in value)
    if origin is dict:
        return isinstance(value, dict) and (
            inner[1] is Any or all(_is_a(one, inner[1]) for one in value.values())
        )
    if kind is Times:
        return isinstance(value, Times) and all(
            _is_a(getattr(value, name), type_) for name, type_ in _form(Times)[2].items()
        )
    return type(value) is kind if kind in (int, bool, str) else isinstance(value, kind)


def _since_given(field: Field[Any]) -> bool:
    """Whether a field has a default: journals from before it was added lack it."""
    return field.default is not MISSING or field.default_factory is not MISSING


def _value(kind: type, key: str, value: Any, given: dict[str, Any]) -> Any:
    if kind is kernel.Seen and key == "state":
        state: State = state_of(given["fact"], value)
        return state
    enumerated = (
        kernel.Granted,
        kernel.Happened,
        kernel.MeasuredHappening,
        kernel.Tripped,
        kernel.ResetDone,
    )
    if kind in enumerated and key in _ENUMS:
        return _ENUMS[key](value)
    if kind is job.Ticked and key == "at":
        return Times(**value)
    if isinstance(value, list):
        return tuple(value)
    return value
