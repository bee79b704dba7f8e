"""Makes a vehicle, gun, fluid or workshop file by questions, and adds people to the roster.

Each answer is checked by the program's own loader when it is given. The file is written whole or
not at all, never over another without a typed yes, and loaded back before it counts as made.
"""

import contextlib
from pathlib import Path

from steplatch.safety.catalogue import _, ngettext

from ..input.findings import BadFile
from ..record import DataFolder, RecordError
from ..record.disk import ASIDE_SUFFIX, Disk, replace_file
from ..screen.desk import BACK, DONT_KNOW, HELP, LEAVE, Desk, Left
from ..screen.talk import Choice
from ..workshop.answers import (
    LOADERS,
    AnswerValue,
    FileAnswers,
    NotAnswer,
    understood,
    unwritten,
    value_of,
    written,
)
from ..workshop.files import Person, Role
from ..workshop.questions import Asked, Question, more_of, screen_of
from ..workshop.roster import add_person
from ..workshop.vehicle_questions import VEHICLE
from ..workshop.workshop_questions import FLUID, GUN, PERSON, WORKSHOP

KINDS = {kind.name: kind for kind in (VEHICLE, GUN, FLUID, WORKSHOP, PERSON)}
WORKSHOP_FOLDER = "workshop"
"""The folder in the data folder where a workshop may keep its files."""


def make(name: str, path: Path, desk: Desk, data: DataFolder, disk: Disk | None = None) -> Path:
    """Make the file ``name`` (a key of ``KINDS``) by questions; returns where it lies.

    Raises ``Left`` when the person leaves. Nothing is written then; people added before stay.
    """
    if name == "people":
        return _make_people(path, desk, data)
    answers = FileAnswers(KINDS[name])
    desk.say(
        _(
            "{name}  {what}. It is written when you have seen it whole.",
            name=name.upper(),
            what=answers.kind.what,
        )
    )
    for key, reason in answers.kind.left_out.items():
        desk.say(_("Not asked: {key}: {reason}.", key=key, reason=reason))
    ask_all(answers, desk)
    return _keep(answers, path, desk, data, disk or Disk())


def ask_all(answers: FileAnswers, desk: Desk) -> None:
    """Put every question that applies and has no answer; ``back`` takes the last one back."""
    trail: list[str] = []
    while (question := answers.next()) is not None:
        if _answered(answers, question, desk):
            trail.append(question.key)
        elif trail:
            answers.given.pop(trail.pop(), None)
        else:
            desk.say(_("This is the first question."), "refused")


def _answered(answers: FileAnswers, question: Question, desk: Desk) -> bool:
    """Put one question until its answer is taken; False for ``back``."""
    kind, asked = answers.kind, answers.kind.asked(question.key)
    place = _(
        "{index} of {count}", index=kind.questions.index(question) + 1, count=len(kind.questions)
    )
    desk.say()
    for text, style in screen_of(kind, question, place):
        desk.say(text, style)
    while True:
        typed = _typed(desk, asked, len(answers.given))
        if typed == BACK:
            return False
        if typed == HELP:
            for text in more_of(kind, question):
                desk.say(text)
            continue
        if typed == DONT_KNOW and not asked.optional:
            desk.say(_("This must be known. Find it: {where}.", where=question.where), "refused")
            continue
        value: AnswerValue = None
        problem = ""
        if typed != DONT_KNOW:
            try:
                value = value_of(asked, typed)
                problem = answers.problem_with(question.key, value)
            except NotAnswer as why:
                problem = str(why)
        if problem:
            desk.say(_("NOT TAKEN  {problem}", problem=problem), "refused")
            continue
        answers.given[question.key] = value
        said = question.absent if typed == DONT_KNOW else understood(asked, value)
        if said:
            desk.say(f"taken: {said}")
        return True


def _typed(desk: Desk, asked: Asked, given: int) -> str:
    """One answer as typed. Whoever types leave after some answers is asked once more."""
    words = (BACK, *((DONT_KNOW,) if asked.optional else ()), HELP, LEAVE)
    while True:
        try:
            if asked.form in ("yes_no", "one_of"):
                return desk.choose("", [Choice(each, each) for each in asked.answers], words)
            typed = desk.line(_("Type it"), words)
            return typed.lower() if typed.lower() == DONT_KNOW else typed
        except Left as left:
            if not (left.typed and given):
                raise
        _leave_or_stay(desk, given)


def _leave_or_stay(desk: Desk, given: int) -> None:
    """Raises Left unless the person stays."""
    text = ngettext("Throw {given} answer away?", "Throw {given} answers away?", given, given=given)
    stay = [Choice("stay", _("stay and go on")), Choice("away", _("leave without them"))]
    if desk.choose(text, stay, ()) == "away":
        raise Left(typed=True)


def _keep(answers: FileAnswers, path: Path, desk: Desk, data: DataFolder, disk: Disk) -> Path:
    """Show the file, write it where the person agrees, and load it back."""
    name = answers.kind.name
    while True:
        text = answers.text()
        desk.say()
        for line in text.splitlines():
            desk.say(line)
        desk.say()
        ways = [
            Choice("write", _("write it to {path}", path=path)),
            Choice("change", _("answer one question again")),
            Choice("elsewhere", _("write it to another file")),
        ]
        if waits := answers.waiting():
            desk.say(
                _(
                    "Enough to begin a job. {waits} values more are not known yet: null. "
                    "What it takes from the dose and the verdict stands at the first look.",
                    waits=waits,
                )
            )
            ways.append(Choice("more", _("answer the other {waits} now", waits=waits)))
        try:
            way = desk.choose(_("That is the file."), ways, (LEAVE,))
        except Left as left:
            if not left.typed:
                raise
            _leave_or_stay(desk, len(answers.given))
            continue
        if way == "change":
            _change(answers, desk)
        elif way == "more":
            answers.whole = True
            ask_all(answers, desk)
        elif way == "elsewhere":
            path = Path(desk.line("Type the name of the file", (LEAVE,))).expanduser()
        elif _may_write(path, desk):
            try:
                _write(path, text, data, disk)
                LOADERS[name](path)
            except RecordError as error:
                desk.say(f"NOT WRITTEN  {error}.".replace("..", "."), "refused")
                continue
            desk.say(_("Written and loaded back: {path}", path=path))
            return path


def _change(answers: FileAnswers, desk: Desk) -> None:
    asked = [q for q in answers.kind.questions if q.key in answers.given]
    listed = [
        Choice(q.key, f"{q.key}: {written(answers.kind.asked(q.key), answers.given[q.key])}")
        for q in asked
    ]
    key = desk.choose(_("Which one?"), listed, (BACK, LEAVE))
    if key == BACK:
        return
    before = answers.given.pop(key)
    question = next(q for q in asked if q.key == key)
    if not _answered(answers, question, desk):
        answers.given[key] = before
    ask_all(answers, desk)


def _may_write(path: Path, desk: Desk) -> bool:
    """Whether the name is free, or a typed yes gives up what lies there."""
    if path.is_dir():
        desk.say(_("NOT WRITTEN  {path} is a folder. Name a file in it.", path=path), "refused")
        return False
    if not path.exists():
        return True
    if (
        desk.line(f"{path} exists. Type yes to replace it for ever, no to keep it", (LEAVE,))
        == "yes"
    ):
        return True
    desk.say(_("It stays as it is. Write to another file."))
    return False


def _write(path: Path, text: str, data: DataFolder, disk: Disk) -> None:
    """Write the whole file in one step. Raises JournalFailed in plain words."""
    try:
        _own_folder(path, data)
        replace_file(disk, path, text.encode("utf-8"))
    except OSError as error:
        with contextlib.suppress(OSError):
            path.with_name(path.name + ASIDE_SUFFIX).unlink(missing_ok=True)
        raise unwritten(path, error) from error


def _own_folder(path: Path, data: DataFolder) -> None:
    """Make the workshop's folder in the data folder; any other must be there."""
    if path.parent == data.path / WORKSHOP_FOLDER:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)


def _make_people(path: Path, desk: Desk, data: DataFolder) -> Path:
    """Add one person after another to the roster, as 'steplatch people add' does."""
    desk.say(_("PEOPLE  who works here, in {path}", path=path))
    for key, reason in PERSON.left_out.items():
        desk.say(_("Not asked: {key}: {reason}.", key=key, reason=reason))
    while True:
        answers = FileAnswers(PERSON)
        ask_all(answers, desk)
        given = {key: str(value) for key, value in answers.given.items()}
        under_18 = answers.given["under_18"] is True
        person = Person(given["id"], given["name"], Role(given["role"]), under_18)
        marks = f"{person.role.value}{', under 18' if under_18 else ''}"
        ways = [
            Choice(
                "add", _("add {id}: {name}, {marks}", id=person.id, name=person.name, marks=marks)
            ),
            Choice("again", "again"),
        ]
        if desk.choose("Is that right?", ways) == "again":
            continue
        try:
            _own_folder(path, data)
            add_person(path, data, person)
        except (BadFile, RecordError) as error:
            desk.say(_("NOT ADDED  {error}", error=error), "refused")
            continue
        except OSError as error:
            raise unwritten(path, error) from error
        desk.say(_("Added {id} to {path}.", id=person.id, path=path))
        more = [Choice("more", _("add somebody else")), Choice("enough", _("that is all"))]
        if desk.choose("Who else works here?", more, ()) == "enough":
            desk.say(_("A PIN for each: steplatch people pin ID"))
            return path
