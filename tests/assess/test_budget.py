"""The uncertainty budget lists what the interval is made of, no more and no less.

Form of the table: JCGM 100:2008 (GUM), Table H.1; its sums: 5.1.2 and 5.1.3, E.3.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest
from steplatch.runner.assess import told
from steplatch.runner.assess.budget import BudgetRow, budget
from steplatch.runner.assess.compare import compare
from steplatch.runner.assess.facts import check_facts
from steplatch.runner.assess.resistance import JointFit, joint_resistance
from steplatch.runner.assess.words import TERMS
from steplatch.runner.core.reading_set import ReadingSet
from steplatch.safety.limits.inputs import VehicleInput

from tests.assess.sets import BEFORE, BETTER, GOOD_FACTS, VEHICLE, WORKSHOP
from tests.assess.simulated_readings import draw, take

BARE = replace(VEHICLE, one_hose=True)


def fitted(
    before: Sequence[ReadingSet], after: Sequence[ReadingSet], vehicle: VehicleInput = VEHICLE
) -> JointFit:
    joint = joint_resistance([before, after], vehicle, WORKSHOP)
    assert isinstance(joint, JointFit)
    return joint


def log_ratio(
    before: Sequence[ReadingSet], after: Sequence[ReadingSet], vehicle: VehicleInput = VEHICLE
) -> float:
    return fitted(before, after, vehicle).log_ratio("after", "before")[0]


def rows(joint: JointFit) -> dict[str, BudgetRow]:
    return {row.id: row for row in budget(joint, "after", "before")}


def stripped(sets: Sequence[ReadingSet], *names: str) -> list[ReadingSet]:
    return [replace(one, **dict.fromkeys(names)) for one in sets if one.condition != "zero"]


@pytest.mark.parametrize("vehicle", [VEHICLE, BARE])
@pytest.mark.parametrize("names", [(), ("exhaust_k",), ("air_kg_s", "recirculation")])
def test_the_squares_of_the_contributions_add_up_to_what_the_interval_uses(
    vehicle: VehicleInput, names: tuple[str, ...]
) -> None:
    before, after = (stripped(s, *names) if names else list(s) for s in (BEFORE, BETTER))
    joint = fitted(before, after, vehicle)
    found = budget(joint, "after", "before")
    u = joint.log_ratio("after", "before")[1]
    percent = math.sqrt(math.fsum(row.contribution_percent**2 for row in found))
    assert percent / 100 == pytest.approx(u, rel=1e-9)
    assert math.fsum(row.part_share for row in found) == pytest.approx(1.0, abs=1e-12)
    assert {row.id for row in found} <= set(TERMS)


def test_it_adds_up_in_simulated_cases_and_the_recorded_rows_to_their_figures() -> None:
    for seed in range(12):
        case = take(draw(seed))
        facts = check_facts(GOOD_FACTS)
        gain = compare(case.before, case.after, case.vehicle, case.workshop, facts).gain
        assert gain is not None
        # Each row is rounded to 0.1 %: the root of a sum of up to fifteen by 0.2 % at the most.
        percent = math.sqrt(sum(row.contribution_percent**2 for row in gain.budget))
        assert percent == pytest.approx(100 * gain.u_log_ratio_share, abs=0.2), seed


@pytest.mark.parametrize(
    ("term", "condition", "phase", "shift"),
    [
        ("reading", "idle", "after", {"pressure_pa": 40.0}),
        ("reading", "zero", "before", {"pressure_pa": 40.0}),
        ("exhaust", "raised", "after", {"exhaust_k": 10.0}),
        ("air", "raised", "before", {"air_kg_s": 0.025}),
    ],
)
def test_a_sensitivity_is_what_comes_of_a_shifted_reading(
    term: str, condition: str, phase: str, shift: dict[str, float]
) -> None:
    """Readings shifted and fitted anew, no sum of the budget used (GUM, 5.1.3, note 2)."""
    step = 1e-3

    def moved(sets: Sequence[ReadingSet], name: str, sign: float) -> list[ReadingSet]:
        out = []
        for one in sets:
            if (one.condition, name) == (condition, phase):
                ((key, by),) = shift.items()
                now = getattr(one, key)
                by = by * now if key == "air_kg_s" else by
                one = replace(one, **{key: now + sign * step * by})
            out.append(one)
        return out

    up, down = (
        log_ratio(moved(BEFORE, "before", sign), moved(BETTER, "after", sign)) for sign in (1, -1)
    )
    effect = (up - down) / (2 * step)
    joint = fitted(BEFORE, BETTER)
    at = next(
        i
        for i, p in enumerate(joint.points)
        if (p.condition, joint.phases[joint.line[i]].phase) == (condition, phase)
    )
    mine = next(t for t in joint.points[at].terms if t.id == term)
    alone = replace(
        joint,
        points=tuple(
            replace(p, terms=(mine,) if i == at else ()) for i, p in enumerate(joint.points)
        ),
    )
    (row,) = budget(alone, "after", "before")
    assert row.contribution_percent / 100 == pytest.approx(abs(effect), rel=0.03)


def test_what_is_alike_both_times_cancels_and_what_is_not_counts() -> None:
    found = rows(fitted(BEFORE, BETTER))
    assert found["air_scale"].u_in_unit == 4.0 and found["air_scale"].contribution_percent < 0.1
    assert found["air"].contribution_percent > 2.0
    unread = rows(fitted(stripped(BEFORE, "exhaust_k"), stripped(BETTER, "exhaust_k")))
    assert unread["exhaust_visit"].contribution_percent > 5.0
    assert unread["exhaust_assumed_bias"].contribution_percent < 1.0
    assert unread["zero_unread"].u_in_unit == 2.0


def test_the_table_for_people_is_sorted_and_names_the_interval() -> None:
    gain = compare(BEFORE, BETTER, VEHICLE, WORKSHOP, check_facts(GOOD_FACTS)).gain
    assert gain is not None
    plain = {
        "budget": [
            {n: getattr(row, n) for n in BudgetRow.__slots__} for row in gain.budget
        ],
        "u_log_ratio_share": gain.u_log_ratio_share,
        "ratio_share": gain.ratio_share,
        "low_percent": gain.low_percent,
        "high_percent": gain.high_percent,
    }  # fmt: skip
    table = told.budget_rows(plain)
    assert table[0][0] == TERMS["exhaust"] and table[0][1:3] == ("10", "K")
    parts = [float(row[4]) for row in table]
    assert parts == sorted(parts, reverse=True)
    assert f"{gain.low_percent:.0f} to {gain.high_percent:.0f} %" in told.budget_sum(plain)
