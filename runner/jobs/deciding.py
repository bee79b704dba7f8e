"""What of a file can change a decision, as one digest, and what the file imports.

Of Python source its syntax counts, without comments, docstrings, sentences and what stands
``BESIDE``; of a YAML table its rows without sentences. A sentence is a text in which a space stands
between two words. In code one that is compared, looked up, taken apart, or used as a key or pattern
still counts, and one in small letters alone, since it may be a list of facts. The same on every
Python from 3.11 on.

A file that was read before is known again by the SHA-256 of its exact bytes (with that of this
file): what came out is kept beside the bytecode, where Python keeps that, and is only a matter of
time: parsing all that decides takes some tenths of a second, hashing it some milliseconds.
"""

import ast
import hashlib
import json
import os
import re
import string
import sys
from importlib.util import cache_from_source
from pathlib import Path
from typing import Any, Final, NamedTuple

_IDS = re.compile(r"[a-z_]+(?: [a-z_]+)*")
_SENTENCE = re.compile(r"\w[,;:.)'\"]* +['\"(]*\w")
_NO_MEANING: Final = frozenset({"ctx", "kind", "type_comment", "type_params"})
"""Fields of a node that decide nothing, or that not every Python has."""


BESIDE: Final = frozenset({"tries", "tries_begun", "limit_lines", "asks", "takes_min"})
"""What a kind of step says of itself that decides nothing: what the proof tries, what is shown."""


class Imported(NamedTuple):
    """One import: how many folders up (0: by its full name), the module, what is taken from it."""

    level: int
    module: str
    names: list[str]


class Content(NamedTuple):
    """What of a file decides (SHA-256 of it), and what it imports but for types alone."""

    sha256: str
    imports: list[Imported]


class Reader:
    """Reads files, and remembers each by its bytes."""

    def __init__(self) -> None:
        self._new = False
        self._place = _place()
        self._self = Path(__file__).read_bytes()
        self._known = _kept(self._place) if self._place else {}

    def read(self, path: Path) -> Content:
        """What of a file decides. Raises OSError, SyntaxError."""
        raw = path.read_bytes()
        key = hashlib.sha256(self._self + raw).hexdigest()
        if key not in self._known:
            self._known[key] = content_of(raw, path.suffix)
            self._new = True
        return self._known[key]

    def keep(self) -> None:
        """Keep what is new for the next process, where Python keeps bytecode; else do nothing."""
        if not self._new or self._place is None or sys.dont_write_bytecode:
            return
        aside = self._place.with_suffix(f".{os.getpid()}")
        try:
            aside.write_text(json.dumps(self._known), encoding="utf-8")
            aside.replace(self._place)
        except OSError:  # a folder that cannot be written to: it takes as long the next time
            aside.unlink(missing_ok=True)


def _place() -> Path | None:
    try:
        return Path(cache_from_source(__file__)).with_suffix(".json")
    except NotImplementedError:
        return None


def _kept(place: Path) -> dict[str, Content]:
    """What an earlier process kept; nothing where that cannot be read."""
    try:
        kept = json.loads(place.read_text(encoding="utf-8"))
        return {
            str(key): Content(str(digest), [Imported(*one) for one in imports])
            for key, (digest, imports) in kept.items()
        }
    except (OSError, ValueError, TypeError, AttributeError):
        return {}


def content_of(raw: bytes, suffix: str) -> Content:
    """What of a file with these bytes decides. Raises SyntaxError, UnicodeDecodeError."""
    text, imports = text_of(raw, suffix)
    return Content(hashlib.sha256(text.encode()).hexdigest(), imports)


def text_of(raw: bytes, suffix: str) -> tuple[str, list[Imported]]:
    """The text that ``content_of`` hashes, and what is imported. Raises as that does."""
    out: list[str] = []
    imports: list[Imported] = []
    if suffix == ".py":
        _code(ast.parse(raw.decode("utf-8")), False, out, imports)
    else:
        import yaml

        _row(yaml.load(raw.decode("utf-8"), yaml.CSafeLoader), out)
    return "".join(out), imports


def is_sentence(value: object) -> bool:
    """Whether a text of code is words for people: two or more, not all in small letters."""
    return says(value) and _IDS.fullmatch(str(value)) is None


def says(value: object) -> bool:
    """Whether a text of a table is words for people: a space stands between two of them."""
    return isinstance(value, str) and _SENTENCE.search(value) is not None


def uses_text(node: ast.AST) -> bool:
    """Whether a text just inside ``node`` is used for what it holds: compared, looked up, taken
    apart ("a b".split()), or a pattern."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
        return getattr(node.func.value, "id", "") == "re"
    return isinstance(node, ast.Compare | ast.Subscript | ast.MatchValue | ast.Attribute)


def _says(values: list[ast.expr]) -> bool:
    """Whether a formatted text is a sentence: two words beside what is put in ("{x} mbar" is a
    unit, which decides)."""
    words = " ".join(str(v.value) for v in values if isinstance(v, ast.Constant))
    return len(re.findall(r"[A-Za-z]{2,}", words)) >= 2 and " " in words


def _written(text: str, fields: dict[str, ast.expr]) -> ast.expr:
    """A text that is looked up in the catalogue, as it would stand without: it counts for as much
    and as little."""
    if not fields:
        return ast.Constant(text)
    values: list[ast.expr] = []
    for plain, name, spec, how in string.Formatter().parse(text):
        if plain:
            values.append(ast.Constant(plain))
        if name is not None:
            inner = _written(spec, fields) if spec else None
            shape = ast.JoinedStr([inner]) if isinstance(inner, ast.Constant) else inner
            values.append(ast.FormattedValue(fields[name], ord(how) if how else -1, shape))
    return ast.JoinedStr(values)


def _beside(node: ast.AST) -> tuple[ast.stmt, ...]:
    """What a kind of step says of itself that decides nothing."""
    if not isinstance(node, ast.ClassDef):
        return ()
    if "Kind" not in (node.name, *(getattr(base, "id", "") for base in node.bases)):
        return ()
    return tuple(n for n in node.body if named(n) in BESIDE)


def named(node: ast.AST) -> str:
    """The name that a statement of a class gives to something; '' for none."""
    if isinstance(node, ast.FunctionDef):
        return node.name
    return getattr(node.targets[0], "id", "") if isinstance(node, ast.Assign) else ""


def _code(node: ast.AST, counts: bool, out: list[str], imports: list[Imported]) -> None:
    """A node as text, alike on every Python. ``counts``: sentences here decide something."""
    match node:
        case ast.Expr(value=ast.Constant(value=str())):
            return  # a docstring
        case ast.Constant(value=value):
            said = not counts and is_sentence(value)
            out.append("''" if said else f"{type(value).__name__}:{value!r}")
            return
        case ast.JoinedStr(values=values) if not counts and _says(values):
            out.append("''")
            return
        case ast.Call(func=ast.Name(id="_"), args=[ast.Constant(value=str() as text)]):
            fields = {str(one.arg): one.value for one in node.keywords}
            _code(_written(text, fields), counts, out, imports)
            return
        case ast.Import(names=names):
            imports += [Imported(0, alias.name, []) for alias in names]
            return  # what is imported is reached, and its own text counts
        case ast.ImportFrom(level=level, module=module, names=names):
            imports.append(Imported(level, module or "", [alias.name for alias in names]))
            return
        case ast.If(test=ast.Name(id="TYPE_CHECKING")):
            imports = []  # for types alone
    beside = _beside(node)
    out.append(f"({type(node).__name__}")
    keeps = uses_text(node)
    for name in node._fields:
        value = getattr(node, name, None)
        if value is None or value == [] or name in _NO_MEANING:
            continue
        out.append(f" {name}=")
        inner = keeps or (isinstance(node, ast.Dict) and name == "keys")
        for item in value if isinstance(value, list) else [value]:
            if item in beside:
                continue
            if isinstance(item, ast.AST):
                _code(item, inner, out, imports)
            else:
                out.append(repr(item))
    out.append(")")


def _row(value: Any, out: list[str]) -> None:
    """A table as text, its sentences left out."""
    match value:
        case dict():
            for key, inner in value.items():
                out.append(f"{key!r}:")
                _row(inner, out)
                out.append(",")
        case list():
            out.append("[")
            for inner in value:
                _row(inner, out)
                out.append(",")
            out.append("]")
        case _:
            out.append("''" if says(value) else f"{type(value).__name__}:{value!r}")
