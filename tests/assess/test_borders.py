"""The judge's bands, on the border and just beside it: what is like, correctable, believable.

Bands: coolant 80 degC and 60 degC, zero -10 to +5 mbar, above +3 mbar suspect, repeat within
2 mbar, exhaust within 20 K (common practice, no source); speed 75 1/min, air 10 % and 18 %, exhaust
120 K, level 1 mbar and 2 %, two minutes' watch (workshop defaults).
"""

import ast
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from steplatch.runner.assess.comparability import each_phase, pairs, zero_pair
from steplatch.runner.assess.plateau import trend
from steplatch.runner.core.reading_set import Phase, ReadingCondition, ReadingSet
from steplatch.runner.core.typed_set import parse_set

from tests.assess import class_borders as of_classes
from tests.each import each


def said(condition: ReadingCondition, line: str, phase: Phase = "before") -> set[tuple[str, str]]:
    """Kind and id of what one set says by itself."""
    return {(f.kind, f.id) for f in each_phase([parse_set(line, condition, phase)])}


def together(one: str, two: str, condition: ReadingCondition = "idle") -> set[tuple[str, str]]:
    """Kind and id of what is said of a set before and one after."""
    before, after = parse_set(one, condition, "before"), parse_set(two, condition, "after")
    return {(f.kind, f.id) for f in pairs([before], [after])}


def coolant() -> None:
    for degc, cold, cool in (
        (59.9, True, False), (60, False, True), (79.9, False, True), (80, False, False),
        (86, False, False),
    ):  # fmt: skip
        found = said("idle", f"19 820 9.0 168 {degc} open")
        assert (("refused", "cold") in found) is cold, degc
        assert (("corrected", "cool") in found) is cool, degc
        bare = said("idle", f"19 820 x x {degc} open")
        assert (("refused", "cool") in bare) is cool, degc


def held_for() -> None:
    """Read after less than two minutes is compared wider, after less than half a minute not."""
    for seconds, kind in (
        (None, None), (29.9, "refused"), (30.0, "corrected"), (119.9, "corrected"), (120.0, None),
        (120.1, None),
    ):  # fmt: skip
        one = replace(parse_set("19 820 9.0 168 86 open", "idle", "before"), held_s=seconds)
        found = {f.kind for f in each_phase([one]) if f.id == "early"}
        assert found == ({kind} if kind else set()), seconds


def idle_against_raised() -> None:
    for raised, named in ((18.9, "falls"), (19, "frozen"), (19.1, None)):
        sets = [
            parse_set("19 820 9.0 168 86 open", "idle", "before"),
            parse_set(f"{raised} 2500 40 215 88 shut", "raised", "before"),
        ]
        found = {f.id for f in each_phase(sets)} & {"falls", "frozen"}
        assert found == ({named} if named else set()), raised


def zero_band() -> None:
    for mbar, named in (
        (-90, "zero_out"), (-10.1, "zero_out"), (-10, "zero"), (0, "zero"), (3, "zero"),
        (3.1, "zero_high"), (5, "zero_high"), (5.1, "zero_out"), (90, "zero_out"),
    ):  # fmt: skip
        found = said("zero", f"{mbar} 0 x x x x")
        kind = {"zero_out": "refused", "zero_high": "flag", "zero": "ok"}[named]
        assert found == {(kind, named)}, mbar
    for rpm, running in ((0, False), (1, True)):
        found = said("zero", f"0 {rpm} x x x x")
        assert (("refused", "zero_running") in found) is running, rpm


def zero_repeat() -> None:
    for after, moved in ((1.5, False), (2.5, False), (2.6, True), (-1.5, False), (-1.6, True)):
        one = parse_set("0.5 0 x x x x", "zero", "before")
        two = parse_set(f"{after} 0 x x x x", "zero", "after")
        assert ("zero_moved" in {f.id for f in zero_pair([one], [two])}) is moved, after


def like_speed() -> None:
    for rpm, unlike in ((820, False), (895, False), (896, True), (745, False), (744, True)):
        found = together("19 820 9.0 168 86 open", f"12 {rpm} 9.0 169 86 open")
        assert (("corrected", "speed") in found) is unlike, rpm
        bare = together("19 820 x 168 86 open", f"12 {rpm} x 169 86 open")
        assert (("refused", "speed") in bare) is unlike, rpm


def like_air() -> None:
    for g_s, unlike in ((10.0, False), (10.9, False), (11.1, True), (9.1, False), (8.9, True)):
        found = together("19 820 10.0 168 86 open", f"12 820 {g_s} 169 86 open")
        assert (("corrected", "air") in found) is unlike, g_s
    for g_s, changed in ((11.7, False), (11.9, True), (8.6, False), (8.4, True)):
        found = together("19 820 10.0 168 86 open", f"12 820 {g_s} 169 86 open")
        assert (("flag", "recirculation_changed") in found) is changed, g_s
    still = together("19 0 10.0 168 86 open", "12 820 12 169 86 open")
    assert ("flag", "recirculation_changed") in still, "no ratio to a standing engine"
    stood = together("19 820 10.0 168 86 open", "12 0 12 169 86 open")
    assert ("flag", "recirculation_changed") in stood
    for zero in ("0", "x"):  # no share of nothing
        found = together(f"19 820 {zero} 168 86 open", "12 820 9.0 169 86 open")
        assert not {name for _, name in found} & {"air", "recirculation_changed"}
        found = together("19 820 9.0 168 86 open", f"12 820 {zero} 169 86 open")
        assert not {name for _, name in found} & {"air", "recirculation_changed"}


def like_exhaust() -> None:
    for degc, named in (
        (188, None), (188.1, "exhaust"), (288, "exhaust"), (288.1, "exhaust_far"),
        (148, None), (147.9, "exhaust"), (48, "exhaust"), (47.9, "exhaust_far"),
    ):  # fmt: skip
        found = together("19 820 9.0 168 86 open", f"12 820 9.1 {degc} 86 open")
        names = {name for _, name in found} & {"exhaust", "exhaust_far"}
        assert names == ({named} if named else set()), degc


def copies() -> None:
    """The same to the last figure in three things shown at least; two alike may be chance."""
    line = "19 820 x 168 86 open"
    assert ("refused", "identical") in together(line, line)
    assert ("refused", "identical") not in together(line, "19 820 x 169 86 open")
    two = "19 820 x x 86 open"
    assert ("refused", "identical") not in together(two, two)


def line_names() -> None:
    def of(name: str, phase: Phase) -> ReadingSet:
        return parse_set("19 820 9 168 86 open", "idle", phase, line_name=name)

    for other, named in (("measured", False), ("calculated", True), ("", False)):
        found = {f.id for f in pairs([of("measured", "before")], [of(other, "after")])}
        assert ("line_name" in found) is named, other


Points = list[tuple[float, float]]


def why(points: Points, step_pa: float = 100.0) -> str:
    return trend(points, step_pa).why


def held(values: list[float], every_s: float = 60.0) -> Points:
    return [(i * every_s, p * 100.0) for i, p in enumerate(values)]


def state(points: Points) -> str:
    return trend(points, 100.0).state


def watch() -> None:
    """Five readings over two minutes are the least that is judged, both just enough."""
    fall = [(30.0 * i, 5000.0 - 500.0 * i) for i in range(5)]
    assert state(fall) == "falling"
    assert state([(40.0 * i, 5000.0 - 500.0 * i) for i in range(4)]) == "not_shown"
    assert state([(29.8 * i, p) for i, (_, p) in enumerate(fall)]) == "not_shown"
    twice = [(0.0, 5000.0), (60.0, 5000.0), (60.0, 5000.0), (120.0, 5000.0), (180.0, 5000.0)]
    assert state(twice) == "not_shown"
    back = [(0.0, 5000.0), (60.0, 5000.0), (50.0, 5000.0), (120.0, 5000.0), (180.0, 5000.0)]
    assert state(back) == "not_shown"


def still_falls() -> None:
    """A pressure with 8 mbar left to fall of 50 is falling; with nothing left it is level."""
    decay = [50 + 70 * math.exp(-m / 4) for m in range(40)]
    assert state(held([round(p) for p in decay[:9]])) == "falling"
    assert state(held([round(p) for p in decay])) == "levelled"
    straight = [90.0 - 0.6 * i for i in range(40)]
    assert state(held(straight, 15.0)) != "levelled"
    assert state(held([48.0 + 0.4 * i for i in range(20)], 15.0)) == "not_shown"
    saw = held([50.0 + (i % 2) for i in range(12)])
    assert state(saw) == "not_shown"


def not_yet_told() -> None:
    """Seen to fall or rise, or fallen at once: not level, though the end or the mean looks so."""
    assert state(held([70.0] + [50.0] * 11)) == "not_shown"
    assert why(held([70.0] + [50.0] * 30)) == "at_once"
    over = [50, 53, 56, 58, 60, 58, 56, 53, 50, 47, 44]
    assert state(held([float(p) for p in over])) != "levelled"
    up = [50 - 6 * math.sin(math.pi * i / 12) for i in range(15)]
    assert state(held(up)) == "not_shown"
    assert why(held([50.0 + 2 * m for m in range(12)])) == "rises"
    risen = [50 - 20 * math.exp(-m / 3) for m in range(30)]
    assert state(held(risen)) == "not_shown"
    unruly = [85, 70, 60, 52, 49, 51, 58, 59, 44, 40, 50, 41]  # about a level that nobody knows
    assert state(held([float(p) for p in unruly])) == "not_shown"
    exact = [(60.0 * m, 5000 + 7000 * math.exp(-m / 4)) for m in range(9)]
    assert trend(exact, 1.0).state == "falling"
    slow = [(60.0 * m, 5000 + 7000 * math.exp(-m / 120)) for m in range(90)]
    assert trend(slow, 1.0).state == "not_shown"
    assert why(slow, 1.0) == "slow"


def what_is_told() -> None:
    """Too few readings, or two at one time, are not weighed; a level one is not forecast."""
    few = trend([(0.0, 3000.0), (60.0, 2900.0)])
    assert (few.why, few.watched_s) == ("few", None)
    assert why([(0.0, 3000.0), (60.0, 2900.0), (60.0, 2890.0), (120.0, 2880.0)]) == "times"
    assert why([(30.0 * i, 3000.0) for i in range(16)]) == "steady"  # never seen to fall
    ended = trend([(30.0 * i, 3000 + 6000 * math.exp(-i / 3)) for i in range(48)])
    assert (ended.why, ended.to_go_min) == ("ended", None)


def about_now() -> None:
    """Likely level and so within two minutes is told; soon but not likely, or likely but nobody
    knows since when, is not."""

    def quick(height: float, count: int) -> Points:
        return [(30.0 * i, 100.0 * round(50 + height * math.exp(-i / 2))) for i in range(count)]

    assert (state(quick(40, 9)), why(quick(40, 9))) == ("levelled", "about_now")
    soon, likely = trend(quick(20, 8), 100.0), trend(quick(20, 11), 100.0)
    assert (soon.why, likely.why) == ("between", "between")
    assert soon.chance_about_now_share == pytest.approx(0.888, abs=0.02)
    assert likely.chance_level_share == pytest.approx(0.777, abs=0.02)


def bend_unseen() -> None:
    shelf = [(1200.0 * i, 9000.0) for i in range(6)]
    slide = [(1200.0 * (6 + i), p) for i, p in enumerate((5800.0, 5040.0, 5000.0, 5000.0))]
    assert why(shelf + slide) == "at_once"  # four readings of a fall show no bend


NUMERICS = frozenset({"_past_the_shelf", "fit_findings"})
"""Functions whose borders steer a fit or speak of one: ``test_plateau`` and ``test_resistance``
hold what comes out of it against published and simulated numbers."""
NEVER_MET = frozenset(
    {
        # both are equal: told as frozen just before
        "raised.pressure_pa < idle.pressure_pa -> raised.pressure_pa <= idle.pressure_pa",
        # a share of two typed flows is never the band to the last digit
        "abs(air_step) > BANDS.air_like_share -> abs(air_step) >= BANDS.air_like_share",
        "1 / most <= beside <= most -> 1 / most < beside <= most",
        "1 / most <= beside <= most -> 1 / most <= beside < most",
        # the root of a sum of squares is never 200 Pa to the last digit
        "spread(p.terms, 'pressure') > inputs.ZERO_PRIOR_PA.value -> "
        "spread(p.terms, 'pressure') >= inputs.ZERO_PRIOR_PA.value",
        # no air is refused before: what flows is above nil
        "mass > 0 -> True",
        "mass > 0 -> mass >= 0",
        # where both cannot be fitted together, the reason has refused the gain already
        "joint is not None -> True",
        # a share at its resolution of a thousandth is never the harmless layer's 0.3916
        "low_share > LAYER_HARMLESS_SHARE -> low_share >= LAYER_HARMLESS_SHARE",
        "high_share < LAYER_HARMLESS_SHARE -> high_share <= LAYER_HARMLESS_SHARE",
    }
)
"""Changes that no reading can tell, each with its reason."""
FITTED = frozenset({"runner/assess/plateau.py"})
"""A fitted number is never its border to the last digit: strict or not is all one."""
WHOLE = frozenset(
    {
        *("gain_class", "level_class", "code_class", "core_class", "_comparable", "_points"),
        *("_road", "_not_measured", "unexplained", "compare", "flow_point", "_air", "_exhaust"),
        *("triage", "_of_readings", "_gravest", "_expected", "ash_band", "_owner", "lines"),
        *("describe", "_agreement", "_offset_from_flow", "check_facts", "_number"),
    }
)
"""Functions that give a class: there every comparison is moved, not those by size alone."""
CHECKS: dict[str, tuple[Callable[[], None], ...]] = {
    "runner/assess/comparability.py": (
        coolant, held_for, idle_against_raised, zero_band, zero_repeat, like_speed, like_air,
        like_exhaust, copies, line_names,
    ),
    "runner/assess/plateau.py": (
        watch, still_falls, not_yet_told, what_is_told, about_now, bend_unseen,
    ),
    **of_classes.CHECKS,
}  # fmt: skip


@each("check", [c for of in CHECKS.values() for c in of], ids=lambda check: check.__name__)
def test_a_reading_is_in_its_class_on_the_border_and_beside_it(check: Callable[[], None]) -> None:
    check()


def test_the_functions_named_here_are_there() -> None:
    root = Path(__file__).parents[2]
    there = {
        node.name
        for file in CHECKS
        for node in ast.walk(ast.parse((root / file).read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef)
    }
    assert there >= NUMERICS | WHOLE
