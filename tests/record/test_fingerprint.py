"""The parts of what decides: one token of a deciding file moves its part, a word moves none."""

import ast
import os
import re
import shutil
from pathlib import Path

import pytest
from steplatch.runner.jobs import deciding as reading
from steplatch.runner.jobs.deciding import BESIDE, Reader, named, text_of
from steplatch.runner.jobs.fingerprint import (
    ROOT,
    files_sha256,
    judge_files,
    rule_files,
    sha256_of,
)

RULES, JUDGE = rule_files(), judge_files()
CODE = [path for path in (*RULES, *JUDGE) if path.suffix == ".py" and path.name != "__init__.py"]


def deciding(path: Path) -> str:
    return text_of(path.read_bytes(), path.suffix)[0]


def name_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def test_what_decides_is_found_by_imports_and_holds_the_engine_the_rules_and_the_judge() -> None:
    rules, judge = set(map(name_of, RULES)), set(map(name_of, JUDGE))
    for name in ("engine", "steps/read", "steps/hold", "amend", "sign_off", "gun_entry", "job"):
        assert f"runner/core/{name}.py" in rules
    for name in ("kernel", "effects", "bay", "occurrences", "limits/dose", "interlocks/starting"):
        assert f"safety/{name}.py" in rules
    assert {"runner/assess/triage.yaml", "runner/assess/verdict.yaml"} <= judge
    assert not rules & judge
    elsewhere = {"verify", "plant", "registers", "screen", "sheet", "simulator"}
    for path in (*RULES, *JUDGE):
        assert path.parent.name not in elsewhere


def _one_token(source: str) -> str:
    """The source with the last comparison, number, boolean or name of it changed."""
    tree = ast.parse(source)
    said = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.JoinedStr)
        or named(node) in BESIDE
        or (isinstance(node, ast.Call) and getattr(node.func, "id", "") == "_")
        for inner in ast.walk(node)
    }
    places = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, int | float)
        and node not in said
    ]
    if places:
        node = places[-1]
        lines = source.splitlines(keepends=True)
        line = lines[node.lineno - 1].encode()
        end = node.end_col_offset or 0
        lines[node.lineno - 1] = (line[: node.col_offset] + b"977" + line[end:]).decode()
        return "".join(lines)
    return source + "\nextra = 1\n"


def test_what_a_step_says_beside_its_deciding_is_left_out_and_called_by_nothing_that_decides() -> (
    None
):
    """The methods that the fingerprint leaves out are named in no text that it is made of."""
    kinds = [path for path in RULES if path.parent.name == "steps"]
    assert len(kinds) > 14 and any("def tries_begun" in path.read_text() for path in kinds)
    for path in (*RULES, *JUDGE):
        text = deciding(path)
        for name in BESIDE:
            assert f"attr='{name}'" not in text and f"name='{name}'" not in text, path
        assert "'Try'" not in text, path


@pytest.mark.parametrize("path", CODE, ids=name_of)
def test_one_token_of_a_deciding_file_moves_what_decides_and_a_docstring_does_not(
    path: Path, tmp_path: Path
) -> None:
    copy = tmp_path / path.name
    source = path.read_text(encoding="utf-8")
    copy.write_text(_one_token(source), encoding="utf-8")
    assert deciding(copy) != deciding(path)
    worded = '"""Another docstring."""\n# another comment\n' + source.split('"""', 2)[2]
    copy.write_text(worded, encoding="utf-8")
    assert deciding(copy) == deciding(path)


@pytest.mark.parametrize("path", [p for p in JUDGE if p.suffix == ".yaml"], ids=name_of)
def test_a_deciding_value_of_a_table_moves_its_part_and_a_sentence_does_not(
    path: Path, tmp_path: Path
) -> None:
    from tests.record.altered import reworded_yaml

    copy = tmp_path / path.name
    text = path.read_text(encoding="utf-8")
    changed = reworded_yaml(text)
    assert changed != text
    copy.write_text(changed, encoding="utf-8")
    assert deciding(copy) == deciding(path)
    value = r"(?m)^([^#\n]*[:\[] ?)(true|false|no|dont|\d+|(?<=kind: )good)\b"
    copy.write_text(re.sub(value, r"\1odd", text, count=1), encoding="utf-8")
    assert copy.read_text(encoding="utf-8") != text
    assert deciding(copy) != deciding(path)


def test_words_outside_move_no_part(tmp_path: Path) -> None:
    """Screens, proofs, hazards, cautions, the words of refusals: changed, nothing moves."""
    for room in ("safety", "runner"):
        shutil.copytree(ROOT / room, tmp_path / room, ignore=shutil.ignore_patterns("__pycache__"))
    decide = {name_of(path) for path in (*RULES, *JUDGE)}
    for path in tmp_path.rglob("*.py"):
        if path.relative_to(tmp_path).as_posix() not in decide:
            path.write_text(path.read_text(encoding="utf-8") + "\nextra = 1\n", encoding="utf-8")
    assert sha256_of(rule_files(tmp_path), tmp_path) == sha256_of(RULES)
    assert sha256_of(judge_files(tmp_path), tmp_path) == sha256_of(JUDGE)


def test_a_reworded_interlock_moves_nothing_and_a_dropped_one_moves_the_rules(
    tmp_path: Path,
) -> None:
    path = ROOT / "safety/interlocks/starting.py"
    copy = tmp_path / "starting.py"
    source = path.read_text(encoding="utf-8")
    from tests.record.altered import reworded_code

    copy.write_text(reworded_code(source), encoding="utf-8")
    assert copy.read_text(encoding="utf-8") != source
    assert deciding(copy) == deciding(path)


def test_the_part_of_the_files_covers_every_kept_text_but_the_main_procedure() -> None:
    hashes = {"procedure:main": "a", "procedure:abandon": "b", "gun": "c"}
    whole = files_sha256(hashes, "procedure:main")
    assert whole == files_sha256({**hashes, "procedure:main": "z"}, "procedure:main")
    for name in ("procedure:abandon", "gun"):
        assert whole != files_sha256({**hashes, name: "z"}, "procedure:main")


def test_a_fact_dropped_from_a_list_in_one_text_moves_what_decides(tmp_path: Path) -> None:
    path, copy = ROOT / "safety/effects.py", tmp_path / "effects.py"
    source = path.read_text(encoding="utf-8")
    assert 'but="line tag release_check road"' in source
    copy.write_text(source.replace("line tag release_check road", "line tag road", 1))
    assert deciding(copy) != deciding(path)


def test_a_file_read_before_is_known_by_its_bytes_and_by_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "kept.json"
    monkeypatch.setattr(reading, "_place", lambda: place)
    monkeypatch.setattr(reading.sys, "dont_write_bytecode", False)
    source = tmp_path / "rule.py"
    source.write_text("from .bay import Bay\nLEAST = 10\n")
    stamp = source.stat()
    first = Reader()
    found = first.read(source)
    assert [tuple(one) for one in found.imports] == [(1, "bay", ["Bay"])]
    first.keep()
    monkeypatch.setattr(reading, "content_of", None)  # from here on nothing is worked out
    assert Reader().read(source) == found
    monkeypatch.undo()
    monkeypatch.setattr(reading, "_place", lambda: place)
    source.write_text("from .bay import Bay\nLEAST = 11\n")
    os.utime(source, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    assert Reader().read(source).sha256 != found.sha256
    place.write_text('{"a": ["b"]}')
    assert Reader().read(source).sha256 != found.sha256
