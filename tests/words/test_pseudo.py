"""Under a language in which every letter has an accent no plain English word is left on what
people read, and the record is the same as ever."""

import argparse
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import pytest
from steplatch.runner.cli.main import parser
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.core.procedure import Procedure
from steplatch.runner.input.units import DIMENSIONS
from steplatch.runner.jobs.bundle import EXAMPLES
from steplatch.safety.interlocks import INTERLOCKS

from tests.played import MAIN
from tests.words.marked import ROOT
from tests.words.pseudo import pseudo, write

LESSONS = ("good-clean", "overdose-recovered")
SURFACES = (
    *("screen 80x24", "screen 44x12", "help at a step", "sheet, page", "sheet, text", "audit"),
    *("refusals", "cautions", "help of commands", "commands"),
)
NOT_YET: dict[str, str] = {}
"""Surfaces that are not done, each with why. It only ever shrinks."""
WORD = re.compile(r"(?<![\w&/.\\-])[A-Za-z]{3,}(?![\w/]|-\w)")
NO_TEXT = re.compile(
    r"<style.*?</style>|<[^>]*>|\{[^{}]*\}"  # marks of a page, fields of a text not put in yet
    r"|\b[0-9a-f]{4}\b|\S*/\S*/\S*|\S*…"  # groups of a hash, paths, what was cut
    r"|(?:\b[a-z_]+: [a-z_0-9]+; )+[a-z_]+: [a-z_0-9]+|\b[a-z_]+ = "  # facts by their ids
    r"|\[[a-z-]+\]",  # the id of a rule behind a refusal
    re.DOTALL,
)
LIBRARIES = frozenset(
    [
        "while",
        "parsing",
        "flow",
        "sequence",
        "did",
        "not",
        "find",
        "expected",
        "linux",
        "ascii",
        "utf",
    ]
)
"""What the system and the parser of YAML say themselves, in brackets behind our words."""
IDS = frozenset(
    {"steplatch", "strict", "extended", "running", "ledger", "and", "customer", "done", "drained"}
    | {"terms", "manual", "degC"}
)
"""The program; rules and persons by their ids; words that are typed as they stand."""


def shown_by(language: str) -> dict[str, Any]:
    """What ``tests.words.shown`` gives under a language."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.words.shown", *LESSONS],
        cwd=ROOT,
        env={**os.environ, "STEPLATCH_LANGUAGE": language},
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return dict(json.loads(done.stdout))


@pytest.fixture(scope="module")
def accented(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Everything under the pseudo-language."""
    folder = tmp_path_factory.mktemp("pseudo")
    write(folder, pseudo)
    return shown_by(str(folder))


def words_of(parts: Iterator[str] | tuple[str, ...]) -> set[str]:
    return {word for part in parts for word in re.findall(r"[A-Za-z]{2,}", part)}


def commands(top: argparse.ArgumentParser) -> Iterator[str]:
    """Every name on the command line: commands, options, arguments, what an option takes, and the
    command of each example."""
    yield (
        (top.epilog or "").rpartition("steplatch ")[2]
        if " steplatch " in (top.epilog or "")
        else ""
    )
    for action in top._actions:
        yield from action.option_strings
        yield from (action.dest, action.dest.upper())
        for name in action.choices or ():
            yield str(name)
            if isinstance(action.choices, dict):
                yield from commands(action.choices[name])


def may_stand() -> set[str]:
    """Words that no catalogue holds: what people typed, what files call themselves, units, names of
    files, commands and ids."""
    typed = (EXAMPLES / "lessons" / f"{name}.yaml" for name in LESSONS)
    files = (*typed, *(EXAMPLES / "workshop").glob("*.yaml"), *(EXAMPLES / "vehicles").glob("*"))
    names = words_of(tuple(path.read_text(encoding="utf-8") for path in files if path.is_file()))
    units = words_of(tuple(unit for one in DIMENSIONS.values() for unit in (*one.units, one.trade)))
    rules = words_of(tuple(row.id for row in INTERLOCKS))
    asked = [f.name for step in shipped().steps() for f in getattr(step, "fields", ())]
    names |= words_of(tuple(asked))
    return names | units | rules | words_of(tuple(commands(parser()))) | LIBRARIES | IDS


def shipped() -> Procedure:
    """The procedure that is played; the names of its fields are its own."""
    return load_procedure(MAIN)[0]


def left(texts: list[str], allowed: set[str]) -> list[str]:
    """The plain words, each with the line that it stands in."""
    out: dict[str, str] = {}
    for text in texts:
        for line in NO_TEXT.sub(" ", text).splitlines():
            for word in WORD.findall(line):
                if word not in allowed:
                    out.setdefault(word, line.strip()[:160])
    return [f"{word}: {line}" for word, line in sorted(out.items())]


@pytest.mark.parametrize("surface", SURFACES)
def test_no_english_word_is_left(surface: str, accented: dict[str, Any]) -> None:
    found = left(accented["shown"][surface], may_stand())
    if surface in NOT_YET:
        assert found, f"{surface} is done: take it out of NOT_YET"
        return
    assert not found, "\n".join(found)


def test_every_surface_shows_words_and_a_plain_one_is_found(accented: dict[str, Any]) -> None:
    allowed = may_stand()
    for surface in SURFACES:
        texts = accented["shown"][surface]
        assert any(re.search(r"[áéíóú]", text) for text in texts), surface
        assert left([*texts, "Nobody translated this whatsoever"], allowed), surface


def test_the_record_holds_no_text(accented: dict[str, Any]) -> None:
    """The same lessons in English: the same commands, the same outcomes, line by line."""
    english = shown_by("en")
    for name in LESSONS:
        one, other = english["kept"][name], accented["kept"][name]
        assert len(one) == len(other) > 300
        for a, b in zip(one, other, strict=True):
            assert decided(a) == decided(b)


def decided(line: str) -> Any:
    """A line of the journal without its chain, the job's id, and hashes, which
    are salted at random."""
    plain = json.loads(re.sub(r"[0-9a-f]{64}", "", line))
    kept = {"command", "outcome", "actor", "role", "seq", "utc"}
    assert {"command", "outcome"} <= plain.keys()
    return {key: value for key, value in plain.items() if key in kept}
