"""The engine's own modes, and the commands that each refuses before a step or a row is asked.

A job is in one mode at a time. What a mode does not refuse goes on to the command itself, to the
step and to the interlocks. A job that was diverted to a recovery or card has these modes too: where
it stands moves, what it takes does not.
"""

from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Final, get_args

from .commands import Answer, Begin, Command, Fill, GoOn, NotApplicable, Open, Sign, Tick
from .job import Job


class Mode(StrEnum):
    """Where a job stands, whatever its step."""

    NEW = "new"
    """Nothing was opened."""
    ENDED = "ended"
    """Finished, released or abandoned: only time goes on."""
    HELD = "held"
    """Stopped by a person, an interruption or a failure: somebody has to say that it goes on."""
    ASKING = "asking again"
    """What an interruption left open is asked before the step."""
    UNLIMITED = "without limits"
    """Opened, and the limits are not worked out yet."""
    BEGUN = "begun"
    """A step was begun and waits for its answer, report or signature."""
    WAITING = "waiting"
    """A step waits to be begun."""


_STEP: Final = (Begin, Answer, Fill, Sign, NotApplicable)
_COMMANDS: Final[tuple[type, ...]] = get_args(Command)


def _all(refusal: str, but: type = object) -> dict[type, str]:
    return {command: refusal for command in _COMMANDS if command is not but}


_OPENED: Final[dict[type, str]] = {Open: "open-once"}
_GOING: Final[dict[type, str]] = _OPENED | {GoOn: "not-held"}
REFUSED: Final[Mapping[Mode, Mapping[type, str]]] = {
    Mode.NEW: _all("not-open", but=Open),
    Mode.ENDED: _all("ended", but=Tick) | _OPENED,
    Mode.HELD: _OPENED | dict.fromkeys(_STEP, "held"),
    Mode.ASKING: _GOING | dict.fromkeys(_STEP, "reconfirm"),
    Mode.UNLIMITED: _GOING | dict.fromkeys(_STEP, "no-limits"),
    Mode.BEGUN: _GOING,
    Mode.WAITING: _GOING,
}
"""Of each mode the commands that it refuses, with the id of the refusal."""


IS: Final[Mapping[Mode, Callable[[Job], bool]]] = {
    Mode.NEW: lambda job: not job.core.opened,
    Mode.ENDED: lambda job: bool(job.core.ended),
    Mode.HELD: lambda job: job.core.held,
    Mode.ASKING: lambda job: job.core.meanwhile or bool(job.core.ask_again),
    Mode.UNLIMITED: lambda job: not job.log.numbers,
    Mode.BEGUN: lambda job: job.core.begun,
    Mode.WAITING: lambda job: True,
}
"""A job is in the first of these modes that is so."""


def _asked(command: type) -> tuple[tuple[Mode, str], ...]:
    """The modes to be asked of, with what each refuses; the last stands for all after it."""
    asked = [(mode, REFUSED[mode].get(command, "")) for mode in IS]
    while len(asked) > 1 and asked[-1][1] == asked[-2][1]:
        asked.pop()
    return tuple(asked)


_ASKED: Final = {command: _asked(command) for command in _COMMANDS}


def refused_by_mode(job: Job, command: Command) -> str:
    """The id of the refusal of ``command`` in the mode of ``job``; '' where it is taken. No more
    is read of the job than the answer needs."""
    *first, (_, otherwise) = _ASKED[type(command)]
    return next((refusal for mode, refusal in first if IS[mode](job)), otherwise)
