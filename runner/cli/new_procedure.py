"""``steplatch procedure new``: a small main procedure made by questions.

What every job needs stands in it unasked: who, which vehicle, standing still, codes, and the hand-
over. Asked are what it is for, whether it takes readings or tests the line, what is to be looked
at, and what can come of it. Stages of shipped jobs are named, not copied. What is written checks.
"""

import re
from dataclasses import dataclass
from typing import Any

from ..core.applies import ANY
from ..input.yaml_text import yaml_text
from ..screen.desk import Desk
from ..screen.talk import Choice

MOST_QUESTIONS = 7
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
    line = readings or desk.choose("Does it test the pressure line?", _YES_NO) == "yes"
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
        if typed.lower() == "enough" and len(findings) != 1:
            break
        if typed.lower() != "enough":
            findings.append(typed.rstrip("."))
    return NewProcedure(
        name, title, purpose, author, readings, line, tuple(questions), tuple(findings)
    )


def new_text(new: NewProcedure, day: str) -> str:
    """The text of its file."""
    stages = _stages(new)
    data = {
        "id": new.id,
        "revision": 1,
        "title": new.title,
        "role": "main",
        "purpose": new.purpose,
        "applies_to": {"pressure": "shown"} if new.readings or new.line else ANY,
        "competence": "A qualified technician, or an apprentice with a technician present until "
        "the end.",
        "author": new.author,
        "approver": "your workshop must name one",
        "date": day,
        "sources": "common practice, no source",
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
        "line-today": "yes", "line-test-blow": "ok", "tools": "all",
        "advice": "nothing to be done today", "finding": "result-1",
    } | {f"own-{n}": "seen, nothing wrong" for n in range(1, len(new.questions) + 1)}  # fmt: skip
    data = {
        "id": new.id, "title": new.title, "teaches": new.purpose, "procedure": new.id,
        "faults": ["none"], "seed": 7,
        "cast": {"worker": "apprentice-1", "technician": "technician-1",
                 "supervisor": "supervisor-1"},
        "answers": answers, "expected": {"ended": "finished", "verdicts": ["none"]},
    }  # fmt: skip
    return yaml_text(data, "Plays the procedure of this name in practice.")


def _stages(new: NewProcedure) -> list[dict[str, Any]]:
    """What the engine or the line is needed for comes from the shipped jobs, as it stands there;
    without them a job is a look and a hand-over."""
    if not (new.readings or new.line):
        return [
            {
                "still": "Standing still",
                "returns": ["before-fluid", "before-readings"],
                "done": "The engine stands, gun and hose are seen, the codes are written down.",
                "steps": _STILL,
            },
            _looks(new, ()),
            {"hand-back": "Hand back", "done": _BACK, "steps": _HAND_BACK},
        ]
    from_measuring = ("codes", "safe-to-run", "hose-as-found")
    stages: list[dict[str, Any]] = [{"take-in": "line-check"}]
    stages += [{name: "measure-only"} for name in from_measuring]
    if new.readings:
        measured = ("ready-to-run", "before", "before-zero", "start-disabled", "line-test")
        stages += [{name: "measure-only"} for name in measured]
    else:
        stages[2]["returns"] = "before-readings"
        stages += [{name: "line-check"} for name in ("start-disabled", "line-test")]
    return [*stages, _looks(new, ("start-enabled",)), {"hand-back": "line-check"}]


_BACK = "The customer has the sheet and the key."
_STILL: list[Any] = [
    {"crew": "Say who is here until the end.", "look": "crew", "want": ["pair", "alone_adult"]},
    *("registration", "arrival", "engine-still", "bar-none", "no-gun", "hose-sits"),
    {
        "codes": "Write every stored code on the order, or that there is none.",
        "look": "codes",
        "want": "saved",
    },
]
_HAND_BACK = ["advice", "release", "received", "hand-over"]


def _looks(new: NewProcedure, last: tuple[str, ...]) -> dict[str, Any]:
    """The stage of its own: what is looked at, and what can come of it."""
    steps: list[Any] = [
        {f"own-{n}": words, "ask": "text"} for n, words in enumerate(new.questions, start=1)
    ]
    if new.findings:
        answers = {f"result-{n}": said for n, said in enumerate(new.findings, start=1)}
        steps.append({"finding": "Say what came of it.", "ask": "choice", "answers": answers})
    done = "All of it was looked at and is written down."
    return {"own-looks": "What is looked at", "done": done, "steps": [*steps, *last]}


def _sentence(text: str) -> str:
    text = " ".join(text.split())
    return f"{text[:1].upper()}{text[1:]}".rstrip(".") + "."
