"""How the console and a person talk: one question at a time.

The console knows only ``Talk``. ``FullScreen`` (in ``terminal.full_screen``) is one screen per
step; ``PlainLines`` (in ``terminal.plain_lines``) is for dumb terminals, screen readers, and
whoever wants it; ``Script`` (in ``runner.training.lesson``) plays a lesson.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from steplatch.safety.catalogue import _

from .terminal.keyboard import Gone, Stopped

__all__ = ["Choice", "Gone", "Prompt", "Stopped", "StyledLine", "Talk"]

StyledLine = tuple[str, str]
"""A line of text and the name of its style ('' for none)."""
HeardAt = Callable[[float], StyledLine]
"""Told the seconds since the trigger opened, says what is heard then."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer of a list: its word in the record and the words on the screen."""

    value: str
    say: str


@dataclass(frozen=True, slots=True)
class Page:
    """What a screen shows of a step, whatever is asked: where we are, what is done and next, the
    cautions and the why, what is known and what is not, when a checker is needed.

    ``cautions`` are read in full; ``reminded`` are those that were, at such a moment before.
    ``reason`` stands in for a ``why`` that the step does not give, where there is room.
    ``stages`` are (done, left out, now or to come; title); ``known`` are (name, state in words).
    ``done`` are the lines done on this page, or the last steps; ``then`` the lines to come on it,
    or the next step. ``group`` names the page that its lines
    share, where there are several (``shared``).
    """

    step: str
    place: str
    short: str
    practice: bool
    mark: str
    stages: tuple[tuple[str, str], ...] = ()
    done: tuple[str, ...] = ()
    then: tuple[str, ...] = ()
    group: str = ""
    shared: bool = False
    cautions: tuple[str, ...] = ()
    reminded: tuple[str, ...] = ()
    why: str = ""
    reason: str = ""
    known: tuple[tuple[str, str], ...] = ()
    unknown: tuple[str, ...] = ()
    visit: str = ""


@dataclass(frozen=True, slots=True)
class Prompt:
    """One question.

    ``key`` names it for scripts (a step id, or ``look:fact``), ``kind`` the form: choice,
    go (the one deliberate key), line, person, secret. ``truth`` is what the simulated vehicle
    shows (practice only) and ``want`` what the step hopes for; a terminal shows neither. ``lead``
    (limit and instruction) and ``foot`` (what to do if it stalls) stand with the question each
    time that it is asked, so that they are on the screen when it is answered. ``live`` gives lines
    that change while nobody types; ``watch`` lets the time be noticed, each ``watch_s``, and
    returns an alarm, or ''. ``offer`` is an answer that one key takes.
    """

    key: str
    kind: str
    text: str
    choices: tuple[Choice, ...] = ()
    truth: str = ""
    want: str = ""
    lead: tuple[StyledLine, ...] = ()
    foot: tuple[StyledLine, ...] = ()
    page: Page | None = None
    live: Callable[[], tuple[StyledLine, ...]] | None = None
    watch: Callable[[], str] | None = None
    watch_s: float = 1.0
    offer: str = ""

    @property
    def keys(self) -> str:
        """The keys that are the whole answer where keys are read one by one: no Enter behind."""
        if self.kind == "go":
            return GO
        if self.offer:
            return SAME
        most = len(self.choices) if self.kind == "choice" else 0
        return FIGURES[:most] if most <= len(FIGURES) else ""

    def asked(self, pressed: bool) -> str:
        """The question with how it is answered: keys read one by one (``pressed``), or a line."""
        count, verb = len(self.choices), _("Press") if pressed and self.keys else _("Type")
        if self.kind == "choice":
            span = _("1 to {count}", count=count) if count > 1 else "1"
            end = "." if self.key == WHO else _(", or dk.")
            return f"{self.text} {verb} {span}{end}"
        if self.kind == "go":
            return f"{self.text} {verb.lower()} {GO}."
        return (
            _("{verb} {same} for that, or: {text}", verb=verb, same=SAME, text=self.text)
            if self.offer
            else self.text
        )


SAME = "="
"""Takes what is offered at a question of words: what was written ahead, or said last time."""
GO = "g"
"""The deliberate second key of an act that can hurt: no answer of a list is a letter."""
FIGURES = "123456789"
PICTURE = "picture"
"""Style of rows that make a picture together: shown whole and unbroken, or not at all."""
KEYS = _("Esc or s stop   ? help   dk I don't know   back   fix   event   leave")
KEYS_NARROW = _("Esc s stop  ? help  dk  back  event  leave")
"""The words that work at every prompt; they stand once, right above the place to type."""
ANYWHERE = frozenset({"?", "dk", "back", "fix", "event", "leave"})
"""Those words: none permits anything, so that each works before all of a question is read."""
DONT_KNOW = _("I don't know, or none of these")

EVENT = "event"
"""Key of the question what has happened: it is answered from any part of its list."""
WHO = "person"
"""Key of the questions that come before the job, where these words mean nothing yet."""
WHO_WORKS = _("Who does the work?")
NOBODY = "none"
WHO_STAYS = _("Who else stays to the end? Type the numbers, or {nobody}.", nobody=NOBODY)
WIDEST, NARROWEST, NARROW = 100, 30, 60
SMALL = 16
"""On a screen with fewer rows, how things stand gets what room is left."""
WATCH_S = 1.0
"""How often an open question lets the time be noticed."""


class Talk(Protocol):
    """One way to ask a person something, with three backends: full screen, plain lines, script."""

    @property
    def width(self) -> int:
        """Columns to write in."""

    def say(self, text: str = "", style: str = "") -> None:
        """Show text."""

    def ask(self, prompt: Prompt) -> str:
        """Ask; returns the words as typed. Raises Stopped or Gone."""

    def rest(self, seconds: float, around: Prompt) -> str:
        """Wait with a question around it: a line typed meanwhile, or '' when ``seconds`` have
        passed."""

    def count(self, cap_s: float, heard: HeardAt | None = None, practice: bool = True) -> str:
        """Count a burst: from one key press to the next. Returns the seconds, '' if asked later.
        ``heard`` says what a practice vehicle lets a person hear meanwhile, or (not ``practice``)
        what a real one reports."""

    def ring(self, until_answered: bool = False) -> None:
        """Ring once, or until the next question is answered."""


_LABELLED = re.compile(r"^([^\W\d_]+) +(?=\S)")
_NUMBERED = re.compile(r"^  (\d+|dk) +")
LABEL = 7
"""Columns of a label with the room behind it."""


def hang_of(text: str) -> int:
    """How far the further lines of a text hang in: under its label, its number, or as it began."""
    found = _NUMBERED.match(text) or _LABELLED.match(text)
    if found is None or not (found.group(1).isupper() or found.re is _NUMBERED):
        indent = len(text) - len(text.lstrip())
        return indent + 2 if text[indent : indent + 1] == "(" else indent
    return min(LABEL, len(found.group(0)))
