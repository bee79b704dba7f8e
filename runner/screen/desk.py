"""One question at a time before a job has begun: a choice, or a line.

``LineDesk`` writes plain lines in order and reads one line; ``MenuDesk`` (in ``menus``) draws a
list to move in. Both take the same words, refuse a paste, and take nothing for Enter alone.
"""

from collections.abc import Sequence
from typing import Protocol, TextIO

from steplatch.safety.catalogue import _

from .talk import WHO, WHO_WORKS, Choice, Gone, Prompt, Stopped
from .terminal.plain_lines import PlainLines

LEAVE = "leave"
BACK = "back"
DONT_KNOW = "dk"
LONG = 9
"""A longer list is numbered and its number typed, since no key stands for ten; it may leave the
screen, so its question stands below it again."""
HELP = "?"
SAID = {
    LEAVE: "leave",
    BACK: "back",
    DONT_KNOW: _("dk (not known)"),
    HELP: "?",
}
"""The words that a question may take beside its answers, and how they stand below it."""
ENTER_ALONE = _("Enter alone is no answer.")


class Left(Exception):  # noqa: N818 - a word that a person says
    """The person leaves: by word (``typed``), or by Ctrl-C or Ctrl-D. Nothing was begun."""

    def __init__(self, typed: bool = False) -> None:
        super().__init__()
        self.typed = typed


class Desk(Protocol):
    """Asks one person; every wait may raise ``Left``."""

    def say(self, text: str = "", style: str = "") -> None:
        """Show text, broken between words."""

    def choose(self, text: str, options: Sequence[Choice], words: Sequence[str] = (LEAVE,)) -> str:
        """Ask for one of ``options``; returns its value, or one of ``words`` but ``leave``."""

    def line(self, text: str, words: Sequence[str] = (LEAVE,)) -> str:
        """Ask for one line; returns it, never empty. ``leave`` raises ``Left``."""

    def ask(self, prompt: Prompt) -> str:
        """Answer the question of another room: who does the work."""


class LineDesk:
    """Plain lines and numbers: for dumb terminals, screen readers, and whoever wants them."""

    def __init__(self, stdin: TextIO | None = None, stdout: TextIO | None = None) -> None:
        self._talk = PlainLines(stdin, stdout)

    def say(self, text: str = "", style: str = "") -> None:
        """Print one piece of text."""
        self._talk.say(text, style)

    def choose(self, text: str, options: Sequence[Choice], words: Sequence[str] = (LEAVE,)) -> str:
        """A numbered list; the number, or the answer's own word, is typed."""
        last = len(options)
        span = _("1 to {last}", last=last) if last > 1 else "1"
        while True:
            if text:
                self.say(text)
            for number, option in enumerate(options, start=1):
                self.say(f"  {number:<2} {option.say}")
            again = f"{text} " if len(options) > LONG else ""
            typed = self._typed(f"{again}Type {span}{hint(words)}")
            found = picked(typed, options, words)
            if found is not None:
                return found
            self.say(
                _("'{typed}' is not on the list.", typed=typed[:20]) if typed else ENTER_ALONE,
                "refused",
            )

    def line(self, text: str, words: Sequence[str] = (LEAVE,)) -> str:
        """One line as typed; Enter alone is asked for again."""
        while True:
            typed = self._typed(text + hint(words))
            if typed:
                return typed.lower() if typed.lower() in words else typed
            self.say(ENTER_ALONE, "refused")

    def ask(self, prompt: Prompt) -> str:
        """A choice of another room, by this desk's words."""
        return asked_at(self, prompt)

    def _typed(self, text: str) -> str:
        try:
            typed = self._talk.ask(Prompt(WHO, "line", text.strip()))
        except (Stopped, Gone):
            raise Left from None
        return said(typed)


def said(typed: str) -> str:
    """What was typed. Raises Left at the word for it."""
    if typed.lower() == LEAVE:
        raise Left(typed=True)
    return typed


def hint(words: Sequence[str]) -> str:
    """The words as they stand behind what is to be typed."""
    said = ", ".join(SAID[word] for word in words if word in SAID)
    return _(", or {said}", said=said) if said else ""


def picked(typed: str, options: Sequence[Choice], words: Sequence[str]) -> str | None:
    """The value that ``typed`` names: its number, its value, or one of the words."""
    if typed.isascii() and typed.isdigit() and 1 <= int(typed) <= len(options):
        return options[int(typed) - 1].value
    if typed.lower() in words:
        return typed.lower()
    return next((o.value for o in options if o.value.lower() == typed.lower()), None)


def explained(desk: Desk, text: str, options: Sequence[Choice], more: Sequence[str]) -> str:
    """A choice whose ``?`` says ``more`` and asks again."""
    while (taken := desk.choose(text, options, (HELP, LEAVE))) == HELP:
        for line in more:
            desk.say(line)
    return taken


def asked_at(desk: Desk, prompt: Prompt) -> str:
    """The questions of another room put at ``desk``: who does the work, and who else is here."""
    if prompt.kind == "choice":
        return explained(desk, WHO_WORKS, prompt.choices, _WHO)
    for number, choice in enumerate(prompt.choices, start=1):
        desk.say(f"  {number:<2} {choice.say}")
    while (typed := desk.line(prompt.text.rstrip("."), (HELP, LEAVE))) == HELP:
        for line in _STAYS:
            desk.say(line)
    return typed


_WHO = (
    _("Every line of the record names this person, until somebody else signs."),
    _("Who does the work never counts as the one who checks it."),
)
_STAYS = (
    _("Only who is here can sign; some acts need two people, and an adult, until the end."),
    _("Somebody who comes later joins by the word join, at any step."),
)
