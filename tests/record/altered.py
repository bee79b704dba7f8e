"""Source and tables with every sentence altered, as a rewording or a translation alters them."""

import ast
import re

from steplatch.runner.jobs.deciding import is_sentence, says, uses_text

_WORD = re.compile(r"(?<![\w{\\%])([A-Za-z]{2,})(?= +\w| *$|[.,;:]? )")


def altered(text: str) -> str:
    """A sentence in other words, its placeholders kept."""
    return _WORD.sub(lambda match: match[1] + "x", text)


def reworded_code(source: str) -> str:
    """Python source whose sentences (docstrings too) read otherwise. What is compared, looked up
    or put together from values stays."""
    tree = ast.parse(source)
    kept: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr) or uses_text(node):
            kept |= set(ast.walk(node))
        if isinstance(node, ast.Dict):
            kept |= {inner for key in node.keys if key is not None for inner in ast.walk(key)}
    lines = [line.encode() for line in source.splitlines(keepends=True)]
    found = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and node not in kept and is_sentence(node.value)
    ]
    for node in sorted(found, key=lambda n: (n.lineno, n.col_offset), reverse=True):
        assert node.end_lineno is not None and node.end_col_offset is not None
        start, end = node.lineno - 1, node.end_lineno - 1
        before, after = lines[start][: node.col_offset], lines[end][node.end_col_offset :]
        new = repr(altered(node.value)).encode()
        lines[start : end + 1] = [before + b"(" + new + b")" + after]
    return b"".join(lines).decode()


def reworded_yaml(text: str) -> str:
    """A YAML table whose sentences in double quotes, and comments, read otherwise."""
    text = re.sub(r"(?m)^# (.*)$", lambda m: f"# {altered(m[1])}", text)
    return re.sub(r'"([^"\n]*)"', lambda m: f'"{altered(m[1])}"' if says(m[1]) else m[0], text)
