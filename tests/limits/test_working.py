"""A limit's rounding, the tightest figure, and plain values for the journal."""

import json
import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.limits import (
    Bound,
    Figure,
    Limit,
    LooserThanWorked,
    Unit,
    Working,
    choices,
    dml_down,
    dml_up,
    to_json,
    work_limits,
)
from steplatch.safety.limits.choices import DesignChoice
from steplatch.safety.limits.working import set_by_workshop, tenth, tightened

from tests.limits.cars import CLAIM, FLUID, GUN, USUAL, WORKSHOP


def limit(value: float, unit: Unit = Unit.M3, bound: Bound = Bound.AT_MOST) -> Limit:
    return Limit("thing", value, unit, bound, (Working("a line"),), "a source", "always")


@pytest.mark.parametrize(
    ("value", "unit", "bound", "whole"),
    [
        (15.99e-6, Unit.M3, Bound.AT_MOST, 15),
        (15e-6, Unit.M3, Bound.AT_MOST, 15),
        (373.15, Unit.K, Bound.AT_MOST, 100),
        (371.9, Unit.K, Bound.AT_MOST, 98),
        (2450.0, Unit.RPM, Bound.AT_MOST, 2450),
        (2300.2, Unit.RPM, Bound.AT_LEAST, 2301),
        (300.0, Unit.S, Bound.AT_LEAST, 300),
        (300.4, Unit.S, Bound.AT_LEAST, 301),
        (90.0, Unit.RATIO, Bound.AT_MOST, 90),
    ],
)
def test_whole_numbers_round_to_the_safe_side(
    value: float, unit: Unit, bound: Bound, whole: int
) -> None:
    assert limit(value, unit, bound).whole() == whole


def test_a_limit_is_shown_with_value_unit_and_source() -> None:
    assert limit(15.9e-6).shown() == "thing: at most 15 mL (a source)"
    assert limit(300.0, Unit.S, Bound.AT_LEAST).shown() == "thing: at least 300 s (a source)"


@given(st.floats(0.0, 1e-3))
def test_tenths_round_to_the_safe_side(volume: float) -> None:
    assert dml_down(volume) <= volume * 1e7 + 1e-5
    assert dml_up(volume) >= volume * 1e7 - 1e-5
    assert dml_up(volume) - dml_down(volume) <= 1


@given(st.integers(0, 10_000))
def test_a_whole_tenth_typed_by_a_person_stays_itself(dml: int) -> None:
    typed = dml / 10 * 1e-6
    assert dml_down(typed) == dml_up(typed) == dml


def test_the_tenth_shown_is_on_the_safe_side() -> None:
    assert tenth(limit(15.19e-6)) == 15.1
    assert tenth(limit(300.01, Unit.S, Bound.AT_LEAST)) == 300.1


@given(
    st.floats(1e-6, 1e-3),
    st.lists(st.one_of(st.none(), st.floats(0.0, 1e-3)), max_size=5),
    st.sampled_from(Bound),
)
def test_the_tightest_of_all_figures_wins(
    value: float, given_: list[float | None], bound: Bound
) -> None:
    figures = [Figure(f"maker {i}", figure) for i, figure in enumerate(given_)]
    narrowed = tightened(limit(value, bound=bound), figures)
    known = [figure for figure in given_ if figure is not None]
    pick = min if bound is Bound.AT_MOST else max
    assert narrowed.value == pick([value, *known])
    assert len(narrowed.lines) == 1 + len(known), "each figure given is named in the working"


@given(st.floats(1e-6, 1e-3), st.floats(0.0, 1e-3), st.sampled_from(Bound))
def test_a_workshop_figure_tightens_or_is_an_error(value: float, own: float, bound: Bound) -> None:
    base = limit(value, bound=bound)
    looser = own > value if bound is Bound.AT_MOST else own < value
    if looser:
        with pytest.raises(LooserThanWorked):
            set_by_workshop(base, Figure("workshop", own))
    else:
        assert set_by_workshop(base, Figure("workshop", own)).value == own


@pytest.mark.parametrize("bound", Bound)
def test_a_workshop_figure_equal_to_the_worked_one_is_not_looser(bound: Bound) -> None:
    base = limit(15e-6, bound=bound)
    same = set_by_workshop(base, Figure("workshop", 15e-6))
    assert same.value == base.value
    assert same.lines[-1] == "workshop gives 15 mL: not tighter, changes nothing"


def test_a_figure_that_is_no_number_is_named_in_si() -> None:
    with pytest.raises(ValueError, match="workshop gives thing as nan m3: give a finite value"):
        set_by_workshop(limit(15e-6), Figure("workshop", math.nan))


def test_no_workshop_figure_leaves_the_limit_as_it_is() -> None:
    base = limit(15e-6)
    assert set_by_workshop(base, Figure("workshop", None)) is base


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1e-6])
def test_a_figure_that_is_no_number_is_refused_naming_who_gave_it(bad: float) -> None:
    with pytest.raises(ValueError, match=r"vehicle maker gives thing as .*: give a finite value"):
        tightened(limit(15e-6), [Figure("vehicle maker", bad)])
    with pytest.raises(ValueError, match="workshop gives thing as"):
        set_by_workshop(limit(15e-6), Figure("workshop", bad))


def test_kernel_doses_are_whole_tenths_rounded_down() -> None:
    limits = work_limits(replace(USUAL, retained=CLAIM), FLUID, WORKSHOP, GUN)
    assert limits.kernel_dml() == (151, 350, 2990)


def test_all_limits_survive_json_with_their_working() -> None:
    for car in (USUAL, replace(USUAL, retained=CLAIM)):
        limits = work_limits(car, FLUID, WORKSHOP, GUN)
        plain = json.loads(json.dumps(to_json(limits), allow_nan=False))
        assert plain["dose_strict"]["whole"] == 15
        assert plain["dose_strict"]["lines"] == list(limits.dose_strict.lines)
        assert plain["kernel_dml"]["running"] == 2990
        assert (plain["dose_extended"] is None) == (limits.dose_extended is None)
        assert bool(plain["no_extended_because"]) == (limits.dose_extended is None)
        assert len(limits.all()) == (10 if limits.dose_extended is None else 11)


def test_each_limit_stands_in_the_record_with_all_that_it_needs_to_be_understood() -> None:
    limits = work_limits(replace(USUAL, retained=CLAIM), FLUID, WORKSHOP, GUN)
    plain = to_json(limits)
    assert plain["kernel_dml"] == {"strict": 151, "extended": 350, "running": 2990}
    assert plain.pop("no_extended_because") == limits.no_extended_because
    assert set(plain) - {"kernel_dml"} == {
        *("dose_strict", "dose_extended", "running_dose", "rev_ceiling", "raised_lower"),
        *("raised_upper", "exhaust_engine_off", "exhaust_running", "touch", "gloved", "soak"),
    }
    assert plain["touch"] == {
        "name": "bare metal for bare hands",
        "bound": "at most",
        "value": 322.15,
        "unit": "K",
        "whole": 49,
        "whole_unit": "degC",
        "lines": list(limits.touch.lines),
        "source": limits.touch.source,
        "validity": limits.touch.validity,
        "assumptions": [],
    }


def test_the_same_inputs_always_give_the_same_limits() -> None:
    first, second = (
        work_limits(replace(USUAL, retained=CLAIM), FLUID, WORKSHOP, GUN) for _ in range(2)
    )
    assert first == second and hash(first) == hash(second)


def test_every_design_choice_gives_its_reason() -> None:
    every = [value for value in vars(choices).values() if isinstance(value, DesignChoice)]
    assert len({choice.name for choice in every}) == len(every) > 10
    for choice in every:
        assert choice.why and choice.unit and math.isfinite(choice.value)
