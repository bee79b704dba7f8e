"""Every small change that a mutation run makes to a module, one at a time.

A change is made on the syntax tree, so the rest of the module stays as it is, line numbers
included. It is named by file, function, and the code before and after, not by its line, so that
a list of changes outlives edits elsewhere in the file.
"""

import ast
import copy
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

_COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_REASONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}
_NAMES = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "floor": "ceil",
    "ceil": "floor",
    "dml_up": "dml_down",
    "dml_down": "dml_up",
}
_DELETED = (ast.Assign, ast.AugAssign, ast.Raise, ast.Break, ast.Continue)

Path = tuple[tuple[str, int | None], ...]
"""The way from a module to one of its nodes: names of fields, and places in lists."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change to a module: where, what, and all that is needed to make it."""

    file: str
    line: int
    where: str
    change: str
    whole: ast.Module
    path: Path
    new: ast.AST

    @property
    def key(self) -> str:
        """The name of the change, free of line numbers."""
        return f"{self.file} || {self.where} || {self.change}"

    def made(self) -> ast.Module:
        """The changed module as a tree; the unchanged one is left as it is."""
        return _put(copy.deepcopy(self.whole), self.path, self.new)


def mutants_of(source: str, file: str) -> list[Mutant]:
    """Every mutant of a module, in the order of its lines."""
    tree = ast.parse(source)
    found: list[Mutant] = []
    seen: Counter[str] = Counter()
    for path, where in _places(tree, (), "module"):
        node = _at(tree, path)
        for new in _variants(node):
            change = f"{_shown(node)} -> {_shown(new)}"
            line = getattr(node, "lineno", getattr(_at(tree, path[:-1]), "lineno", 1))
            mutant = Mutant(file, line, where, change, tree, path, new)
            seen[mutant.key] += 1
            if seen[mutant.key] > 1:
                mutant = replace(mutant, change=f"{change} (no. {seen[mutant.key]})")
            found.append(mutant)
    return sorted(found, key=lambda m: m.line)


def _places(node: ast.AST, path: Path, where: str) -> Iterator[tuple[Path, str]]:
    """Paths to all nodes that may change: no annotations, decorators, texts or messages."""
    if path:
        yield path, where
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        where = node.name if where == "module" else f"{where}.{node.name}"
    if isinstance(node, ast.Raise | ast.Import | ast.ImportFrom):
        return
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_params", "format_spec"):
            continue
        if isinstance(value, ast.AST):
            yield from _places(value, (*path, (name, None)), where)
        elif isinstance(value, list):
            for i, part in enumerate(value):
                if isinstance(part, ast.AST):
                    yield from _places(part, (*path, (name, i)), where)


def _at(tree: ast.AST, path: Path) -> ast.AST:
    node = tree
    for name, i in path:
        value = getattr(node, name)
        node = value if i is None else value[i]
    return node


def _put(whole: ast.Module, path: Path, new: ast.AST) -> ast.Module:
    parent = _at(whole, path[:-1])
    name, i = path[-1]
    old = _at(whole, path)
    if isinstance(old, ast.expr | ast.stmt):
        ast.copy_location(new, old)
    if i is None:
        setattr(parent, name, new)
    else:
        getattr(parent, name)[i] = new
    return ast.fix_missing_locations(whole)


def _shown(node: ast.AST) -> str:
    """The code of a node in one line; of a compound statement only its head."""
    if isinstance(node, ast.If | ast.While):
        return f"{type(node).__name__.lower()} {ast.unparse(node.test)}"
    if isinstance(node, ast.comprehension):
        return ast.unparse(node).strip()
    if isinstance(node, ast.match_case):
        guard = f" if {ast.unparse(node.guard)}" if node.guard else ""
        return f"case {ast.unparse(node.pattern)}{guard}"
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 160 else f"{text[:120]} ... {text[-30:]}"


def _variants(node: ast.AST) -> Iterator[ast.AST]:
    match node:
        case ast.Compare(ops=ops):
            for i, op in enumerate(ops):
                for other in _COMPARED[type(op)]:
                    new = copy.deepcopy(node)
                    new.ops[i] = other()
                    yield new
        case ast.BinOp(op=op) if type(op) in _REASONED:
            yield ast.BinOp(node.left, _REASONED[type(op)](), node.right)
        case ast.AugAssign(op=op) if type(op) in _REASONED:
            yield ast.AugAssign(node.target, _REASONED[type(op)](), node.value)
            yield ast.Pass()
        case ast.BoolOp(op=ast.And(), values=values):
            yield ast.BoolOp(ast.Or(), values)
        case ast.BoolOp(op=ast.Or(), values=values):
            yield ast.BoolOp(ast.And(), values)
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            yield operand
        case ast.Constant(value=value):
            yield from (ast.Constant(v) for v in _other_values(value))
        case ast.Name(id=name) if name in _NAMES:
            yield ast.Name(_NAMES[name], node.ctx)
        case ast.Attribute(attr=name) if name in _NAMES:
            yield ast.Attribute(node.value, _NAMES[name], node.ctx)
        case ast.If() | ast.IfExp():
            yield from (_knowing(node, known) for known in (True, False))
        case ast.While():
            yield _knowing(node, False)
        case ast.comprehension(ifs=ifs) if ifs:
            for i in range(len(ifs)):
                yield ast.comprehension(
                    node.target, node.iter, [*ifs[:i], *ifs[i + 1 :]], node.is_async
                )
        case ast.match_case(guard=guard) if guard is not None:
            for known in (True, False):
                yield ast.match_case(node.pattern, ast.Constant(known), node.body)
        case ast.match_case(pattern=pattern) if not (
            isinstance(pattern, ast.MatchAs) and pattern.pattern is None
        ):
            yield ast.match_case(pattern, ast.Constant(False), node.body)
        case ast.Return(value=value) if value is not None and not _is_no(value):
            yield ast.Return(ast.Constant(None))
        case ast.Expr(value=value) if not isinstance(value, ast.Constant):
            yield ast.Pass()
        case ast.Set(elts=elts) if len(elts) > 1:
            for i in range(len(elts)):
                yield ast.Set([*elts[:i], *elts[i + 1 :]])
        case ast.Dict(keys=keys, values=values) if keys:
            for i in range(len(keys)):
                yield ast.Dict([*keys[:i], *keys[i + 1 :]], [*values[:i], *values[i + 1 :]])
        case ast.Assign(targets=[ast.Name(id="__all__")]):
            pass  # it says what ``*`` would import, and nothing here imports that
        case _ if isinstance(node, _DELETED):
            yield ast.Pass()


def _knowing(node: ast.If | ast.IfExp | ast.While, known: bool) -> ast.AST:
    new = copy.copy(node)
    new.test = ast.Constant(known)
    return new


def _is_no(value: ast.expr) -> bool:
    """Whether a value means None or no already: to return None instead would change nothing."""
    return isinstance(value, ast.Constant) and (value.value is None or value.value is False)


def _other_values(value: object) -> tuple[bool | int | float, ...]:
    match value:
        case bool():
            return (not value,)
        case int():
            return (value + 1, value - 1)
        case float():
            return (1.0,) if value == 0.0 else (value * 1.1,)
        case _:
            return ()
