"""Searches that are kept for the next check: when they may stand in for a search, and when not."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.input.shelf import PROCEDURES, procedure_files
from steplatch.runner.proof import kept
from steplatch.runner.proof.prove import ProofResult
from steplatch.runner.proof.runs import Runs, runs_of_main

ZERO = PROCEDURES / "zero-check.yaml"


@pytest.fixture(autouse=True)
def _place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "_place", lambda: tmp_path / "kept.json")
    monkeypatch.setattr("sys.dont_write_bytecode", False)
    monkeypatch.setattr("os.cpu_count", lambda: 1)


def made(path: Path, afresh: bool = False) -> list[tuple[ProofResult, bool]]:
    made = Runs(path, procedure_files())
    runs = runs_of_main(made.loaded.plan.main)[-2:]
    return list(kept.make_or_keep(made, runs, afresh))


def changed(folder: Path, *pairs: tuple[str, str]) -> Path:
    text = ZERO.read_text(encoding="utf-8")
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    path = folder / ZERO.name
    path.write_text(text, encoding="utf-8")
    return path


def test_the_same_is_not_searched_again_and_says_so() -> None:
    first, again = made(ZERO), made(ZERO)
    assert [was for _, was in first] == [False, False]
    assert [was for _, was in again] == [True, True]
    assert [r for r, _ in again] == [r for r, _ in first]
    assert [was for _, was in made(ZERO, afresh=True)] == [False, False]


def test_other_words_are_kept_and_prove_the_same(tmp_path: Path) -> None:
    first = made(ZERO)
    title = next(
        li for li in ZERO.read_text(encoding="utf-8").splitlines() if li.startswith("title")
    )
    path = changed(tmp_path, (title, "title: Other words for it"))
    assert all(was for _, was in made(path))
    for (was, _), (now, _) in zip(first, made(path, afresh=True), strict=True):
        assert (was.states, was.transitions, was.reached) == (
            now.states,
            now.transitions,
            now.reached,
        )


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if isinstance(value, dict):
        for key, item in value.items():
            yield from leaves(item, (*path, key))
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from leaves(item, (*path, number))
    else:
        yield path


def test_of_a_step_all_but_its_words_moves_what_is_searched() -> None:
    """Every leaf of every step of the shipped jobs, by its own key."""
    words: set[str] = set()
    for path in procedure_files():
        plain = load_procedure(path)[0].model_dump(mode="json")
        wordless = kept._wordless(plain)
        here = set(leaves(wordless))
        dropped = [set(at) & kept.WORDS for at in leaves(plain) if at not in here]
        assert all(dropped)
        words = words.union(*dropped)
    assert words == kept.WORDS


@pytest.mark.parametrize("room", kept.ROOMS)
def test_one_byte_of_what_decides_or_proves_is_another_search(tmp_path: Path, room: str) -> None:
    for name in kept.ROOMS:
        (tmp_path / name).mkdir(parents=True)
        (tmp_path / name / "a.py").write_text("A = 1\n", encoding="utf-8")
    before = kept.code_sha256(tmp_path)
    assert kept.code_sha256(tmp_path) == before
    (tmp_path / room / "a.py").write_text("A = 2\n", encoding="utf-8")
    assert kept.code_sha256(tmp_path) != before


def test_a_search_that_found_a_fault_is_never_kept(tmp_path: Path) -> None:
    """Hands are never cleared before the start: refused where all goes well."""
    text = ZERO.read_text(encoding="utf-8")
    first = next(
        li for li in text.splitlines() if li.strip().startswith("- hands") or "hands-clear" in li
    )
    path = changed(tmp_path, (first + "\n", ""))
    results = made(path)
    assert not all(r.proven for r, _ in results)
    again = made(path)
    assert [was for r, was in again] == [r.proven for r, _ in again]


@pytest.mark.parametrize("text", ["", "{", "[]", '{"x": {"states": 1}}'])
def test_what_was_kept_and_cannot_be_read_is_searched_again(tmp_path: Path, text: str) -> None:
    (tmp_path / "kept.json").write_text(text, encoding="utf-8")
    assert not any(was for _, was in made(ZERO))
