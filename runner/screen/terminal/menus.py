"""Questions before a job at a terminal that can draw: a list to move in, or one line.

No colour is used, so that ``NO_COLOR`` changes nothing; the row that is pointed at has a mark
before it and is reversed. Enter takes nothing until a number or an arrow was pressed.
"""

import contextlib
import os
import sys
import textwrap
from collections.abc import Callable, Sequence
from functools import partial

import questionary
from prompt_toolkit.data_structures import Size
from prompt_toolkit.filters import Condition
from prompt_toolkit.input.defaults import create_input
from prompt_toolkit.input.typeahead import clear_typeahead, get_typeahead
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent, merge_key_bindings
from prompt_toolkit.key_binding.key_bindings import Binding
from prompt_toolkit.keys import Keys
from prompt_toolkit.output.color_depth import ColorDepth
from prompt_toolkit.output.vt100 import Vt100_Output
from prompt_toolkit.styles import Style
from steplatch.safety.catalogue import _

from ...system.console import console_of
from ..desk import (
    BACK,
    DONT_KNOW,
    HELP,
    LEAVE,
    LONG,
    Desk,
    Left,
    LineDesk,
    said,
)
from ..talk import Choice
from .keyboard import AT_ONCE, NotTaken, Stopped, clean
from .paint import depth_here
from .plain_lines import size_of

_KEYS = {LEAVE: "l", BACK: "b", DONT_KNOW: "d", HELP: "?"}
_SAID = {
    LEAVE: "l\xa0leave",
    BACK: "b\xa0back",
    DONT_KNOW: "d\xa0not\xa0known",
    HELP: "?\xa0more",
}
"""Bound together, so that a narrow terminal breaks between them."""
_MARK = ">"
_HANG = len(f" {_MARK} 1) ")
_PLAIN = Style(
    [
        (name, "noinherit")
        for name in ("qmark", "answer", "pointer", "selected", "instruction", "text")
    ]
    + [("question", "noinherit bold"), ("highlighted", "noinherit reverse")]
)


class MenuDesk(LineDesk):
    """The same, with a list to move in by arrows or numbers where it is short."""

    def __init__(self) -> None:
        super().__init__()
        self._in = create_input(sys.stdin)
        self._out = Vt100_Output(
            sys.stdout,
            _size,
            term=os.environ.get("TERM"),
            default_color_depth=ColorDepth.DEPTH_1_BIT,
            enable_cpr=False,
        )

    def choose(self, text: str, options: Sequence[Choice], words: Sequence[str] = (LEAVE,)) -> str:
        """A list; a number or an arrow points, Enter takes."""
        if len(options) > LONG:
            return super().choose(text, options, words)
        while True:
            if text:
                self.say(text)
            taken = self._taken(lambda: self._menu(options, words))
            if taken == LEAVE and LEAVE in words:
                raise Left(typed=True)
            if taken is not None:
                shown = next((o.say for o in options if o.value == taken), taken)
                self.say(f"{_MARK} {shown}")
                return taken

    def _typed(self, text: str) -> str:
        while True:
            self.say(text)
            typed = self._taken(self._text)
            if typed is not None:
                return said(typed)

    def _taken(self, question: Callable[[], questionary.Question]) -> str | None:
        """What one question brought; None for what is no answer, said why."""
        self._drop()
        try:
            answer = str(question().unsafe_ask())
            if get_typeahead(self._in) or "\n" in answer or "\r" in answer:
                raise NotTaken(AT_ONCE)
            return clean(answer.encode("utf-8", "surrogatepass"))
        except NotTaken as why:
            self.say(str(why), "refused")
            return None
        except (KeyboardInterrupt, EOFError, OSError, Stopped):
            raise Left from None

    def _drop(self) -> None:
        """Forget what was typed before the question stood there."""
        clear_typeahead(self._in)
        with contextlib.suppress(OSError):
            console_of(sys.stdin).drop()

    def _text(self) -> questionary.Question:
        return questionary.text(_MARK, qmark="", style=_PLAIN, input=self._in, output=self._out)

    def _menu(self, options: Sequence[Choice], words: Sequence[str]) -> questionary.Question:
        room = max(12, self._talk.width - _HANG)
        listed = [
            questionary.Choice(_hung(option.say, room), option.value, shortcut_key=str(number))
            for number, option in enumerate(options, start=1)
        ]
        more = ", ".join(_SAID[word] for word in words)
        line = _("Number or arrow, then Enter{part}{more}", part=": " if more else "", more=more)
        question = questionary.select(
            "\n ".join(textwrap.wrap(line, self._talk.width - 2, break_on_hyphens=False)),
            listed,
            qmark="",
            instruction=" ",
            pointer=_MARK,
            style=_PLAIN,
            use_shortcuts=True,
            use_jk_keys=False,
            use_emacs_keys=False,
            input=self._in,
            output=self._out,
            erase_when_done=True,
        )
        _own_keys(question, words)
        return question


def _own_keys(question: questionary.Question, words: Sequence[str]) -> None:
    """Enter that takes only what was pointed at, a key for each word, and Ctrl-D."""
    app = question.application
    given = app.key_bindings
    assert given is not None
    keys = KeyBindings()
    pointed = False

    def pointing(event: KeyPressEvent, binding: Binding) -> None:
        nonlocal pointed
        pointed = True
        binding.call(event)

    for binding in given.bindings:
        if binding.keys[0] in (Keys.Up, Keys.Down) or str(binding.keys[0]).isdigit():
            keys.add(*binding.keys, eager=True)(partial(pointing, binding=binding))

    @keys.add("enter", eager=True, filter=Condition(lambda: not pointed))
    def nothing(event: KeyPressEvent) -> None:
        event.app.output.bell()

    @keys.add("c-d", eager=True)
    def gone(event: KeyPressEvent) -> None:
        event.app.exit(exception=EOFError)

    for word in words:

        def take(event: KeyPressEvent, word: str = word) -> None:
            event.app.exit(result=word)

        keys.add(_KEYS[word], eager=True)(take)
    app.key_bindings = merge_key_bindings([given, keys])


def _hung(text: str, room: int) -> str:
    lines = textwrap.wrap(text, room, break_on_hyphens=False) or [""]
    return ("\n" + " " * _HANG).join(lines)


def _size() -> Size:
    size = size_of(sys.stdout)
    return Size(rows=size.lines, columns=size.columns)


def desk_here(plain: bool = False) -> Desk:
    """The desk for this terminal: lists to move in, or plain lines where it cannot draw or where
    they are asked for."""
    if plain or depth_here(sys.stdout) == "none" or not sys.stdin.isatty():
        return LineDesk()
    return MenuDesk()
