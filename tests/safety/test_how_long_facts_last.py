"""How long a fact may be believed: the workshop defaults, written out (common practice, no
source), each in minutes."""

from steplatch.safety.bay import FACTS
from steplatch.safety.effects import LASTS_S, RETRY_LASTS_S

from tests.safety.why_so_long import WHY_SO_LONG

MINUTES = {
    "port": 10,
    "touch": 10,
    "hand_turn": 15,
    "start_check": 15,
    "idle": 15,
    "burning": 30,
    "controls": 60,
    "fumes": 60,
    "kit": 60,
    "hands": 60,
}


def test_each_fact_that_grows_old_lasts_so_many_minutes() -> None:
    assert {fact: seconds / 60 for fact, seconds in LASTS_S.items()} == MINUTES
    assert set(LASTS_S) <= set(FACTS)


def test_an_even_crank_that_did_not_fire_leaves_one_more_try_for_five_minutes() -> None:
    assert RETRY_LASTS_S == 5 * 60


def test_each_age_has_its_reason_beside_it() -> None:
    assert WHY_SO_LONG.keys() == LASTS_S.keys()
    assert all(len(reason.split()) > 7 for reason in WHY_SO_LONG.values())
