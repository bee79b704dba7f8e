"""The language of the program: which catalogues are read as it starts.

A language is a folder with one catalogue for each room, ``screen.po`` and so on, in the form of GNU
gettext. Only its plain part is read: ``msgid``, ``msgid_plural``, ``msgstr``, and ``Plural-Forms``
of the head. A text marked ``fuzzy`` is not used, nor one whose fields are others than those of the
English one: what it is about would be lost.
"""

import json
import re
import string
from collections.abc import Iterator, Mapping
from gettext import c2py
from pathlib import Path
from typing import Final

from steplatch.safety import catalogue

CHOSEN: Final = "STEPLATCH_LANGUAGE"
"""The variable that chooses: a language that is shipped (``de``), or a folder with catalogues."""
SHIPPED: Final = Path(__file__).with_name("languages")
_LINE: Final = re.compile(r'(msgid|msgid_plural|msgstr|msgstr\[\d\])? *("(?:[^"\\]|\\.)*")')
_PLURAL: Final = re.compile(r"plural=([^;\n]+)")


class NoCatalogueError(Exception):
    """There is no such language, or a catalogue of it cannot be read; says where and why."""


def choose_language(environ: Mapping[str, str]) -> None:
    """Choose the language that the environment names; English where it names none. Raises
    NoCatalogueError."""
    name = environ.get(CHOSEN, "")
    if name in ("", "en"):
        return
    folder = SHIPPED / name if re.fullmatch(r"[A-Za-z_]+", name) else Path(name)
    files = sorted(folder.glob("*.po"))
    if not files:
        raise NoCatalogueError(f"{CHOSEN}: no catalogues in {folder}")
    texts: dict[str, tuple[str, ...]] = {}
    plural = "n != 1"
    for file in files:
        for number, entry in entries(file):
            if entry.get("msgid") == "":
                found = _PLURAL.search(entry.get("msgstr", ""))
                plural = found.group(1) if found else plural
            elif forms := _forms(entry):
                known = texts.setdefault(entry["msgid"], forms)
                if known != forms:
                    raise NoCatalogueError(f"{file}:{number}: said otherwise in another catalogue")
    try:
        form = c2py(plural)
    except ValueError as error:
        raise NoCatalogueError(f"{folder}: Plural-Forms: {error}") from error
    catalogue.choose(texts, form)
    _choose_for_arguments()


def entries(file: Path) -> Iterator[tuple[int, dict[str, str]]]:
    """Each entry of a catalogue: the number of its last line, and its texts by their keywords.
    Raises NoCatalogueError."""
    try:
        lines = file.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise NoCatalogueError(f"{file}: {error}") from error
    entry: dict[str, str] = {}
    last, fuzzy = "", False
    for number, line in enumerate([*lines, ""], start=1):
        if not line.strip():
            if entry and not fuzzy:
                yield number - 1, entry
            entry, last, fuzzy = {}, "", False
        elif line.startswith("#"):
            fuzzy = fuzzy or (line.startswith("#,") and "fuzzy" in line)
        elif (found := _LINE.fullmatch(line.rstrip())) and (found.group(1) or last):
            last = found.group(1) or last
            entry[last] = entry.get(last, "") + json.loads(found.group(2))
        else:
            raise NoCatalogueError(f"{file}:{number}: not a line of a catalogue")


def _forms(entry: Mapping[str, str]) -> tuple[str, ...]:
    """The forms of one text in the other language; none where one lacks or its fields differ."""
    if "msgid_plural" in entry:
        forms = tuple(text for key, text in sorted(entry.items()) if key.startswith("msgstr["))
        english = fields_of(entry["msgid_plural"])
        fit = all(fields_of(text) <= english for text in forms)  # a form for one may say "the"
    else:
        forms = (entry.get("msgstr", ""),)
        fit = fields_of(forms[0]) == fields_of(entry.get("msgid", ""))
    return forms if forms and all(forms) and fit else ()


def fields_of(text: str) -> frozenset[str]:
    """The named fields of a text; none where it has none or its braces are only braces."""
    try:
        return frozenset(name for _text, name, *_rest in string.Formatter().parse(text) if name)
    except ValueError:
        return frozenset()


def _choose_for_arguments() -> None:
    """What ``argparse`` itself says of arguments comes from the same catalogues. It looks its texts
    up under these names and takes no others."""
    import argparse

    argparse._ = catalogue._  # type: ignore[attr-defined]
    argparse.ngettext = catalogue.ngettext  # type: ignore[attr-defined]
