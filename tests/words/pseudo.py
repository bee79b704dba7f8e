"""Catalogues: the empty ones for a translator, and those of a language that nobody speaks.

``python -m tests.words.pseudo FOLDER`` writes the pseudo-language: every letter of every text with
an accent, fields and room kept, so that a plain English word on a screen was never looked up;
with ``--empty`` behind it the empty catalogues (``*.pot``).
"""

import json
import string
import sys
from collections.abc import Callable
from pathlib import Path

from tests.words.marked import Room, rooms

PLAIN = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
ACCENTED = "ÁƁĆĎÉƑĠĤÍĴĶĹḾŃÓṔɊŔŚŤÚṼŴẊÝŹáƀćďéƒġĥíĵķĺḿńóṕɋŕśťúṽŵẋýź"
_PSEUDO = str.maketrans(PLAIN, ACCENTED)
HEAD = 'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=UTF-8\\n"\n{plural}\n\n'
PLURAL = '"Plural-Forms: nplurals=2; plural=n != 1;\\n"'


def pseudo(text: str) -> str:
    """``text`` with every letter accented but those of its fields (``{name}``, ``%(name)s``)."""
    out = []
    for plain, name, spec, conversion in _parts(text):
        out.append(_percent(plain))
        if name is not None:
            how = f"!{conversion}" if conversion else ""
            out.append("{" + name + how + (f":{spec}" if spec else "") + "}")
    return "".join(out)


def _parts(text: str) -> list[tuple[str, str | None, str | None, str | None]]:
    try:
        parts = list(string.Formatter().parse(text))
    except ValueError:
        return [(text, None, None, None)]
    if not any(name for _text, name, *_rest in parts):
        return [(text, None, None, None)]
    twice = str.maketrans({"{": "{{", "}": "}}"})
    return [(plain.translate(twice), *rest) for plain, *rest in parts]  # type: ignore[misc]


def _percent(text: str) -> str:
    first, *rest = text.split("%")
    out = [first.translate(_PSEUDO)]
    for piece in rest:
        end = piece.find(")") + 2 if piece.startswith("(") else 1
        out.append("%" + piece[:end] + piece[end:].translate(_PSEUDO))
    return "".join(out)


def catalogue(room: Room, said: Callable[[str], str]) -> str:
    """One room's catalogue, each text in the words that ``said`` gives for it."""
    out = [HEAD.format(plural=PLURAL)]
    for text in room.values():
        out.append(f"#: {' '.join(text.files)}\nmsgid {_quoted(text.text)}\n")
        if text.many:
            out.append(f"msgid_plural {_quoted(text.many)}\n")
            out.append(f"msgstr[0] {_quoted(said(text.text))}\n")
            out.append(f"msgstr[1] {_quoted(said(text.many))}\n\n")
        else:
            out.append(f"msgstr {_quoted(said(text.text))}\n\n")
    return "".join(out)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def write(folder: Path, said: Callable[[str], str], suffix: str = ".po") -> None:
    """Write the catalogue of every room into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, room in rooms().items():
        (folder / f"{name}{suffix}").write_text(catalogue(room, said), encoding="utf-8")


if __name__ == "__main__":
    if "--empty" in sys.argv:
        write(Path(sys.argv[1]), lambda _text: "", ".pot")
    else:
        write(Path(sys.argv[1]), pseudo)
