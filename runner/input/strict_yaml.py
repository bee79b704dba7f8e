"""The one way a YAML file gets in: a strict subset, every value with its line and column.

PyYAML serves as a parser of events only; nothing of it builds values. Refused: aliases,
anchors, tags, directives, merge keys, several documents, duplicate keys, keys that are not
plain text, values left blank, tabs, control and text-direction characters, more than
``MAX_BYTES`` bytes or ``MAX_DEPTH`` levels. Only ``true``, ``false``, ``null``, plain whole
numbers and plain decimals are resolved; all else stays text, so ``yes`` is the text "yes"
and ``12:30`` the text "12:30".
"""

import hashlib
import json
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeAlias, TypeVar

import yaml
from pydantic import BaseModel, ConfigDict, ValidationError
from steplatch.safety.catalogue import _
from yaml import events

from .findings import BadFile, Finding, shown
from .model_findings import KeyPath, findings_of

MAX_BYTES = 256 * 1024
MAX_DEPTH = 12
MAX_DIGITS = 15

Value: TypeAlias = "str | int | float | bool | list[Value] | dict[str, Value] | None"
ModelT = TypeVar("ModelT", bound=BaseModel)

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_WHOLE = re.compile(r"-?(?:0|[1-9][0-9]*)")
_DECIMAL = re.compile(r"-?(?:0|[1-9][0-9]*)\.[0-9]+")
# C0 and C1 controls, NEL, line and paragraph separators, zero-width space, marks that turn the
# direction of text (they make a reviewer read another order than the program), BOM inside.
_REFUSED = re.compile(
    "[\x00-\x09\x0b\x0c\x0e-\x1f\x7f-\x9f\u200b\u200e\u200f\u2028-\u202e\u2060-\u2069\ufeff"
    "\ud800-\udfff\ufffe\uffff]|\r(?!\n)"
)


class StrictModel(BaseModel):
    """Base of every model read from a file: unknown keys refused, frozen, no coercion."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


@dataclass(frozen=True, slots=True)
class Place:
    """Where a key and its value stand; lines and columns from 1. A list item has no key of its
    own: both places are then the value's."""

    key_line: int
    key_column: int
    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Document:
    """One loaded file: its values, where each stands, and the SHA-256 (hex) of its exact bytes."""

    data: Value
    where: Mapping[KeyPath, Place]
    sha256_of_bytes: str
    path: str
    moved: Mapping[KeyPath, KeyPath] = field(default_factory=dict)
    """Where ``data`` was put into another order than the file's: path in the data to path in the
    file. A path below one of these has moved with it."""

    def finding(self, path: KeyPath, problem: str, remedy: str, *, at_key: bool = False) -> Finding:
        """Return a finding at ``path``; where the file has no such path, at its nearest parent.

        ``at_key`` points at the key instead of the value.
        """
        path = self.in_file(path)
        known, place = self._known(path)
        if at_key or known != path:
            line, column = place.key_line, place.key_column
        else:
            line, column = place.line, place.column
        return Finding(self.path, line, column, key_text(path), problem, remedy)

    def place(self, path: KeyPath) -> Place:
        """Where a path of ``data`` stands; where the file has no such path, its nearest parent."""
        return self._known(self.in_file(path))[1]

    def _known(self, path: KeyPath) -> tuple[KeyPath, Place]:
        while path not in self.where:
            path = path[:-1]
        return path, self.where[path]

    def in_file(self, path: KeyPath) -> KeyPath:
        """Where in the file a path of ``data`` stands."""
        for n in range(len(path), 0, -1):
            if path[:n] in self.moved:
                return (*self.moved[path[:n]], *path[n:])
        return path


def key_text(path: KeyPath) -> str:
    """Return a path as people read it: ``steps[3].band``, items counted from 1; "file" at the top.

    >>> key_text(("steps", 2, "band"))
    'steps[3].band'
    """
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{shown(part, 40)}"
    return text.lstrip(".") or "file"


@dataclass(frozen=True, slots=True)
class FileText:
    """The exact bytes of a file, held in memory, and the name that messages call it by."""

    name: str
    raw: bytes


Source: TypeAlias = "str | os.PathLike[str] | FileText"
"""Where a YAML text comes from: a path, or what was read before."""


def read_text(source: Source) -> FileText:
    """The bytes of a file, read once and whole, unless they are in memory already.

    Raises BadFile where it cannot be read. Of a file larger than ``MAX_BYTES`` one byte more than
    that is read, which ``load_bytes`` then refuses.
    """
    if isinstance(source, FileText):
        return source
    path, name = Path(source), os.fspath(source)
    try:
        if not path.is_file():
            there = path.exists()
            problem = _("this is not an ordinary file") if there else _("there is no such file")
            raise _bad(name, problem, _("Check the name and the folder"))
        with path.open("rb") as stream:
            return FileText(name, stream.read(MAX_BYTES + 1))
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise _bad(
            name, _("it cannot be read ({reason})", reason=reason), _("Check name and permissions")
        ) from error


def load(source: Source) -> Document:
    """Load one YAML file. Raises BadFile with all findings of the first stage that refuses it."""
    text = read_text(source)
    return load_bytes(text.raw, text.name)


def load_text(text: str, name: str) -> Document:
    """Load from text as if it stood in a UTF-8 file called ``name``. Raises BadFile."""
    return load_bytes(text.encode("utf-8", "surrogatepass"), name)


def load_bytes(raw: bytes, name: str) -> Document:
    """Load from the exact bytes of a file called ``name``. Raises BadFile."""
    if len(raw) > MAX_BYTES:
        raise _bad(
            name,
            _("the file is larger than {max_bytes} KiB", max_bytes=MAX_BYTES // 1024),
            _("Split it"),
        )
    text = _decoded(raw, name)
    _check_characters(text, name)
    builder = _Builder(name)
    data = builder.build(text)
    if builder.findings:
        raise BadFile(builder.findings)
    digest = hashlib.sha256(raw).hexdigest()
    return Document(data, MappingProxyType(builder.where), digest, name)


def load_model(source: Source, model: type[ModelT]) -> tuple[ModelT, Document]:
    """Load a file and check it against a model; returns both. Raises BadFile."""
    document = load(source)
    return validate(document, model), document


def validate(document: Document, model: type[ModelT]) -> ModelT:
    """Check a loaded document against a pydantic model.

    Validation is strict and JSON-like: a list fills a tuple or frozenset, text fills an
    enumeration or a date, and nothing else is converted. The model may carry a class variable
    ``refused_keys`` (key -> remedy) for top-level keys that have a better answer than "unknown".

    Raises BadFile with one finding for each error; TypeError for a model that lets unknown
    keys through (a programmer's mistake).
    """
    if model.model_config.get("extra") != "forbid":
        raise TypeError(f"{model.__name__} must forbid unknown keys")
    try:
        return model.model_validate_json(json.dumps(document.data), strict=True)
    except ValidationError as error:
        details = error.errors(include_url=False)
    found = findings_of(details, document.data, model)
    raise BadFile(
        document.finding(item.path, item.problem, item.remedy, at_key=item.at_key) for item in found
    )


def _bad(name: str, problem: str, remedy: str, line: int = 1, column: int = 1) -> BadFile:
    return BadFile([Finding(name, line, column, "file", problem, remedy)])


def _decoded(raw: bytes, name: str) -> str:
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8")
        line = before.count("\n") + 1
        column = len(before) - (before.rfind("\n") + 1) + 1
        raise _bad(
            name, _("this is not UTF-8 text"), _("Save the file as UTF-8"), line, column
        ) from error
    return text.removeprefix("\ufeff")


def _check_characters(text: str, name: str) -> None:
    """Refuse characters before parsing: one finding a line, so that one habit is one repair."""
    found: list[Finding] = []
    in_head = True
    for number, line in enumerate(text.split("\n"), start=1):
        hit = _REFUSED.search(line + "\n")
        if hit:
            what, remedy = _character_words(hit.group())
            found.append(Finding(name, number, hit.start() + 1, "file", what, remedy))
        if in_head and line.startswith("%"):
            found.append(
                Finding(
                    name, number, 1, "file", _("directives (%) are not used here"), _("Remove it")
                )
            )
        in_head = in_head and (not line.strip() or line.startswith(("#", "%")))
    if found:
        raise BadFile(found)


def _character_words(character: str) -> tuple[str, str]:
    if character == "\t":
        return _("a tab stands here"), _("Use spaces")
    return (
        _("the character U+{ord:04X} is not allowed here", ord=ord(character)),
        _("Remove it; it cannot be seen, so retype the line"),
    )


def _parsed(text: str) -> Iterator[Any]:
    try:
        yield from yaml.parse(text, Loader=_LOADER)
    except (ValueError, OverflowError) as error:  # the pure parser, on an escape above U+10FFFF
        raise yaml.YAMLError(str(error)) from error


class _Stop(Exception):  # noqa: N818 - control flow inside the builder
    """Building cannot go on; the findings so far stand."""


class _Builder:
    """Builds plain values from parser events and notes where each one stands."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.findings: list[Finding] = []
        self.where: dict[KeyPath, Place] = {}
        self._events: Iterator[Any] = iter(())

    def build(self, text: str) -> Value:
        self._events = _parsed(text)
        try:
            return self._stream()
        except _Stop:
            return None
        except yaml.YAMLError as error:
            self.findings.append(_syntax_finding(error, self.name))
            return None

    def _stream(self) -> Value:
        data: Value = None
        documents = 0
        for event in self._events:
            if isinstance(event, events.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    self._add(event, (), _("a second document starts here"), _("Keep one a file"))
                    raise _Stop
                data = self._node(next(self._events), (), 0, None)
        if not documents:
            raise _bad(self.name, _("the file is empty"), _("Write the keys that it needs"))
        return data

    def _node(self, event: Any, path: KeyPath, depth: int, key: Any) -> Value:
        mark = event.start_mark
        head = (key or event).start_mark
        self.where[path] = Place(head.line + 1, head.column + 1, mark.line + 1, mark.column + 1)
        if isinstance(event, events.AliasEvent):
            self._add(event, path, _("aliases (*) are not used here"), _("Write the value out"))
            return None
        self._check_properties(event, path)
        if isinstance(event, events.ScalarEvent):
            return self._scalar(event, path)
        if depth >= MAX_DEPTH:
            self._add(
                event,
                path,
                _("more than {max_depth} levels deep", max_depth=MAX_DEPTH),
                _("Nest less"),
            )
            raise _Stop
        if isinstance(event, events.SequenceStartEvent):
            return self._sequence(path, depth + 1)
        return self._mapping(path, depth + 1)

    def _check_properties(self, event: Any, path: KeyPath) -> None:
        if event.anchor is not None:
            self._add(event, path, _("anchors (&) are not used here"), _("Remove it"))
        if event.tag is not None:
            self._add(
                event, path, _("tags (!) are not used here"), _("Remove it, or quote the text")
            )

    def _sequence(self, path: KeyPath, depth: int) -> Value:
        items: list[Value] = []
        for event in self._events:
            if isinstance(event, events.SequenceEndEvent):
                break
            items.append(self._node(event, (*path, len(items)), depth, None))
        return items

    def _mapping(self, path: KeyPath, depth: int) -> Value:
        items: dict[str, Value] = {}
        lines: dict[str, int] = {}
        for event in self._events:
            if isinstance(event, events.MappingEndEvent):
                break
            key = self._key(event, path, depth)
            inner = (*path, key)
            line = event.start_mark.line + 1
            if key in items:
                self._add(
                    event,
                    inner,
                    _("this key already stands in line {lines}", lines=lines[key]),
                    _("Keep one"),
                )
            value = self._node(next(self._events), inner, depth, event)
            items.setdefault(key, value)
            lines.setdefault(key, line)
        return items

    def _key(self, event: Any, path: KeyPath, depth: int) -> str:
        if not isinstance(event, events.ScalarEvent):
            self._add(event, path, _("a key must be a plain word"), _("Write the key as text"))
            self._node(event, (*path, "?"), depth, None)
            return f"?{event.start_mark.index}"
        self._check_properties(event, path)
        key = str(event.value)
        if not key.strip():
            self._add(event, path, _("a key is empty"), _("Write a key before the colon"))
        elif key == "<<":
            self._add(event, path, _("merge keys (<<) are not used here"), _("Write the keys out"))
        self._check_text(event, (*path, key))
        return key

    def _scalar(self, event: Any, path: KeyPath) -> Value:
        text = str(event.value)
        self._check_text(event, path)
        if not event.implicit[0]:  # quoted or a block, so it is text
            return text
        if text in ("true", "false"):
            return text == "true"
        if text == "null":
            return None
        if not text:
            self._add(event, path, _("it has no value"), _("Write one, or null for not known"))
            return None
        whole = _WHOLE.fullmatch(text)
        if whole or _DECIMAL.fullmatch(text):
            if sum(c.isdigit() for c in text) > MAX_DIGITS:
                self._add(
                    event,
                    path,
                    _("more than {max_digits} digits", max_digits=MAX_DIGITS),
                    _("Quote it if it is a text"),
                )
                return None
            return int(text) if whole else float(text)
        return text

    def _check_text(self, event: Any, path: KeyPath) -> None:
        hit = _REFUSED.search(event.value)
        if hit:  # an escape in double quotes brought it in
            what = _("the text holds the hidden character U+{ord:04X}", ord=ord(hit.group()))
            self._add(event, path, what, _("Remove the escape"))

    def _add(self, event: Any, path: KeyPath, problem: str, remedy: str) -> None:
        mark = event.start_mark
        self.findings.append(
            Finding(self.name, mark.line + 1, mark.column + 1, key_text(path), problem, remedy)
        )


_SYNTAX_REMEDIES = (
    (
        "nesting depth",
        _("Nest less"),
    ),  # the C scanner's own bound, met before ours on one long line
    (
        "mapping values are not allowed",
        _("Quote a text that holds a colon, or mend the indentation"),
    ),
    ("block end", _("Mend the indentation: lines of one level start in one column")),
    ("block mapping", _("Mend the indentation: lines of one level start in one column")),
    ("expected ':'", _("Write a colon and a space after the key")),
    ("end of stream", _("Close the quote or the bracket that is open")),
    ("cannot start any token", _("Put the text in quotes")),
    ("alias", _("Put the text in quotes; aliases (*) are not used here")),
    ("anchor", _("Put the text in quotes; anchors (&) are not used here")),
)


def _syntax_finding(error: yaml.YAMLError, name: str) -> Finding:
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
    parts = [getattr(error, "context", None), getattr(error, "problem", None)]
    words = ", ".join(part for part in parts if part) or _("it cannot be read as YAML")
    begun = getattr(error, "context_mark", None)
    if begun and begun.line + 1 != line:
        words += _("; begun in line {line}", line=begun.line + 1)
    remedy = next(
        (text for hint, text in _SYNTAX_REMEDIES if hint in words),
        _("Check indentation, colons, quotes and brackets near here"),
    )
    return Finding(
        name, line, column, "file", _("not valid YAML ({shown})", shown=shown(words, 160)), remedy
    )
