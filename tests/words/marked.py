"""Every text for people, read out of the source: what is marked, room by room.

A text is marked in code by ``_("...")`` or ``ngettext("one", "many", number)`` of
``safety/catalogue.py``, in a template by ``{{ _("...") }}``. The tables beside the code (``*.yaml``
of ``runner``) are texts and ids together: of them every scalar that holds a word counts.
``spoken`` makes words of ids; those are read from the enumerations. What ``argparse`` says itself
is marked in its own source.
"""

import argparse
import ast
import importlib
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path
from typing import Any

import yaml
from steplatch.runner.core.vocabulary import VOCABULARY
from steplatch.safety import acts, checks, facts, occurrences
from steplatch.safety.catalogue import spoken
from steplatch.safety.registers import caution

ROOT = Path(__file__).resolve().parents[2]
TABLES = ("runner/screen/terms.yaml", "runner/live/words.yaml", "runner/assess/*.yaml")
WORD = re.compile(r"[A-Za-z]{2,}")
IN_TEMPLATE = re.compile(r"""\b_\(\s*(["'])(.*?)\1\s*[,)]""", re.DOTALL)
CALLS = {"_": 1, "ngettext": 2}


@dataclass
class Text:
    """One text: its second form where it has two, and the files that hold it."""

    text: str
    many: str = ""
    files: list[str] = field(default_factory=list)


SIGNED_AS = ("did", "checked", "released", "agreed", "received", "customer")
Room = dict[str, Text]


def rooms() -> dict[str, Room]:
    """The texts of every room, in the order of files and lines; each stands in the first room
    alone that holds it."""
    out: dict[str, Room] = {}
    seen: dict[str, Text] = {}
    for room, file, text, many in _found():
        known = seen.get(text)
        if known is None:
            known = seen[text] = out.setdefault(room, {})[text] = Text(text, many)
        known.many = known.many or many
        if file not in known.files:
            known.files.append(file)
    return out


def calls_of(path: Path) -> Iterator[ast.Call]:
    """Every call in a file that looks a text up."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in CALLS:
            yield node


def sources() -> list[Path]:
    """Every Python file of the program, in order."""
    return sorted(p for room in ("safety", "runner") for p in (ROOT / room).rglob("*.py"))


def _found() -> Iterator[tuple[str, str, str, str]]:
    for path in sources():
        yield from _of_code(_room_of(path), path)
    for path in sorted((ROOT / "runner").rglob("templates/*")):
        name = path.relative_to(ROOT).as_posix()
        for _quote, text in IN_TEMPLATE.findall(path.read_text(encoding="utf-8")):
            yield _room_of(path), name, text, ""
    for pattern in TABLES:
        for path in sorted(ROOT.glob(pattern)):
            name = path.relative_to(ROOT).as_posix()
            for text in _scalars(yaml.safe_load(path.read_text(encoding="utf-8"))):
                yield _room_of(path), name, text, ""
    for text in _ids():
        yield "ids", "ids", text, ""
    yield from _of_code("argparse", Path(str(argparse.__file__)))


def _of_code(room: str, path: Path) -> Iterator[tuple[str, str, str, str]]:
    name = path.relative_to(ROOT).as_posix() if path.is_relative_to(ROOT) else path.name
    calls = sorted(calls_of(path), key=lambda call: (call.lineno, call.col_offset))
    for call in calls:
        forms = call.args[: CALLS[getattr(call.func, "id", "")]]
        texts = [a.value for a in forms if isinstance(a, ast.Constant) and isinstance(a.value, str)]
        if texts:
            yield room, name, texts[0], (*texts, "")[1]


def _room_of(path: Path) -> str:
    parts = path.relative_to(ROOT).parts
    return parts[0] if parts[0] == "safety" or len(parts) == 2 else parts[1]


def _scalars(data: Any) -> Iterator[str]:
    if isinstance(data, dict):
        for key, value in data.items():
            yield from _scalars(key)
            yield from _scalars(value)
    elif isinstance(data, list):
        for value in data:
            yield from _scalars(value)
    elif isinstance(data, str) and WORD.search(data):
        yield data


def _ids() -> list[str]:
    """Every id that a person may read: names of facts, states, acts, happenings, roles."""
    names = set(importlib.import_module("steplatch.safety.bay").FACTS) | set(checks.ROLE_RANK)
    for module in (acts, checks, facts, occurrences):
        for kind in vars(module).values():
            if isinstance(kind, type) and issubclass(kind, Enum):
                names |= {member.value for member in kind if isinstance(member.value, str)}
    names |= {*VOCABULARY, *(value for word in VOCABULARY.values() for value in word.values)}
    names |= {"soak", "zero", "due", "read", "volume", "length", "cells", "wall_permeability"}
    names |= {"cannot_tell", "agree", "disagree", "measured_air_flow", "manifold_pressure"}
    names |= {"engine_speed_only", "temperature", "speed", "vehicle", "gun", "fluid", "workshop"}
    names |= {"people", "procedure", "raised", "idle", "before", "after", "road", "open", "shut"}
    names |= {"interlock", "invariant", "acts", "permits when", "else refuses", "remedy"}
    names |= {"source", "waiver", "event", "act", "wet", "GOOD", "NOTE", "TROUBLE"}
    names |= {"finished", "abandoned", "strict", "extended", "running"}
    return sorted({*map(spoken, names), *caution.WORDS, *SIGNED_AS})
