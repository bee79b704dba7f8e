"""Moves every border of a function, one at a time, in the running program.

A border is a comparison by size, and in functions that are named any comparison. It is made strict
or not, turned round, and thrown open both ways (always true, always false). The code of the
changed function takes the place of the old while a check runs, so that some hundred changes are
tried in seconds, in the default tests.
"""

import ast
import inspect
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from types import CodeType, FunctionType

from tests.mutation.changes import Mutant, mutants_of
from tests.mutation.warm import functions_in

ROOT = Path(__file__).parents[2]
_BY_SIZE = (ast.Lt, ast.LtE, ast.Gt, ast.GtE)


def borders_of(file: str, whole: Collection[str] = ()) -> dict[str, list[Mutant]]:
    """Every moved border of a file, by the function that it stands in; in the functions ``whole``
    every comparison."""
    source = (ROOT / file).read_text(encoding="utf-8")
    found: dict[str, list[Mutant]] = {}
    opened: set[tuple[object, ...]] = set()
    for mutant in mutants_of(source, file):
        node = _node(mutant)
        if not isinstance(node, ast.Compare):
            continue
        if mutant.where not in whole and not any(isinstance(o, _BY_SIZE) for o in node.ops):
            continue
        here = found.setdefault(mutant.where, [])
        here.append(mutant)
        if mutant.path not in opened:
            opened.add(mutant.path)
            for always in (True, False):
                change = f"{ast.unparse(node)} -> {always}"
                here.append(replace(mutant, change=change, new=ast.Constant(always)))
    return found


def only_strict(mutant: Mutant) -> bool:
    """Whether the change is felt on the border alone: less, or less and equal."""
    old, new = _node(mutant), mutant.new
    kinds = [frozenset({ast.Lt, ast.LtE}), frozenset({ast.Gt, ast.GtE})]
    return (
        isinstance(old, ast.Compare)
        and isinstance(new, ast.Compare)
        and all(
            type(a) is type(b) or {type(a), type(b)} in kinds
            for a, b in zip(old.ops, new.ops, strict=True)
        )
    )


def _node(mutant: Mutant) -> ast.AST:
    node: ast.AST = mutant.whole
    for name, i in mutant.path:
        value = getattr(node, name)
        node = value if i is None else value[i]
    return node


@contextmanager
def moved(mutant: Mutant) -> Iterator[None]:
    """The program with one border moved, and as it was afterwards."""
    function = _function(mutant)
    code = compile(mutant.made(), str(ROOT / mutant.file), "exec")
    new = functions_in(code)[mutant.where, 0]
    assert new.co_freevars == function.__code__.co_freevars
    old, function.__code__ = function.__code__, new
    try:
        yield
    finally:
        function.__code__ = old


def _function(mutant: Mutant) -> FunctionType:
    found = import_module("steplatch." + mutant.file.removesuffix(".py").replace("/", "."))
    for name in mutant.where.split("."):
        found = getattr(found, name)
    function = inspect.unwrap(found)  # type: ignore[arg-type]
    assert isinstance(function, FunctionType) and isinstance(function.__code__, CodeType)
    return function


def noticed(mutant: Mutant, check: Callable[[], object]) -> bool:
    """Whether a check fails, in whatever way, while a border is moved."""
    with moved(mutant):
        try:
            check()
        except Exception:
            return True
    return False
