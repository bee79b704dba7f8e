"""What people read, under the language that the environment names, as JSON: surface to texts.

``python -m tests.words.shown LESSON...``, in a process of its own, since the language of a process
is chosen once. Each lesson is played by hand of nobody; every question is laid out at two sizes;
of the job its help, its sheet, its debrief, its audit. Beside that: every refusal, every caution,
the help of every command, and what a wrong command line or file meets.

Procedures are files of their own, which a translator writes anew: their texts are accented here as
they are loaded.
"""

import contextlib
import io
import json
import os
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from pydantic import BaseModel
from steplatch.runner.cli.main import main, parser
from steplatch.runner.core import loading, refusals
from steplatch.runner.screen.help_texts import help_lines
from steplatch.runner.screen.page import parts_of
from steplatch.runner.screen.talk import Prompt, StyledLine
from steplatch.runner.sheet.content import sheet_content
from steplatch.runner.sheet.html_page import to_html
from steplatch.runner.sheet.of_job import record_of
from steplatch.runner.sheet.text_page import to_text
from steplatch.runner.training.lesson import Script
from steplatch.safety.catalogue import _
from steplatch.safety.interlocks import INTERLOCKS
from steplatch.safety.registers.cautions import CAUTIONS

from tests.played import Played, lesson_with, play
from tests.words.pseudo import pseudo

SIZES = ((80, 24), (44, 12))
TEXTS = frozenset(
    {"do", "why", "remedy", "say", "title", "done", "purpose", "competence", "author", "approver"}
)
"""The fields of a procedure's file that hold nothing but text."""
Shown = dict[str, list[str]]


class Watched(Script):
    """Plays a lesson and keeps every question as both sizes show it."""

    def __init__(self, name: str, shown: Shown) -> None:
        super().__init__(lesson_with(name))
        self.shown = shown
        self.notes: list[StyledLine] = []

    def say(self, text: str = "", style: str = "") -> None:
        """Keep it for the next question."""
        super().say(text, style)
        self.notes.append((text, style))

    def ask(self, prompt: Prompt) -> str:
        """Lay the question out, then answer as the lesson does."""
        for columns, rows in SIZES:
            for part in parts_of(prompt, self.notes, columns, rows):
                lines = ["".join(cell.text for cell in row) for row in part.rows]
                self.shown.setdefault(f"screen {columns}x{rows}", []).append(
                    "\n".join([*lines, part.keys])
                )
        answer = super().ask(prompt)
        self.notes = []
        return answer


def accented(thing: Any) -> Any:
    """A model of a procedure with every text in it accented, in place."""
    if isinstance(thing, BaseModel):
        for name in type(thing).model_fields:
            value = getattr(thing, name)
            if isinstance(value, str) and name in TEXTS:
                thing.__dict__[name] = pseudo(value)
            else:
                accented(value)
    elif isinstance(thing, tuple | list):
        for one in thing:
            accented(one)
    return thing


def of_job(played: Played, shown: Shown) -> None:
    """What is read of a job that was played: help, sheet, audit."""
    for step in played.session.plan.main.steps():
        key = f"look:{step.fact}" if hasattr(step, "fact") else step.id
        lines = help_lines(played.session, played.folder.id, key, 80)
        shown.setdefault("help at a step", []).append("\n".join(lines))
    record = record_of(played.folder)
    sheet = sheet_content(record)
    shown.setdefault("sheet, page", []).append(to_html(sheet))
    for part in ("customer", "agreement", "technical"):
        shown.setdefault("sheet, text", []).append(to_text(sheet, 80, part))
    shown.setdefault("audit", []).append(record.audit)


def of_tables(shown: Shown) -> None:
    """Every refusal and caution, whether or not a lesson meets it."""
    rows = [f"{row.reason}\n{row.remedy}" for row in INTERLOCKS]
    rows += ["\n".join(words) for words in refusals.WORDS.values()]
    shown["refusals"] = rows
    shown["cautions"] = [
        f"{_(c.word)}\n{c.hazard}\n{c.consequence}\n{c.avoid}" for c in CAUTIONS.values()
    ]


def of_commands(shown: Shown, folder: Path) -> None:
    """The help of every command, and what wrong input meets."""
    top = parser()
    shown["help of commands"] = [top.format_help()]
    for action in top._actions:
        commands = dict.fromkeys((getattr(action, "choices", None) or {}).values())
        for command in commands:
            shown["help of commands"].append(command.format_help())
            for inner in command._actions:
                kinds = getattr(inner, "choices", None)
                if isinstance(kinds, dict):
                    shown["help of commands"] += [c.format_help() for c in kinds.values()]
    bad = folder / "bad.yaml"
    bad.write_text("label: [1, 2\n", encoding="utf-8")
    odd = folder / "odd.yaml"
    odd.write_text("label: x\nfuel: &a yes\n", encoding="utf-8")
    for arguments in (
        ["nothing"], ["run", "--nothing"], ["audit"], ["audit", "0000"], ["sheet", "0000"],
        ["resume", "0000"], ["jobs"], ["doctor"], [], ["help", "0000"], ["check", str(bad)],
        ["check", str(odd)], ["steady", str(bad)], ["codes", "XX"], ["dose"], ["limits"],
        ["faults"], ["people"], ["matrix"], ["terms"], ["link"], ["book"], ["self-test"],
    ):  # fmt: skip
        out = io.StringIO()
        with (
            contextlib.redirect_stdout(out),
            contextlib.redirect_stderr(out),
            contextlib.suppress(SystemExit),
        ):
            main(["--data", str(folder / "data"), *arguments])
        shown.setdefault("commands", []).append(out.getvalue())


def everything(lessons: list[str]) -> dict[str, Any]:
    """All of it, and the bytes of each lesson's record."""
    shown: Shown = {}
    kept: dict[str, list[str]] = {}
    if os.environ.get("STEPLATCH_LANGUAGE"):
        checked = loading._checked
        loading._checked = lambda *args: accented(checked(*args))
    for name in lessons:
        with TemporaryDirectory() as room:
            played = play(Path(room), lesson_with(name), talk=Watched(name, shown))
            kept[name] = (played.folder.path / "journal.jsonl").read_text("utf-8").splitlines()
            of_job(played, shown)
    of_tables(shown)
    with TemporaryDirectory() as room:
        of_commands(shown, Path(room))
    return {"shown": shown, "kept": kept}


if __name__ == "__main__":
    print(json.dumps(everything(sys.argv[1:])))
