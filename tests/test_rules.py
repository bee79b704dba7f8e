"""The graded list of checklist rules is whole, and every test that it names exists."""

import ast
import re
from functools import cache
from pathlib import Path

from tests.each import each

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "runner" / "RULES.md"
GRADES = ("kept", "kept in part", "does not apply")


def rows() -> list[list[str]]:
    """Number, rule, how, tests and grade of each row."""
    lines = PAGE.read_text(encoding="utf-8").splitlines()
    return [
        [cell.strip() for cell in line.strip("|").split(" | ")]
        for line in lines
        if re.match(r"\| \d+ \|", line)
    ]


@cache
def defined_in(path: Path) -> frozenset[str]:
    """Names of the tests that a file defines."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return frozenset(n.name for n in ast.walk(tree) if isinstance(n, ast.FunctionDef))


def test_the_forty_rules_stand_in_order_each_with_a_way_and_a_grade() -> None:
    assert [row[0] for row in rows()] == [str(n) for n in range(1, 41)]
    for _, rule, how, _, grade in rows():
        assert rule and how
        assert grade in GRADES


@each("row", rows(), ids=lambda row: row[0])
def test_every_test_that_a_rule_names_exists(row: list[str]) -> None:
    named = re.findall(r"`(tests/[a-z_/]+\.py)::(test_\w+)`", row[3])
    assert len(named) == row[3].count("`") / 2
    assert named or row[4] == "does not apply", "a rule that is kept names what would fail"
    for file, name in named:
        assert name in defined_in(ROOT / file), f"{file} has no {name}"


def test_the_count_below_the_list_is_that_of_the_list() -> None:
    grades = [row[4] for row in rows()]
    counts = [grades.count(grade) for grade in GRADES]
    text = PAGE.read_text(encoding="utf-8")
    assert "Kept: {}. Kept in part: {}. Does not apply: {}.".format(*counts) in text
