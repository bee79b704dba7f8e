"""The roster: people.yaml checked against the book that remembers every id, and edited by line.

people.yaml is the workshop's own file, with its own comments, so ``add_person`` and
``retire_person`` insert lines and leave every other byte. The edited text is loaded again and
must give exactly the people that were meant, else nothing is written and the message says what
to type by hand.
"""

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Final

from steplatch.safety.catalogue import _

from ..core.clock import Times
from ..input.findings import BadFile, Finding
from ..input.strict_yaml import Document, load, load_text, validate
from ..record.clocks import read_clock
from ..record.disk import Disk, replace_file
from ..record.faults import failed
from ..record.folders import DataFolder
from ..record.lock import held
from .files import PeopleFile, Person, people_of
from .pins import BOOK_NAME, IdTaken, PinBook, same_name

_EDIT_LOCK: Final = "people-edit"
_BY_HAND: Final = _("Type it into the file by hand, in the form of the others")


def pin_book(data: DataFolder) -> PinBook:
    """The pin book of a data folder."""
    return PinBook(data.path / BOOK_NAME)


def admit(path: Path, data: DataFolder, now: Times | None = None) -> tuple[Person, ...]:
    """Load people.yaml, check every id against the book, and have the book remember new ones.

    Whoever the file retires is retired in the book, and loses the PIN. Raises BadFile with a
    finding for each id that was another person's or is closed; BadPinBook, JournalFailed.
    """
    document = load(path)
    people = people_of(document)
    book = pin_book(data)
    findings = check_against(people, document, book)
    if findings:
        raise BadFile(findings)
    known = book.known()
    for person in people:
        entry = known.get(person.id)
        if person.retired:
            if entry is None or not entry.retired:
                book.retire(person.id, person.name, now)
        elif entry is None:
            book.register(person.id, person.name, now)
    return people


def check_against(
    people: tuple[Person, ...], document: Document, book: PinBook
) -> tuple[Finding, ...]:
    """What the book says against these people, at the place in the file. Changes nothing."""
    known = book.known()
    found = []
    for index, person in enumerate(people):
        entry = known.get(person.id)
        if entry is None:
            continue
        if not same_name(entry.name, person.name):
            problem = _(
                "'{id}' is the id of {name} since {since}; an id is never given to a second person",
                id=person.id,
                name=entry.name,
                since=entry.since[:10],
            )
            remedy = _("Write an id that nobody here has had, or the name as it was")
        elif entry.retired and not person.retired:
            problem = _(
                "{name} retired on {retired}, and the id stays closed",
                name=entry.name,
                retired=entry.retired[:10],
            )
            remedy = _("Write 'retired' again, and give a person who comes back a new id")
        else:
            continue
        found.append(document.finding(("people", index, "id"), problem, remedy))
    return tuple(found)


def add_person(
    path: Path,
    data: DataFolder,
    person: Person,
    now: Times | None = None,
    disk: Disk | None = None,
) -> None:
    """Append one person to people.yaml, making the file if there is none, and to the book.

    Raises BadFile (the file as it is, or as it would be), IdTaken, JournalFailed.
    """
    disk = disk or Disk()
    _check_alone(person)
    with held(disk, data.path / _EDIT_LOCK):
        path = path.resolve()
        document = load(path) if path.exists() else None
        text = _read(path) if document else "people:\n"
        after = (*(people_of(document) if document else ()), person)
        edited = _appended(text, document, person)
        document = _checked(path, edited, after)
        found = check_against(after, document, pin_book(data))
        if found:
            raise BadFile(found)
        pin_book(data).register(person.id, person.name, now)
        _write(disk, path, edited)


def retire_person(
    path: Path,
    data: DataFolder,
    person_id: str,
    day: date,
    now: Times | None = None,
    disk: Disk | None = None,
) -> Person:
    """Write ``retired`` into a person's lines and close the id in the book. Returns the person.

    Raises BadFile, JournalFailed; IdTaken when nobody of this id stands in the file.
    """
    disk = disk or Disk()
    with held(disk, data.path / _EDIT_LOCK):
        path = path.resolve()
        document, text = load(path), _read(path)
        people = people_of(document)
        index = next((i for i, p in enumerate(people) if p.id == person_id), None)
        if index is None:
            ids = ", ".join(p.id for p in people)
            raise IdTaken(
                str(path),
                _("nobody in it has the id '{person_id}'", person_id=person_id[:40]),
                _("Use {ids}", ids=ids),
            )
        person = people[index]
        if not person.retired:
            person = replace(person, retired=day.isoformat())
            after = (*people[:index], person, *people[index + 1 :])
            edited = _with_retired(text, document, index, person.retired)
            _checked(path, edited, after)
            _write(disk, path, edited)
        pin_book(data).retire(person.id, person.name, now or read_clock())
        return person


def _read(path: Path) -> str:
    """The text with its line endings as they are (load has already refused what is not UTF-8)."""
    return path.read_bytes().decode("utf-8")


def _appended(text: str, document: Document | None, person: Person) -> str:
    """The text with one person more after the last line that says something."""
    lines = text.splitlines(keepends=True)
    end = "\r\n" if lines and lines[0].endswith("\r\n") else "\n"
    indent = 2
    if document is not None:
        head = lines[document.where[("people", 0)].line - 1]
        indent = len(head) - len(head.lstrip(" "))
    last = max(i for i, line in enumerate(lines) if line.strip() and not _comment(line))
    if not lines[last].endswith("\n"):
        lines[last] += end
    new = (" " * indent + line + end for line in _lines_of(person))
    return "".join((*lines[: last + 1], *new, *lines[last + 1 :]))


def _lines_of(person: Person) -> tuple[str, ...]:
    return (
        f"- id: {person.id}",
        f"  name: {_name(person.name)}",
        f"  role: {person.role.value}",
        f"  under_18: {str(person.under_18).lower()}",
    )


def _check_alone(person: Person) -> None:
    """Refuse a person who cannot be on any roster, before the file is thought to be at fault."""
    people_of(load_text("people:\n" + "\n".join(_lines_of(person)) + "\n", _("the new person")))


def _with_retired(text: str, document: Document, index: int, day: str) -> str:
    """The text with a ``retired`` line after the last line of one person."""
    way = ("people", index, "retired")
    if way in document.where:
        raise BadFile(
            [
                document.finding(
                    way,
                    _("a key 'retired' without a date is here"),
                    _("Write {day} there", day=day),
                )
            ]
        )
    lines = text.splitlines(keepends=True)
    inner = [place for way, place in document.where.items() if way[:2] == ("people", index)]
    last = max(place.line for place in inner) - 1
    column = min(place.key_column for way, place in document.where.items()
                 if way[:2] == ("people", index) and len(way) == 3)  # fmt: skip
    end = "\r\n" if lines[last].endswith("\r\n") else "\n"
    if not lines[last].endswith("\n"):
        lines[last] += end
    lines.insert(last + 1, " " * (column - 1) + f"retired: {day}{end}")
    return "".join(lines)


def _comment(line: str) -> bool:
    return line.lstrip().startswith("#")


def _name(name: str) -> str:
    plain: Callable[[str], bool] = lambda c: c.isalpha() or c in " '-"  # noqa: E731
    words = name and name[0].isalpha() and all(plain(c) for c in name)
    if words and name.lower() not in ("true", "false", "null", "yes", "no", "on", "off", "y", "n"):
        return name
    return json.dumps(name, ensure_ascii=False)


def _checked(path: Path, edited: str, meant: tuple[Person, ...]) -> Document:
    """The edited text, loaded. Raises BadFile when it does not say what was meant."""
    odd = Finding(
        str(path), 1, 1, "file", _("its layout is one that cannot be edited here"), _BY_HAND
    )
    try:
        document = load_text(edited, str(path))
        validate(document, PeopleFile)
    except BadFile:
        raise BadFile([odd]) from None
    if people_of(document) != meant:
        raise BadFile([odd])
    return document


def _write(disk: Disk, path: Path, text: str) -> None:
    try:
        mode = path.stat().st_mode & 0o777 if path.exists() else 0o600
        replace_file(disk, path, text.encode("utf-8"))
        path.chmod(mode)
    except OSError as error:
        raise failed(path, _("write the people file"), error) from error
