"""Before and after are compared only when alike; what is unlike is corrected or refused."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from steplatch.runner.assess.compare import Comparison, compare
from steplatch.runner.assess.facts import check_facts
from steplatch.runner.core.reading_set import ReadingSet
from steplatch.runner.core.typed_set import parse_set

from tests.assess.sets import BEFORE, BETTER, GOOD_FACTS, SAME, VEHICLE, WORKSHOP, three


def compared(
    after: list[ReadingSet], before: list[ReadingSet] = BEFORE, **facts: object
) -> Comparison:
    return compare(before, after, VEHICLE, WORKSHOP, check_facts(GOOD_FACTS | facts))


def ids(result: Comparison, kind: str) -> set[str]:
    return {f.id for f in result.findings if f.kind == kind}


def test_like_sets_give_the_gain_with_its_interval() -> None:
    got = compared(BETTER)
    assert not got.refused and not got.flags and not got.corrected
    assert got.gain is not None
    # 96 -> 61 mbar at one flow, zero 0.5: (61 - 0.5) / (96 - 0.5) = 0.634 by hand.
    assert got.gain.percent == pytest.approx(36.6, abs=2.5)
    assert got.gain.low_percent < 36.6 < got.gain.high_percent
    assert got.gain.text().startswith(f"flows {got.gain.percent:.0f} % easier (")


def test_no_gain_is_called_no_difference() -> None:
    got = compared(SAME).gain
    assert got is not None and got.low_percent < 0 < got.high_percent
    assert got.text().startswith("no difference shown")


def test_another_speed_is_taken_out_by_the_sum_when_flow_was_measured() -> None:
    # 96 mbar at 40 g/s is, in proportion to the flow, 76 at 32 g/s: nothing has changed.
    slow = three("after", "77 2000 32 214 88 shut", "19 824 9.1 167 86 open")
    got = compared(slow)
    assert {"speed"} <= ids(got, "corrected")
    assert got.gain is not None and got.gain.low_percent < 0 < got.gain.high_percent


def test_another_speed_without_air_flow_is_refused() -> None:
    before = three("before", "96 2500 x 215 88 shut", None)
    after = three("after", "77 2000 x 214 88 shut", None)
    got = compared(after, before)
    assert "speed" in ids(got, "refused") and got.gain is None


def test_without_air_flow_equal_speed_still_compares_but_wider() -> None:
    before = three("before", "96 2500 x 215 88 shut", "19 820 x 168 86 shut")
    after = three("after", "61 2505 x 214 88 shut", "12.5 815 x 168 86 shut")
    got = compared(after, before)
    assert got.gain is not None
    full = compared(BETTER).gain
    assert full is not None
    assert got.gain.u_log_ratio_share >= full.u_log_ratio_share * 0.9
    assert got.gain.low_percent < 36.6 < got.gain.high_percent


def test_recirculation_that_changed_is_flagged_and_taken_out_by_measured_flow() -> None:
    # Valve shutting at idle: 9 -> 13 g/s, and the pressure 1.5 times with no change in the filter.
    after = three("after", "95 2490 40 213 88 shut", "28 820 13.2 168 86 shut")
    got = compared(after)
    assert "recirculation_changed" in ids(got, "flag")
    assert "recirculation" in ids(got, "corrected")
    assert got.gain is not None and got.gain.low_percent < 0 < got.gain.high_percent
    hidden = three("after", "95 2490 40 213 88 x", "28 820 13.2 168 86 x")
    assert "recirculation_changed" in ids(compared(hidden), "flag")


def test_recirculation_that_changed_without_air_flow_is_refused() -> None:
    before = three("before", "96 2500 x 215 88 shut", "19 820 x 168 86 open")
    after = three("after", "61 2500 x 215 88 shut", "20 820 x 168 86 shut")
    assert "recirculation" in ids(compared(after, before), "refused")


def test_a_colder_exhaust_is_corrected_and_a_far_colder_one_refused() -> None:
    got = compared(three("after", "57 2500 40 175 88 shut", "12.5 820 9.0 168 86 open"))
    assert "exhaust" in ids(got, "corrected")
    # 40 K colder: viscosity x temperature 0.86 of it, so 57 mbar is as 65 would be at 215 degC.
    assert got.gain is not None and got.gain.percent == pytest.approx(32, abs=3)
    far = compared(three("after", "57 2500 40 90 88 shut", "12.5 820 9.0 168 86 open"))
    assert "exhaust_far" in ids(far, "refused") and far.gain is None


Change = Callable[[ReadingSet], ReadingSet]


@pytest.mark.parametrize(
    ("change", "finding"),
    [
        (lambda s: replace(s, coolant_k=320.0), "cold"),
        (lambda s: replace(s, burning=True), "burning"),
        (lambda s: replace(s, pressure_pa=1000.0), "frozen"),
        (lambda s: replace(s, pressure_pa=-(s.pressure_pa or 0)), "falls"),
    ],
)
def test_sets_that_cannot_count_are_refused(change: Change, finding: str) -> None:
    got = compared([change(s) for s in BETTER])
    assert finding in ids(got, "refused")
    assert got.gain is None


def test_a_cool_engine_is_corrected_when_flow_and_heat_were_measured() -> None:
    cool = [replace(s, coolant_k=345.0) for s in BETTER]
    assert "cool" in ids(compared(cool), "corrected")
    blind = [replace(s, air_kg_s=None) if s.condition != "zero" else s for s in cool]
    assert "cool" in ids(compared(blind), "refused")


def test_a_set_that_was_read_too_early_is_compared_wider_or_not_at_all() -> None:
    """Two minutes, 30 s at the least: common practice, no source."""
    held = [replace(one, held_s=120.0) for one in BETTER]
    early = [replace(one, held_s=45.0) for one in BETTER]
    at_once = [replace(one, held_s=29.0) for one in BETTER]
    like, wider = compared(held), compared(early)
    assert like.gain == compared(BETTER).gain and "early" not in ids(like, "corrected")
    assert ids(wider, "corrected") == {"early"}
    assert "EARLY, read after 45 s" in wider.corrected[0].text
    assert like.gain is not None and wider.gain is not None
    assert wider.gain.high_percent - wider.gain.low_percent > (
        like.gain.high_percent - like.gain.low_percent + 1
    )
    assert ids(compared(at_once), "refused") == {"early"}
    assert compared(at_once).gain is None


def test_a_zero_out_of_band_is_refused_and_one_that_moved_is_flagged() -> None:
    assert "zero_out" in ids(compared(three("after", zero="7 0 x 150 86 x")), "refused")
    assert "zero_moved" in ids(compared(three("after", zero="3 0 x 150 86 x")), "flag")


def test_facts_refuse_and_flag() -> None:
    assert "wet" in ids(compared(BETTER, filter_dry="no"), "refused")
    assert "falling" in ids(compared(BETTER, plateau="falling"), "refused")
    assert "hose" in ids(compared(BETTER, hose_clear="no"), "refused")
    assert "loads" in ids(compared(BETTER, loads_off="no"), "flag")
    assert "level" in ids(compared(BETTER, car_level="no"), "flag")
    assert "dry_unknown" in ids(compared(BETTER, filter_dry="unknown"), "ok")


def test_sets_copied_from_before_are_refused() -> None:
    copied = [replace(s, phase="after") for s in BEFORE]
    assert "identical" in ids(compared(copied), "refused")


def test_before_and_after_swapped_is_flagged_by_the_wrong_sign() -> None:
    before = [replace(s, phase="before") for s in BETTER]
    after = [replace(s, phase="after") for s in BEFORE]
    got = compared(after, before)
    assert "wrong_sign" in ids(got, "flag")
    assert got.gain is not None and "harder" in got.gain.text()


def test_a_missing_phase_is_refused() -> None:
    assert "no_before" in ids(compared(BETTER, []), "refused")
    assert "no_after" in ids(compared([]), "refused")


def test_two_names_of_the_line_are_refused() -> None:
    named = [replace(s, line_name="pressure, measured") for s in BEFORE]
    other = [replace(s, line_name="pressure, calculated") for s in BETTER]
    assert "line_name" in ids(compared(other, named), "refused")


def test_only_raised_on_both_sides_still_compares() -> None:
    before = three("before", idle=None, zero=None)
    after = [parse_set("61 2500 40 215 88 shut", "raised", "after")]
    got = compared(after, before)
    assert got.gain is not None and got.gain.low_percent > 0
