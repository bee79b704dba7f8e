"""Edits of a procedure's text, as somebody with an editor makes them."""

import re
from functools import cache
from pathlib import Path

from steplatch.runner.core.loading import load_written_out
from steplatch.runner.input.shelf import PROCEDURES

MAIN = PROCEDURES / "clean-above.yaml"


@cache
def written_out(path: Path = MAIN) -> str:
    """A shipped procedure with its shared steps written out."""
    return load_written_out(path)[2].decode("utf-8")


def lines_of(text: str, step: str) -> tuple[int, int]:
    """The first line of a step (from 0) and the first after it."""
    lines = text.split("\n")
    (first,) = (n for n, s in enumerate(lines) if re.match(rf" +- {re.escape(step)}(:|$)", s))
    indent = len(lines[first]) - len(lines[first].lstrip())
    after = first + 1
    while after < len(lines) and lines[after].startswith(" " * (indent + 2)):
        after += 1
    return first, after


def without_steps(text: str, *steps: str) -> str:
    """The text without these steps."""
    for step in steps:
        first, after = lines_of(text, step)
        lines = text.split("\n")
        text = "\n".join([*lines[:first], *lines[after:]])
    return text


def in_step(text: str, step: str, old: str, new: str) -> str:
    """The text with ``old`` replaced once within a step."""
    first, after = lines_of(text, step)
    lines = text.split("\n")
    block = "\n".join(lines[first:after])
    assert old in block, (old, block)
    return "\n".join([*lines[:first], block.replace(old, new, 1), *lines[after:]])
