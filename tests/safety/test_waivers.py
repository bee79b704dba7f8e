"""What another person may waive, and that no waiver reaches what keeps people or engines whole."""

from collections.abc import Iterator
from dataclasses import replace

import pytest
from steplatch.safety.bay import Act, Bay, Codes, Evidence
from steplatch.safety.interlocks import INTERLOCKS, QUALITY, WAIVABLE, Ask, Is
from steplatch.safety.interlocks.language import row
from steplatch.safety.kernel import permit
from steplatch.safety.verify.cone_of_influence import close, weakened_rows
from steplatch.safety.verify.kernel_model import LIMITS
from steplatch.safety.verify.kernel_proof import gaps, prove_belief, told
from steplatch.safety.verify.monitors import need_monitors
from steplatch.safety.verify.needs import Needs
from steplatch.safety.verify.observers import Observer

from tests.each import each
from tests.safety.ready_bays import ASKED, NAMED

EVERYTHING = frozenset(r.id for r in INTERLOCKS)
KEPT = tuple(r for r in INTERLOCKS if not r.waivable)
MONITORS = need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
OBSERVERS: dict[str, Observer] = {
    "+".join(observer.facts): observer for m in MONITORS for observer in m.observers
}


def refused(bay: Bay, ask: Ask, waived: frozenset[str] = frozenset()) -> list[str]:
    return [r.interlock for r in permit(bay, ask, LIMITS, waived=waived)]


def test_the_rows_that_may_be_waived_are_these_and_no_others() -> None:
    assert {"codes-saved-first", "codes-after-readings"} == WAIVABLE


def test_no_row_behind_an_invariant_is_waivable_and_none_can_be_written_so() -> None:
    assert {r.id for r in INTERLOCKS if r.invariant == QUALITY} == WAIVABLE
    for invariant in range(1, 11):
        with pytest.raises(ValueError, match=f"serves invariant {invariant}"):
            row("x", (Act.START,), Is("codes", (Codes.SAVED,)), "r", "r", "s", invariant, True)


def test_one_waiver_lifts_one_row_and_leaves_the_other() -> None:
    ready, ask = NAMED["clear_codes"]
    bare = replace(ready, codes=Codes.UNKNOWN, after=Evidence.UNKNOWN)
    assert refused(bare, ask) == ["codes-saved-first", "codes-after-readings"]
    assert refused(bare, ask, frozenset({"codes-saved-first"})) == ["codes-after-readings"]
    assert refused(bare, ask, frozenset({"codes-after-readings"})) == ["codes-saved-first"]
    assert refused(bare, ask, WAIVABLE) == []


def around_every_ready_bay() -> Iterator[tuple[Bay, Ask]]:
    for bay, ask in NAMED.values():
        yield Bay(), ask
        for other in NAMED.values():
            yield other[0], ask
        yield bay, ask
    for bay, ask, _ in ASKED:
        yield bay, ask


def test_naming_every_row_in_a_waiver_lifts_no_row_that_has_none() -> None:
    lifted = set()
    for bay, ask in around_every_ready_bay():
        before, after = refused(bay, ask), refused(bay, ask, EVERYTHING)
        assert after == [name for name in before if name not in WAIVABLE]
        lifted |= set(before) - set(after)
        assert refused(bay, ask, EVERYTHING - WAIVABLE) == before
    assert lifted == WAIVABLE


def test_a_waiver_for_a_name_that_is_no_row_changes_nothing() -> None:
    assert refused(Bay(), Ask(Act.CLEAR_CODES), frozenset({"codes", "", "*", "all"})) == refused(
        Bay(), Ask(Act.CLEAR_CODES)
    )


@each("needs", [m for m in MONITORS if m.invariant != QUALITY], ids=lambda m: m.name)
def test_with_every_waivable_row_gone_what_is_permitted_still_meets_each_invariant(
    needs: Needs,
) -> None:
    assert next(gaps(needs, KEPT), None) is None


def test_with_every_waivable_row_gone_every_known_fact_is_still_true() -> None:
    """Where an observer's cone holds no waivable row, its proof is the very same; else it runs."""
    again = 0
    for observer in OBSERVERS.values():
        cone = close(observer.facts)
        if weakened_rows(INTERLOCKS, cone) == weakened_rows(KEPT, cone):
            continue
        again += 1
        _, found = prove_belief(observer, KEPT)
        assert not found.breaches, told(found.breaches[0])
    assert again == 3  # codes, codes+release_check, after


@pytest.mark.parametrize("name", sorted(WAIVABLE))
def test_without_a_waivable_row_only_its_own_monitor_of_the_record_breaks(name: str) -> None:
    rows = tuple(r for r in INTERLOCKS if r.id != name)
    broken = [m for m in MONITORS if next(gaps(m, rows), None) is not None]
    assert [m.invariant for m in broken] == [QUALITY]
