"""Each false answer once, at real jobs: what then breaks is what the register says of it."""

from collections import Counter

import pytest

from tests.walk.mishaps import LIES
from tests.walk.walker import Fate
from tests.walk.walks import drawn

QUICK = ("look: kit worn",)
MOST_STEPS = 420


def told(false_report: str) -> Counter[str]:
    """What came of one walk that is good work but for this one lie. Raises Breach."""
    walk = drawn(
        len(false_report),
        Fate(0.0, 0.0, 0.0, false_report=false_report),
        crew="pair",
        agreed="clean",
    )
    walk.walk(MOST_STEPS)
    assert walk.lied in ("", false_report)
    return walk.counts


@pytest.mark.parametrize("false_report", QUICK)
def test_a_lie_breaks_only_what_rests_on_it(false_report: str) -> None:
    assert told(false_report)["lies told"] == 1


@pytest.mark.slow
def test_each_lie_once_breaks_only_what_rests_on_it() -> None:
    total: Counter[str] = Counter()
    for false_report in LIES:
        total.update(told(false_report))
    assert total["lies told"] >= 0.8 * len(LIES), total
    assert total["breached by the one lie"] >= 10, total
