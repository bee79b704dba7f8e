"""The mutation tool itself, on a planted function whose mutants are known."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.mutation.changes import mutants_of
from tests.mutation.mutate import mapped_tests, module_name, read_equivalent

ROOT = Path(__file__).parents[2]
PLANTED = '''
"""A planted module."""
def fits(dose: int, room: int | None) -> bool:
    """Whether it fits."""
    return room is not None and dose <= room
def full(dose: int) -> bool:
    return dose >= 9
'''
CHANGES = {
    "room is not None and dose <= room -> room is not None or dose <= room",
    "room is not None -> room is None",
    "dose <= room -> dose < room",
    "dose <= room -> dose > room",
    "return room is not None and dose <= room -> return None",
    "dose >= 9 -> dose > 9",
    "dose >= 9 -> dose < 9",
    "9 -> 10",
    "9 -> 8",
    "return dose >= 9 -> return None",
}
BOUNDARY = "safety/planted.py || fits || dose <= room -> dose < room"
NOT_NOTICED = "safety/planted.py || full || 9 -> 8"
WEAK = """
from steplatch.safety.planted import fits, full
def test_a_small_dose_fits_and_a_big_one_does_not() -> None:
    assert fits(1, 5) is True
    assert fits(9, 5) is False
    assert fits(1, None) is False
    assert (full(20), full(9), full(1)) == (True, True, False)
"""


def run(tmp_path: Path, listed: str) -> tuple[int, str]:
    for name in ("safety", "tests"):
        (tmp_path / name).mkdir()
    (tmp_path / "safety" / "planted.py").write_text(PLANTED)
    (tmp_path / "tests" / "test_planted.py").write_text(WEAK)
    (tmp_path / "listed.txt").write_text(listed)
    asked = ["--root", str(tmp_path), "--only", "safety/planted.py", "--jobs", "2"]
    asked += ["--tests", "tests/test_planted.py", "--equivalent", str(tmp_path / "listed.txt")]
    done = subprocess.run(
        [sys.executable, "-m", "tests.mutation.mutate", *asked],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode in (0, 1), done.stderr
    return done.returncode, done.stdout


def test_the_known_changes_are_made_and_no_annotation_or_docstring_is_touched() -> None:
    made = mutants_of(PLANTED, "safety/planted.py")
    assert {m.change for m in made} == CHANGES
    assert {(m.where, m.line) for m in made} == {("fits", 5), ("full", 7)}


def test_a_change_is_in_the_tree_that_is_run_and_nowhere_else() -> None:
    kept = {m.change: m for m in mutants_of(PLANTED, "safety/planted.py")}
    space: dict[str, object] = {}
    exec(compile(kept["dose <= room -> dose < room"].made(), "planted", "exec"), space)
    again: dict[str, object] = {}
    exec(compile(kept["dose <= room -> dose > room"].made(), "planted", "exec"), again)
    fits, unfit = space["fits"], again["fits"]
    assert callable(fits) and callable(unfit)
    assert (fits(5, 5), fits(4, 5)) == (False, True)
    assert (unfit(5, 5), unfit(6, 5)) == (False, True)


def test_a_survivor_is_reported_by_line_and_so_is_a_listed_change_that_is_killed_or_gone(
    tmp_path: Path,
) -> None:
    killed = "safety/planted.py || fits || dose <= room -> dose > room"
    gone = "safety/planted.py || fits || dose <= rum -> dose < rum"
    listed = "".join(f"{key} || a reason\n" for key in (NOT_NOTICED, killed, gone))
    rc, said = run(tmp_path, listed)
    assert rc == 1
    assert f"survived  safety/planted.py:5  {BOUNDARY}" in said
    assert said.count("survived  ") == 1
    assert "all: 10 made, 8 killed, 1 equivalent, 1 survived, 0 not run" in said
    assert f"yet killed; strike it from the list: {killed}" in said
    assert f"yet no longer made; strike it from the list: {gone}" in said


def test_a_line_of_the_list_without_a_reason_is_refused_with_its_place(tmp_path: Path) -> None:
    (tmp_path / "listed.txt").write_text(f"# why\n{BOUNDARY}\n")
    with pytest.raises(SystemExit, match=r"listed\.txt:2: write file \|\| function"):
        read_equivalent(tmp_path / "listed.txt")


def test_every_file_of_safety_has_tests_mapped_that_exist() -> None:
    for file in sorted((ROOT / "safety").rglob("*.py")):
        assert mapped_tests(file.relative_to(ROOT).as_posix(), ROOT), file


def test_a_package_is_imported_under_the_name_of_its_folder() -> None:
    assert module_name("safety/limits/dose.py") == "steplatch.safety.limits.dose"
    assert module_name("safety/limits/__init__.py") == "steplatch.safety.limits"
