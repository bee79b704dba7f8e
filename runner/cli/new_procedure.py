"""``steplatch procedure new``: a small main procedure made by questions, from shipped stages.

What every job needs stands in it unasked: who, which vehicle, codes, standing safely, and the hand-
over. Asked are what it is for, which shipped stages it takes, what is to be looked at, and what can
come of it. What is written checks.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ..input.shelf import PROCEDURES
from ..input.strict_yaml import load
from ..input.yaml_text import yaml_text
from ..screen.desk import Desk
from ..screen.talk import Choice

MOST_QUESTIONS = 9
_ID = re.compile(r"[a-z][a-z0-9-]{2,39}")
_YES_NO = (Choice("yes", "yes"), Choice("no", "no"))


@dataclass(frozen=True, slots=True)
class NewProcedure:
    """What the questions came to: the answers that a procedure's file is made of."""

    id: str
    title: str
    purpose: str
    author: str
    readings: bool
    line: bool
    questions: tuple[str, ...]
    findings: tuple[str, ...]


def ask_new(desk: Desk) -> NewProcedure:
    """Ask for all of it. Raises Left."""
    while not _ID.fullmatch(name := desk.line("Its id: small letters, digits and hyphens").lower()):
        desk.say(f"'{name[:40]}' is no id. Type it like hose-look.", "refused")
    title = _sentence(desk.line("Its title, as it stands in the list of jobs")).rstrip(".")
    purpose = _sentence(desk.line("What it is for, in one sentence"))
    author = desk.line("Who writes it")
    readings = desk.choose("Does it take readings, raised, idle and zero?", _YES_NO) == "yes"
    line = desk.choose("Does it test the pressure line?", _YES_NO) == "yes"
    questions: list[str] = []
    while len(questions) < MOST_QUESTIONS:
        typed = desk.line(
            "What is to be looked at and typed? One act, such as 'Look at the clamp, type what it "
            "shows'; or enough"
        )
        if typed.lower() == "enough" and questions:
            break
        if typed.lower() == "enough":
            continue
        questions.append(_sentence(typed))
    findings: list[str] = []
    while len(findings) < 5:
        typed = desk.line("What can come of it? One answer of at least two; or enough")
        if typed.lower() == "enough" and len(findings) >= 2:
            break
        if typed.lower() != "enough":
            findings.append(typed.rstrip("."))
    return NewProcedure(
        name, title, purpose, author, readings, line, tuple(questions), tuple(findings)
    )


def new_text(new: NewProcedure, day: str) -> str:
    """The text of its file."""
    stages = [*_begin(new), *_middle(new), _own(new), _end(new)]
    data = {
        "id": new.id,
        "revision": 1,
        "title": new.title,
        "role": "main",
        "purpose": new.purpose,
        "applies_to": "Diesel cars and vans with a particulate filter and a pressure line.",
        "competence": "A qualified technician, or an apprentice with a technician present until "
        "the end.",
        "author": new.author,
        "approver": "your workshop must name one",
        "date": day,
        "sources": "common practice, no source",
        "conditions": {"adult": {"crew": ["pair", "alone_adult"]}},
        "stages": stages,
    }
    return yaml_text(data, "Made by steplatch procedure new. Change it, then: steplatch check FILE")


def lesson_text(new: NewProcedure) -> str:
    """A lesson that plays it: every question answered, nothing found wrong."""
    answers: dict[str, str] = {
        "registration": "EXAMPLE 9", "vin-tail": "X0000009", "complaint": "Wants it looked at.",
        "look:fumes": "extraction", "look:controls": "other", "codes-stored": "none",
        "codes-pending": "none", "freeze-frame": "none", "oil-level": "ok",
        "loads-off": "yes", "car-level": "yes", "line-name": "differential pressure, measured",
        "line-test-blow": "ok", "advice": "nothing to be done today", "tools": "all",
        "finding": "result-1",
    } | {f"own-{n}": "seen, nothing wrong" for n in range(1, len(new.questions) + 1)}  # fmt: skip
    data = {
        "id": new.id, "title": new.title, "teaches": new.purpose, "procedure": new.id,
        "faults": ["none"], "seed": 7,
        "cast": {"worker": "apprentice-1", "technician": "technician-1",
                 "supervisor": "supervisor-1"},
        "answers": answers, "expected": {"ended": "finished", "verdicts": ["none"]},
    }  # fmt: skip
    return yaml_text(data, "Plays the procedure of this name in practice.")


def _begin(new: NewProcedure) -> list[dict[str, Any]]:
    if new.line:
        take_in = _shipped("line-check")["take-in"]
    else:
        take_in = _shipped("zero-check")["take-in"]
        if new.readings:
            take_in = take_in | {"steps": [*take_in["steps"], "oil-level"]}
    safe = _shipped("measure-only")["safe-to-run"]
    if not new.readings:
        safe = safe | {"returns": ["before-fluid", "before-readings"]}
    return [take_in, _shipped("measure-only")["codes"], safe]


def _middle(new: NewProcedure) -> list[dict[str, Any]]:
    measured = _shipped("measure-only")
    out = [measured["hose-as-found"]]
    if new.readings:
        zero = measured["before-zero"]
        steps = [s for s in zero["steps"] if not (isinstance(s, dict) and "line-today" in s)]
        out += [measured["ready-to-run"], measured["before"], zero | {"steps": steps}]
    if new.line:
        checked = _shipped("line-check")
        out += [checked["start-disabled"], checked["line-test"]]
    return out


def _own(new: NewProcedure) -> dict[str, Any]:
    asked: list[Any] = [
        {f"own-{n}": words, "ask": "text"} for n, words in enumerate(new.questions, start=1)
    ]
    return {
        "own-looks": "What is looked at",
        "done": "All of it was looked at and is written down.",
        "steps": asked,
    }


def _end(new: NewProcedure) -> dict[str, Any]:
    hand_back = _shipped("line-check" if new.line else "zero-check")["hand-back"]
    found = {
        "finding": "Say what came of it.",
        "ask": "choice",
        "answers": {f"result-{n}": said for n, said in enumerate(new.findings, start=1)},
    }
    enable = ["start-enabled"] if new.line else []
    return hand_back | {"steps": [found, *enable, *hand_back["steps"]]}


def _shipped(name: str) -> Mapping[str, dict[str, Any]]:
    """The stages of a shipped procedure as its file writes them, by name."""
    data: Any = load(PROCEDURES / f"{name}.yaml").data
    return {next(iter(stage)): stage for stage in data["stages"]}


def _sentence(text: str) -> str:
    text = " ".join(text.split())
    return f"{text[:1].upper()}{text[1:]}".rstrip(".") + "."
