"""Writes plain values in the strict subset that ``strict_yaml`` reads, for people to edit.

A list of groups, and a group that holds groups, is written in lines; what is small stands within
brackets where it fits. No line is longer than ``WIDTH`` unless one word is.
"""

import json
import re
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

WIDTH = 100
IN_ONE_LINE = ("when",)
"""Keys whose lists stand within brackets even where they hold groups, if they fit."""
_PLAIN = re.compile(r"[A-Za-z0-9/+(][^\x00-\x1f\"\\#]*|[A-Za-z]")
_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?")
_WORDS = ("true", "false", "null")


def yaml_text(data: Mapping[str, Any], comment: str = "") -> str:
    """A group of keys as a file's text. ``comment`` goes before it, each of its lines as one."""
    head = [f"# {line}".rstrip() for line in comment.splitlines()]
    return "\n".join([*head, *_group(data, 0)]) + "\n"


def _group(data: Mapping[str, Any], indent: int) -> list[str]:
    out: list[str] = []
    for key, value in data.items():
        out += _entry(f"{' ' * indent}{scalar(key)}:", value, indent)
    return out


def _entry(head: str, value: Any, indent: int) -> list[str]:
    """A key with its value; ``indent`` is the key's own."""
    if isinstance(value, str):
        return _text(head, value, indent + 2)
    in_lines = _in_lines(value)
    never_fits = in_lines and head.strip(" :") not in IN_ONE_LINE
    flow = "" if never_fits else f"{head} {_flow(value)}"
    if flow and len(flow) <= WIDTH:
        return [flow]
    if in_lines:
        inner = _group(value, indent + 2) if isinstance(value, Mapping) else _items(value, indent)
        return [head, *inner]
    if isinstance(value, Mapping):
        return [head, *_group(value, indent + 2)]
    return textwrap.wrap(
        flow, WIDTH, subsequent_indent=" " * (indent + 2), break_long_words=False,
        break_on_hyphens=False,
    )  # fmt: skip


def _in_lines(value: Any) -> bool:
    if isinstance(value, Mapping):
        return any(isinstance(inner, Mapping) for inner in value.values())
    if _is_list(value):
        return any(isinstance(v, Mapping) or (isinstance(v, str) and len(v) > 40) for v in value)
    return False


def _items(value: Sequence[Any], indent: int) -> list[str]:
    out: list[str] = []
    for item in value:
        if isinstance(item, Mapping):
            inner = _group(item, indent + 4)
            out += [f"{' ' * (indent + 2)}- {inner[0].lstrip()}", *inner[1:]]
        else:
            out += _text(f"{' ' * (indent + 2)}-", str(item), indent + 4)
    return out


def _text(head: str, text: str, indent: int) -> list[str]:
    """A text behind its key, over as many lines as it needs."""
    said = scalar(text)
    if len(head) + 1 + len(said) <= WIDTH or "  " in text or "\\" in said:
        return [f"{head} {said}"]
    lines = textwrap.wrap(
        f"{head.lstrip()} {said}", WIDTH, initial_indent=head[: len(head) - len(head.lstrip())],
        subsequent_indent=" " * indent, break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    if any(line.lstrip().startswith("#") for line in lines):
        return [f"{head} {said}"]
    return lines


def _is_list(value: Any) -> bool:
    return isinstance(value, list | tuple)


def _flow(value: Any) -> str:
    if isinstance(value, Mapping):
        inner = (f"{scalar(k, flow=True)}: {_flow(v)}" for k, v in value.items())
        return "{" + ", ".join(inner) + "}"
    if _is_list(value):
        return "[" + ", ".join(_flow(inner) for inner in value) + "]"
    return scalar(value, flow=True)


def scalar(value: Any, *, flow: bool = False) -> str:
    """One value; a text in quotes where it could be read as something else."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return "null"
    if isinstance(value, int | float):
        return str(value)
    plain = (
        _PLAIN.fullmatch(value)
        and not _NUMBER.fullmatch(value)
        and value not in _WORDS
        and ": " not in value
        and not value.endswith((":", " "))
        and "  " not in value
    )
    if plain and not (flow and re.search(r"[,\[\]{}]", value)):
        return str(value)
    return json.dumps(value, ensure_ascii=False)


__all__ = ["WIDTH", "scalar", "yaml_text"]
