"""The fingerprint of what decides, in parts, and the list of files behind each part.

What decides is found, not listed: every file that ``decide`` or the working of the limits reaches
by imports (``DECIDES``), and every file that the judge reaches (``JUDGES``) and they do not. Of a
file only that counts which can change a decision: its syntax without comments, docstrings and
sentences; of a table its rows without sentences. A sentence is a text in which a space stands
between two words. In code one that is compared, looked up, taken apart, or used as a key or
pattern still counts, and one in small letters alone, since it may be a list of facts. So a reworded
refusal, a new docstring or a translation moves no part, and a changed number moves one.

``runner/record/README.md`` says what is in each part. The same on every Python from 3.11 on.
"""

import ast
import hashlib
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).resolve().parents[2]
DECIDES: Final = (
    "runner/core/engine.py",
    "runner/core/steps/__init__.py",
    "runner/jobs/bundle.py",
)
JUDGES: Final = ("runner/assess/judges.py",)
SAYS: Final = frozenset(
    {
        "runner/jobs/fingerprint.py",
        "runner/core/refusals.py",
        "runner/core/tries.py",
        "runner/core/showing.py",
        "runner/input/foreign_units.py",
        "runner/input/findings.py",
        "runner/input/model_findings.py",
        "runner/assess/plausibility.py",
        "safety/registers/cautions.py",
    }
)
"""Files that are reached and decide nothing: this one, words of refusals and findings, what
the proof tries, questions about a typed set, cautions."""
BESIDE: Final = frozenset({"tries", "tries_begun", "limit_lines", "asks", "takes_min"})
"""What a kind of step says of itself that decides nothing: what the proof tries, what is shown."""
TABLES: Final = "*.yaml"

_IDS = re.compile(r"[a-z_]+(?: [a-z_]+)*")
_SENTENCE = re.compile(r"\w[,;:.)'\"]* +['\"(]*\w")


@dataclass(frozen=True, slots=True)
class Parts:
    """SHA-256 of each part of what decides.

    ``rules``: the interlocks, effects, limits and the engine; ``judge``: the judge and its tables;
    ``procedure``: the main procedure's file; ``files``: every other file that the job keeps.
    """

    rules: str
    judge: str
    procedure: str
    files: str

    def other_than(self, today: "Parts") -> tuple[str, ...]:
        """The names of the parts that differ."""
        return tuple(n for n in PARTS if getattr(self, n) != getattr(today, n))


PARTS: Final = ("rules", "judge", "procedure", "files")


def files_sha256(hashes: dict[str, str], main: str) -> str:
    """SHA-256 over names and hashes of the kept texts but the main procedure's."""
    lines = [f"{name} {digest}\n" for name, digest in sorted(hashes.items()) if name != main]
    return hashlib.sha256("".join(lines).encode()).hexdigest()


def parts_of(hashes: dict[str, str], procedure: str) -> Parts:
    """The parts of today for a job with these kept texts (name to SHA-256)."""
    main = f"procedure:{procedure}"
    return Parts(rules_sha256(), judge_sha256(), hashes[main], files_sha256(hashes, main))


@lru_cache(maxsize=1)
def rules_sha256() -> str:
    """SHA-256 of the part ``rules`` of this program."""
    return sha256_of(rule_files())


@lru_cache(maxsize=1)
def judge_sha256() -> str:
    """SHA-256 of the part ``judge`` of this program."""
    return sha256_of(judge_files())


@lru_cache(maxsize=4)
def rule_files(root: Path = ROOT) -> tuple[Path, ...]:
    """The files of the part ``rules``, from what they import, without the judge's own."""
    stop = {root / name for name in JUDGES}
    return tuple(sorted(_reached(root, DECIDES, stop)))


def judge_files(root: Path = ROOT) -> tuple[Path, ...]:
    """The files of the part ``judge``: those that only it reaches, and its tables."""
    own = _reached(root, JUDGES, set()) - set(rule_files(root))
    rooms = {path.parent for path in own if path.parent != root / "runner"}
    tables = {table for room in rooms for table in room.glob(TABLES)}
    return tuple(sorted(own | tables))


def sha256_of(paths: Iterable[Path], root: Path = ROOT) -> str:
    """SHA-256 over names and what decides of these files."""
    digest = hashlib.sha256()
    for path in paths:
        digest.update(path.relative_to(root).as_posix().encode() + b"\0")
        digest.update(deciding(path).encode() + b"\0")
    return digest.hexdigest()


def deciding(path: Path) -> str:
    """What of one file can change a decision, as one text. Raises OSError, SyntaxError."""
    out: list[str] = []
    if path.suffix == ".py":
        _code(_tree(path), False, out)
    else:
        import yaml

        text = path.read_text(encoding="utf-8")
        _row(yaml.load(text, yaml.CSafeLoader), out)
    return "".join(out)


@lru_cache(maxsize=256)
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def _reached(root: Path, roots: Iterable[str], stop: set[Path]) -> set[Path]:
    found: set[Path] = set()
    waiting = [root / name for name in roots]
    while waiting:
        path = waiting.pop()
        if path in found or path in stop or path.relative_to(root).as_posix() in SAYS:
            continue
        found.add(path)
        waiting += _imported(root, path)
    return found


def _imported(root: Path, path: Path) -> Iterator[Path]:
    """The files of this program that one file imports, anywhere in it, but for types alone."""
    tree = _tree(path)
    for_types = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and getattr(node.test, "id", "") == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if node in for_types:
            continue
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            here = path.relative_to(root).parent.parts
            above = here[: len(here) - node.level + 1] if node.level else ()
            base = ".".join([*above, *filter(None, [node.module])])
            names = [base, *(f"{base}.{alias.name}" for alias in node.names)]
        else:
            continue
        for name in names:
            parts = name.removeprefix("steplatch.").split(".")
            module = root.joinpath(*parts)
            yield from filter(Path.is_file, (module.with_suffix(".py"), module / "__init__.py"))


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


def _beside(node: ast.AST) -> tuple[ast.stmt, ...]:
    """What a kind of step says of itself that decides nothing."""
    if not isinstance(node, ast.ClassDef):
        return ()
    if "Kind" not in (node.name, *(getattr(base, "id", "") for base in node.bases)):
        return ()
    return tuple(n for n in node.body if _named(n) in BESIDE)


def _named(node: ast.AST) -> str:
    """The name that a statement of a class gives to something; '' for none."""
    if isinstance(node, ast.FunctionDef):
        return node.name
    return getattr(node.targets[0], "id", "") if isinstance(node, ast.Assign) else ""


def _code(node: ast.AST, counts: bool, out: list[str]) -> None:
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
        case ast.Import() | ast.ImportFrom():
            return  # what is imported is reached, and its own text counts
    beside = _beside(node)
    out.append(f"({type(node).__name__}")
    keeps = uses_text(node)
    for name, value in ast.iter_fields(node):
        if value is None or value == [] or name in _NO_MEANING:
            continue
        out.append(f" {name}=")
        inner = keeps or (isinstance(node, ast.Dict) and name == "keys")
        for item in value if isinstance(value, list) else [value]:
            if item in beside:
                continue
            if isinstance(item, ast.AST):
                _code(item, inner, out)
            else:
                out.append(repr(item))
    out.append(")")


_NO_MEANING: Final = frozenset({"ctx", "kind", "type_comment", "type_params"})
"""Fields of a node that decide nothing, or that not every Python has."""


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
