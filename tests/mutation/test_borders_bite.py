"""Each border of what decides, moved in the running program, is noticed by a check named for it."""

from functools import cache

import pytest

from tests.assess import test_borders as of_the_judge
from tests.mutation.borders import borders_of, noticed, only_strict
from tests.mutation.changes import Mutant
from tests.played import Stands
from tests.test_borders import CHECKS, WHOLE


@cache
def found(file: str) -> dict[str, list[Mutant]]:
    """Every moved border of a file that has checks."""
    return borders_of(file, WHOLE if file in CHECKS else of_the_judge.WHOLE)


def test_every_function_with_a_border_has_its_check_and_no_check_is_left_over() -> None:
    for file, checks in CHECKS.items():
        assert set(checks) == set(found(file)), file


@pytest.mark.parametrize(("file", "where"), [(f, w) for f, of in CHECKS.items() for w in of])
def test_a_moved_border_is_noticed(stands: Stands, file: str, where: str) -> None:
    check = CHECKS[file][where]
    missed = [m.change for m in found(file)[where] if not noticed(m, lambda: check(stands))]
    assert not missed


@pytest.mark.parametrize("file", of_the_judge.CHECKS)
def test_a_moved_border_of_the_judge_is_noticed(file: str) -> None:
    def all_of_them() -> None:
        for check in of_the_judge.CHECKS[file]:
            check()

    missed = [
        (where, m.change)
        for where, mutants in found(file).items()
        for m in mutants
        if where not in of_the_judge.NUMERICS
        and m.change not in of_the_judge.NEVER_MET
        and not (file in of_the_judge.FITTED and only_strict(m))
        and not noticed(m, all_of_them)
    ]
    assert not missed, "\n".join(map(str, missed))
