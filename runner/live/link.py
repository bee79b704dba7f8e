"""The state of the link to the vehicle, and its cause. Pure; the words stand in ``words.yaml``.

No answer is never a statement about the engine. What can be told apart is told apart: an
adapter that is gone raises, a vehicle that is asleep is silent, one that refuses says so.
"""

from dataclasses import dataclass
from enum import Enum
from typing import Final


class LinkState(Enum):
    """Off: nobody asks. Opening: first asks. Awake: answers come. Asleep: the adapter is there,
    no value comes. Gone: the adapter is not there."""

    OFF = "off"
    OPENING = "opening"
    AWAKE = "awake"
    ASLEEP = "asleep"
    GONE = "gone"


class Cause(Enum):
    """Why the link is in its state; each belongs to exactly one state."""

    NOT_ASKED = "not_asked"
    NO_NEED = "no_need"
    KEY_BOXED = "key_boxed"
    LEFT = "left"
    FIRST_ASKS = "first_asks"
    COMING_BACK = "coming_back"
    ANSWERS = "answers"
    NEVER_ANSWERED = "never_answered"
    FELL_SILENT = "fell_silent"
    ONLY_TRAFFIC = "only_traffic"
    NOT_NOW = "not_now"
    LOCKED = "locked"
    NO_SPEED = "no_speed"
    LIBRARY_MISSING = "library_missing"
    CANNOT_OPEN = "cannot_open"
    ADAPTER_LOST = "adapter_lost"
    ADAPTER_GARBLED = "adapter_garbled"


STATE_OF: Final[dict[Cause, LinkState]] = {
    Cause.NOT_ASKED: LinkState.OFF,
    Cause.NO_NEED: LinkState.OFF,
    Cause.KEY_BOXED: LinkState.OFF,
    Cause.LEFT: LinkState.OFF,
    Cause.FIRST_ASKS: LinkState.OPENING,
    Cause.COMING_BACK: LinkState.OPENING,
    Cause.ANSWERS: LinkState.AWAKE,
    Cause.NEVER_ANSWERED: LinkState.ASLEEP,
    Cause.FELL_SILENT: LinkState.ASLEEP,
    Cause.ONLY_TRAFFIC: LinkState.ASLEEP,
    Cause.NOT_NOW: LinkState.ASLEEP,
    Cause.LOCKED: LinkState.ASLEEP,
    Cause.NO_SPEED: LinkState.ASLEEP,
    Cause.LIBRARY_MISSING: LinkState.GONE,
    Cause.CANNOT_OPEN: LinkState.GONE,
    Cause.ADAPTER_LOST: LinkState.GONE,
    Cause.ADAPTER_GARBLED: LinkState.GONE,
}


class Sign(Enum):
    """What the side that does the input and output noticed."""

    OPENED = "opened"
    ANSWERED = "answered"
    SILENT = "silent"
    SILENT_WITH_TRAFFIC = "silent_with_traffic"
    REFUSED_NOW = "refused_now"
    REFUSED_LOCKED = "refused_locked"
    NO_SPEED = "no_speed"
    NEED_ENDED = "need_ended"
    KEY_BOXED = "key_boxed"
    LEFT = "left"
    LIBRARY_MISSING = "library_missing"
    CANNOT_OPEN = "cannot_open"
    FAILED = "failed"
    GARBLED = "garbled"


_ALWAYS: Final[dict[Sign, Cause]] = {
    Sign.ANSWERED: Cause.ANSWERS,
    Sign.REFUSED_NOW: Cause.NOT_NOW,
    Sign.REFUSED_LOCKED: Cause.LOCKED,
    Sign.NO_SPEED: Cause.NO_SPEED,
    Sign.NEED_ENDED: Cause.NO_NEED,
    Sign.KEY_BOXED: Cause.KEY_BOXED,
    Sign.LEFT: Cause.LEFT,
    Sign.LIBRARY_MISSING: Cause.LIBRARY_MISSING,
    Sign.CANNOT_OPEN: Cause.CANNOT_OPEN,
    Sign.FAILED: Cause.ADAPTER_LOST,
    Sign.GARBLED: Cause.ADAPTER_GARBLED,
}


@dataclass(frozen=True, slots=True)
class Link:
    """The link as it stands. ``answered`` says whether this job has had an answer yet."""

    cause: Cause = Cause.NOT_ASKED
    answered: bool = False

    @property
    def state(self) -> LinkState:
        """The state that the cause belongs to."""
        return STATE_OF[self.cause]

    def after(self, sign: Sign) -> "Link":
        """The link after ``sign``."""
        if sign is Sign.OPENED:
            back = self.state is LinkState.GONE or self.answered
            return Link(Cause.COMING_BACK if back else Cause.FIRST_ASKS, self.answered)
        if sign is Sign.SILENT_WITH_TRAFFIC and not self.answered:
            return Link(Cause.ONLY_TRAFFIC, self.answered)
        if sign in (Sign.SILENT, Sign.SILENT_WITH_TRAFFIC):
            return Link(Cause.FELL_SILENT if self.answered else Cause.NEVER_ANSWERED, self.answered)
        return Link(_ALWAYS[sign], self.answered or sign is Sign.ANSWERED)
