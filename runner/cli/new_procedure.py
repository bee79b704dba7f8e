"""``steplatch procedure new``: a small main procedure made by questions.

What every job needs stands in it unasked: who, which vehicle, standing still, codes, and the hand-
over. Asked are what it is for, whether it takes readings or tests the line, what is to be looked
at, by a sentence or by the name of a shared step, and what can come of it. Stages of shipped jobs
are named, not copied. Each sentence is held against the rules of ``check`` when it is typed.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from steplatch.safety.catalogue import _

from ..core.applies import ANY
from ..core.loading import load_procedure, shared_by
from ..core.procedure import Procedure
from ..input.findings import BadFile
from ..input.shelf import PROCEDURES
from ..input.strict_yaml import FileText
from ..input.yaml_text import yaml_text
from ..screen.desk import HELP, LEAVE, Desk
from ..screen.talk import Choice

MOST_QUESTIONS, MOST_FINDINGS = 9, 5
"""A stage has fewer than ten steps; with what came of it, ten steps are one's own."""
ENOUGH = "enough"
_ID = re.compile(r"[a-z][a-z0-9-]{2,39}")
_YES_NO = (Choice("yes", "yes"), Choice("no", "no"))
_LOOK = _("What is to be looked at? One sentence, such as 'Look at the clamp, type what it shows'")


@dataclass(frozen=True, slots=True)
class NewProcedure:
    """What the questions came to. ``shared`` are the shared steps among ``questions``, by name,
    each with its answer in the lesson."""

    id: str
    title: str = _("A new job")
    purpose: str = _("Say what is there.")
    author: str = _("nobody yet")
    readings: bool = False
    line: bool = False
    questions: tuple[str, ...] = (_("Type what is seen."),)
    findings: tuple[str, ...] = ()
    shared: Mapping[str, str] = field(default_factory=dict)


def ask_new(desk: Desk, folder: Path, day: str) -> NewProcedure:
    """Ask for all of it; it will lie in ``folder``. Raises Left."""
    new = NewProcedure(_asked_id(desk, folder))
    said = _("Its title, as it stands in the list of jobs")
    new = _line(desk, said, lambda typed: replace(new, title=typed), folder, day)
    said = _("What it is for, in one sentence")
    new = _line(desk, said, lambda typed: replace(new, purpose=typed), folder, day)
    new = _line(desk, _("Who writes it"), lambda typed: replace(new, author=typed), folder, day)
    readings = desk.choose("Does it take readings, raised, idle and zero?", _YES_NO) == "yes"
    tests = readings or desk.choose("Does it test the pressure line?", _YES_NO) == "yes"
    new = _asked_looks(desk, replace(new, readings=readings, line=tests), folder, day)
    return _asked_findings(desk, new, folder, day)


def _line(
    desk: Desk, text: str, with_it: Callable[[str], NewProcedure], folder: Path, day: str
) -> NewProcedure:
    """Ask for a line until ``check`` would take the procedure with it."""
    while wrong := _wrong(tried := with_it(desk.line(text)), folder, day):
        desk.say(wrong, "refused")
    return tried


def _asked_id(desk: Desk, folder: Path) -> str:
    while True:
        name = desk.line("Its id: small letters, digits and hyphens").lower()
        if not _ID.fullmatch(name):
            desk.say(_("'{name}' is no id. Type it like hose-look.", name=name[:40]), "refused")
        elif any((place / f"{name}.yaml").exists() for place in (folder, PROCEDURES)):
            desk.say(
                _("A procedure '{name}' is there already. Type another id.", name=name), "refused"
            )
        else:
            return name


def _asked_looks(desk: Desk, new: NewProcedure, folder: Path, day: str) -> NewProcedure:
    """What is looked at: sentences, and shared steps by their names."""
    offered = _offered(_loaded(new, folder, day), folder)
    new = replace(new, questions=())
    while len(new.questions) < MOST_QUESTIONS:
        text = _(
            "{look}, or the name of a shared step (? lists them); {enough} ends",
            look=_LOOK,
            enough=ENOUGH,
        )
        typed = desk.line(text, (HELP, LEAVE))
        if typed == HELP:
            desk.say(", ".join(offered))
            continue
        if typed.lower() == ENOUGH:
            if new.questions:
                break
            continue
        tried = replace(new, questions=(*new.questions, typed))
        if typed in offered and typed not in new.shared:
            tried = replace(tried, shared={**new.shared, typed: offered[typed][1]})
        if wrong := _wrong(tried, folder, day):
            desk.say(wrong, "refused")
            continue
        new = tried
        if typed in offered:
            desk.say(_("TAKEN  {offered}", offered=offered[typed][0]))
    return new


def _asked_findings(desk: Desk, new: NewProcedure, folder: Path, day: str) -> NewProcedure:
    while len(new.findings) < MOST_FINDINGS:
        typed = desk.line(
            _("What can come of it? One answer of at least two; {enough} ends", enough=ENOUGH)
        )
        if typed.lower() == ENOUGH:
            if len(new.findings) != 1:
                break
            continue
        tried = replace(new, findings=(*new.findings, typed.rstrip(".")))
        wrong = _wrong(tried, folder, day) if len(tried.findings) > 1 else ""
        if wrong:
            desk.say(wrong, "refused")
        else:
            new = tried
    return new


def _loaded(new: NewProcedure, folder: Path, day: str) -> Procedure:
    path = folder / f"{new.id}.yaml"
    return load_procedure(FileText(str(path), new_text(new, day).encode()))[0]


def _wrong(new: NewProcedure, folder: Path, day: str) -> str:
    """The first thing that ``check`` would say of it; '' for nothing."""
    try:
        _loaded(new, folder, day)
    except BadFile as bad:
        return f"{bad.findings[0].problem}. {bad.findings[0].remedy.rstrip('.')}."
    return ""


def _offered(frame: Procedure, folder: Path) -> dict[str, tuple[str, str]]:
    """The shared looks and questions that a new procedure may take by name: words, and an answer
    for its lesson. Left out are a customer's data, numbers, and what ``frame`` looks at already."""
    facts = {step.looks_at for step in frame.steps()}
    names = {step.gives for step in frame.steps()} | {step.id for step in frame.steps()}
    found = {}
    for name, step in shared_by(str(folder / f"{frame.id}.yaml")).items():
        form = step.get("ask")
        asked = form in ("text", "choice") and "personal" not in step
        if (not asked and step.get("look", frame) in {*facts, frame}) or name in names:
            continue
        if str(step.get("name", name)).replace("-", "_") in names:
            continue
        wanted = step.get("want") or list(step.get("answers", ())) or _("seen, nothing wrong")
        found[name] = (step[name], wanted if isinstance(wanted, str) else str(wanted[0]))
    return found


def new_text(new: NewProcedure, day: str) -> str:
    """The text of its file."""
    stages = _stages(new)
    data = {
        "id": new.id,
        "revision": 1,
        "title": _sentence(new.title).rstrip("."),
        "role": "main",
        "purpose": _sentence(new.purpose),
        "applies_to": {"pressure": "shown"} if new.readings or new.line else ANY,
        "competence": _(
            "A qualified technician, or an apprentice with a technician present until the end."
        ),
        "author": new.author,
        "approver": _("your workshop must name one"),
        "date": day,
        "sources": _("common practice, no source"),
        "stages": stages,
    }
    return yaml_text(
        data, _("Made by steplatch procedure new. Change it, then: steplatch check FILE")
    )


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
    answers |= new.shared
    data = {
        "id": new.id, "title": new.title, "teaches": new.purpose, "procedure": new.id,
        "faults": ["none"], "seed": 7,
        "cast": {"worker": "apprentice-1", "technician": "technician-1",
                 "supervisor": "supervisor-1"},
        "answers": answers, "expected": {"ended": "finished", "verdicts": ["none"]},
    }  # fmt: skip
    return yaml_text(data, _("Plays the procedure of this name in practice."))


def _stages(new: NewProcedure) -> list[dict[str, Any]]:
    """What the engine or the line is needed for comes from the shipped jobs, as it stands there;
    without them a job is a look and a hand-over."""
    if not (new.readings or new.line):
        return [
            {
                "still": _("Standing still"),
                "returns": ["before-fluid", "before-readings"],
                "done": _("The engine stands, gun and hose are seen, the codes are written down."),
                "steps": _STILL,
            },
            *_looks(new, ()),
            {"hand-back": _("Hand back"), "done": _BACK, "steps": _HAND_BACK},
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
    return [*stages, *_looks(new, ("start-enabled",)), {"hand-back": "line-check"}]


_BACK = _("The customer has the sheet and the key.")
_STILL: list[Any] = [
    {"crew": _("Say who is here until the end."), "look": "crew", "want": ["pair", "alone_adult"]},
    *("registration", "arrival", "engine-still", "hands-clear", "bar-none", "no-gun", "hose-sits"),
    {
        "codes": _("Write every stored code on the order, or that there is none."),
        "look": "codes",
        "want": "saved",
    },
]
_HAND_BACK = ["advice", "release", "received", "hand-over"]


def _looks(new: NewProcedure, last: tuple[str, ...]) -> list[dict[str, Any]]:
    """The stages of its own: what is looked at, and what can come of it."""
    looks: list[Any] = [
        words if words in new.shared else {f"own-{n}": _sentence(words), "ask": "text"}
        for n, words in enumerate(new.questions, start=1)
    ]
    done = _("All of it was looked at and is written down.")
    stages: list[dict[str, Any]] = [
        {"own-looks": _("What is looked at"), "done": done, "steps": looks}
    ]
    came: list[Any] = []
    if new.findings:
        answers = {f"result-{n}": said for n, said in enumerate(new.findings, start=1)}
        came.append({"finding": _("Say what came of it."), "ask": "choice", "answers": answers})
    if steps := [*came, *last]:
        done = _("What came of it is written down; the start is as it was.")
        stages.append({"outcome": _("What came of it"), "done": done, "steps": steps})
    return stages


def _sentence(text: str) -> str:
    text = " ".join(text.split())
    return f"{text[:1].upper()}{text[1:]}".rstrip(".") + "."
