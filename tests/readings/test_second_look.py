"""What is odd is asked about; what is ordinary is not."""

import pytest
from steplatch.runner.assess.plausibility import second_looks
from steplatch.runner.core.reading_set import ReadingSet
from steplatch.runner.core.typed_set import parse_set
from steplatch.safety.limits.inputs import VehicleInput, Workshop

VEHICLE = VehicleInput("2.0 L", 2e-3, 4, maker_rev_ceiling_rpm=2500.0)
WORKSHOP = Workshop("level ground")


def idle(text: str) -> ReadingSet:
    return parse_set(text, "idle", "before")


RAISED = parse_set("96 2500 40 215 88 shut", "raised", "before")
ZERO = parse_set("0.5 0 x 150 86 x", "zero", "before")
ORDINARY = idle("22 820 9.0 168 86 open")


@pytest.mark.parametrize("one", [RAISED, ZERO, ORDINARY, idle("9 790 12.5 140 84 shut")])
def test_an_ordinary_set_raises_no_question(one: ReadingSet) -> None:
    assert second_looks(one, VEHICLE, WORKSHOP) == []


def test_the_three_sets_of_the_trade_example_raise_no_question_together() -> None:
    sets = [RAISED, ORDINARY, ZERO]
    for one in sets:
        assert second_looks(one, VEHICLE, WORKSHOP, [s for s in sets if s is not one]) == []


@pytest.mark.parametrize(
    ("text", "asks"),
    [
        ("220 820 9.0 168 86 open", "ten"),
        ("22kPa 820 9.0 168 86 open", "ten"),
        ("2.2 820 9.0 168 86 open", "lets expect about"),
        ("22 820 32.4 168 86 open", "kg/h would fit"),
        ("22 820 0.9 168 86 open", "ten times more would fit"),
        ("22 1100 12 168 86 open", "fast idle"),
        ("22 2500 40 168 86 open", "exchanged"),
        ("22 82 9 168 86 open", "a figure missing"),
        ("22 820 9 168 71 open", "not warm"),
        ("22 820 9 334 86 open", "degF"),
        ("22 820 9 168 187 open", "degF"),
        ("22 820 9 86 168 open", "exchanged"),
        ("22 820 9 40 86 open", "floor value"),
        ("96 820 9 168 86 open", "frozen"),
        ("-22 820 9 168 86 open", "hoses swapped"),
        ("22 820 x 168 86 open", "should show air"),
        ("x 820 9 168 86 open", "no pressure"),
    ],
)
def test_an_odd_idle_set_is_asked_about(text: str, asks: str) -> None:
    questions = second_looks(idle(text), VEHICLE, WORKSHOP, [RAISED, ZERO])
    assert any(asks in q for q in questions), questions
    assert all(q.endswith("?") or "Read again later?" in q for q in questions)


def test_ten_exactly_at_raised_revs_may_be_a_substitute_value() -> None:
    # One maker substitutes 10 hPa on a sensor fault: common practice, no source.
    one = parse_set("10.0 2500 40 200 86 shut", "raised", "before")
    assert any("substitute" in q for q in second_looks(one, VEHICLE, WORKSHOP))


def test_a_zero_out_of_band_is_asked_about() -> None:
    for text, asks in (
        ("12 0 x 100 80 x", "outside -10 to +5"),
        ("10.0 0 x 100 80 x", "substitute"),
        ("1 820 x 100 80 x", "engine stopped"),
        ("1 0 9 100 80 x", "engine stopped"),
    ):
        one = parse_set(text, "zero", "before")
        assert any(asks in q for q in second_looks(one, VEHICLE, WORKSHOP)), text


def test_a_calculated_line_is_asked_about() -> None:
    one = parse_set("22 820 9 168 86 open", "idle", "before", line_name="DPF pressure, calculated")
    assert any("not the measured" in q for q in second_looks(one, VEHICLE, WORKSHOP))


def test_a_running_regeneration_is_asked_about() -> None:
    one = parse_set("22 820 9 168 86 open", "idle", "before", burning=True)
    assert any("regeneration is running" in q for q in second_looks(one, VEHICLE, WORKSHOP))


def test_a_copy_of_the_set_before_is_asked_about() -> None:
    after = parse_set("22 820 9.0 168 86 open", "idle", "after")
    assert any("copied" in q for q in second_looks(after, VEHICLE, WORKSHOP, [ORDINARY]))


def test_raised_revs_are_asked_about_when_hardly_raised_or_over_the_ceiling() -> None:
    low = parse_set("40 1100 16 200 86 shut", "raised", "before")
    high = parse_set("120 3000 50 220 86 shut", "raised", "before")
    assert any("hardly raised" in q for q in second_looks(low, VEHICLE, WORKSHOP))
    assert any("ceiling" in q for q in second_looks(high, VEHICLE, WORKSHOP))
