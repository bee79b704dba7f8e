"""Checks of the judge's classes on their borders and beside them.

``test_borders`` runs them; the mutation of borders asks that each moved comparison breaks one.

Limits are the workshop defaults that stand beside them in the code, with their sources there.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from unittest.mock import patch

import pytest
from steplatch.runner.assess import codes as code_table
from steplatch.runner.assess import compare as comparing
from steplatch.runner.assess import flow, judge, resistance, triage
from steplatch.runner.assess.comparability import ComparabilityFinding
from steplatch.runner.assess.compare import Comparison, Gain, compare
from steplatch.runner.assess.facts import BadFact, check_facts
from steplatch.runner.assess.flow import FlowPoint, NoPressure, flow_point
from steplatch.runner.assess.remains import AshBand, CleanBand, ash_band
from steplatch.runner.assess.resistance import NoResistance, Resistance
from steplatch.runner.assess.tables import load_table
from steplatch.runner.assess.terms import Term
from steplatch.runner.core.reading_set import ReadingSet
from steplatch.runner.core.typed_set import parse_set
from steplatch.runner.input.resolution import Numbers

from tests.assess.sets import BEFORE, BETTER, GOOD_FACTS, NORMAL, SAME, VEHICLE, WORKSHOP, three

# -- gains, levels, codes, the core -------------------------------------------------------------

BAND = CleanBand(20.0, 30.0, 50.0, 10.0, ())


def of_gain(apart: float, high: float = 9.0) -> Gain:
    """A gain that lies so many standard uncertainties from nil."""
    return Gain(5.0, 1.0, high, math.exp(-0.1 * apart), 0.1)


def ways() -> None:
    """A resistance has changed where its ratio lies 2.4 standard uncertainties from one."""
    for apart, named in (
        (2.41, "easier"), (2.39, "neither"), (0.0, "neither"), (-2.39, "neither"),
        (-2.41, "harder"), (9.0, "easier"), (-9.0, "harder"),
    ):  # fmt: skip
        assert resistance.way(math.exp(-0.1 * apart), 0.1) == named, apart
    assert resistance.way(1.0, 0.0) == "neither", "nil is no change, however sure"


def gain_classes() -> None:
    """A gain that is not shown and ends under 20 % is none worth the name."""
    for apart, high, named in (
        (2.41, 9.0, "better"), (2.39, 9.0, "same"), (0.0, 19.9, "same"), (0.0, 20.0, "unclear"),
        (2.39, 20.1, "unclear"), (-2.39, 9.0, "same"), (-2.41, 9.0, "worse"), (9.0, 50.0, "better"),
        (-2.41, 20.1, "worse"),
    ):  # fmt: skip
        assert judge.gain_class(of_gain(apart, high)) == named, (apart, high)
    assert judge.gain_class(None) == "unknown"


def at_level(middle: float, wide: float, one_hose: bool = False) -> str:
    """The class of a resistance from ``middle - wide`` to ``middle + wide``, mbar."""
    fitted = resistance.resistance(NORMAL, VEHICLE, WORKSHOP)
    assert isinstance(fitted, Resistance)
    u = wide / resistance.COVERAGE
    assert resistance.COVERAGE * u == wide, "else nothing here stands on a border"
    one = replace(fitted, at_reference_mbar=middle, u_at_reference_mbar=u)
    return judge.level_class(one, BAND, replace(VEHICLE, one_hose=one_hose))


def levels() -> None:
    """Damage is suspected under 10 mbar, and up to 50 mbar is as expected; half a band is none."""
    for middle, wide, named in (
        (9.9, 0.0, "low"), (10.0, 0.0, "expected"), (50.0, 0.0, "expected"), (50.1, 0.0, "above"),
        (29.5, 20.5, "near_low"), (30.0, 20.0, "expected"), (30.5, 20.5, "near"),
        (60.0, 10.0, "near"), (61.0, 10.0, "above"), (40.0, 30.0, "near"), (40.0, 31.0, "unknown"),
        (5.0, 5.0, "near_low"), (4.0, 5.0, "low"),
    ):  # fmt: skip
        assert at_level(middle, wide) == named, (middle, wide)
        assert at_level(middle, wide, one_hose=True) == "unknown"
    assert judge.level_class(None, BAND, VEHICLE) == "unknown"


def codes_against_the_level() -> None:
    """P2463 stands for a pressure too high, P2002 for one too low, P2459 for neither."""
    for given, level, named in (
        ([], "above", "none"), (["P2459"], "above", "none"), (["P1234"], "above", "none"),
        (["P2463"], "above", "fit"), (["P2463"], "low", "contradict"),
        (["P2463"], "near_low", "contradict"), (["P2463"], "expected", "fit"),
        (["P2002"], "above", "contradict"), (["P2002"], "low", "low_side"),
        (["P2002"], "near", "low_side"), (["P2002", "P2463"], "above", "low_side"),
        (["P2002", "P2463"], "low", "low_side"),
    ):  # fmt: skip
        assert judge.code_class(check_facts({"codes": given}), level) == named, (given, level)


def looks_of_the_core() -> None:
    for seen, named in (
        ("no_sign", "no_sign"), ("outlet_soot", "suspect"), ("rattle", "suspect"),
        ("cracked", "broken"), ("melted", "broken"), ("missing", "broken"), ("unknown", "unknown"),
    ):  # fmt: skip
        assert judge.core_class(check_facts({"core_condition": seen})) == named


def verdict_facts(
    after: list[ReadingSet], road: list[ReadingSet] | None = None, **facts: object
) -> dict[str, str]:
    found = judge.judge(BEFORE, after, road, VEHICLE, WORKSHOP, GOOD_FACTS | facts)
    return dict(found.facts) | {"missed": " ".join(found.not_measured), "counts": found.counts}


def after_the_road() -> None:
    """A gain on the road that is not shown only confirms; the other way round it is worse."""
    road = three("road", "20.5 2500 40 220 89 shut", "4.6 820 9.0 170 88 open")
    for apart, named, counts in (
        (-2.41, "worse", "after"), (-2.39, "confirms", "after"),
        (2.39, "confirms", "after"), (2.41, "drier", "road"),
    ):  # fmt: skip
        gain = of_gain(apart)
        with patch.object(judge, "gain_between", lambda *_, g=gain: g):
            found = verdict_facts(NORMAL, road, filter_dry="unknown")
        assert (found["road"], found["counts"]) == (named, counts), apart
        assert found["dry"] == ("unknown" if named == "worse" else "yes")
    with patch.object(judge, "gain_between", lambda *_: None):
        assert verdict_facts(NORMAL, road)["road"] == "none"
    assert verdict_facts(NORMAL)["road"] == "none"


def what_the_verdict_sees() -> None:
    good = verdict_facts(NORMAL)
    assert (good["comparable"], good["points"], good["look"]) == ("yes", "agree", "none")
    assert good["missed"] == "road"
    off = three("after", "21 2510 40 210 88 shut", "4.7 950 9.1 165 86 open")
    assert verdict_facts(off)["comparable"] == "corrected", "130 1/min faster, the air measured"
    cold = verdict_facts(three("after", "21 2510 40 210 50 shut", "4.7 815 9.1 165 50 open"))
    assert cold["comparable"] == "no"
    alike = BETTER
    assert verdict_facts(alike)["comparable"] == "yes"
    bare = three("after", "61 2500 40 215 88 shut", None, None)
    found = verdict_facts(bare)
    assert found["points"] == "cannot_tell" and "zero_after idle_after" in found["missed"]
    assert "air_kg_s" in verdict_facts(three("after", "61 2500 x 215 88 shut"))["missed"]
    apart = verdict_facts(three("after", "61 2500 40 215 88 shut", "22 820 9 168 86 open"))
    assert apart["points"] == "disagree"
    assert verdict_facts([])["points"] == "agree", "of what was read before alone"
    told = [ComparabilityFinding("flag", name) for name in ("zero_moved", "disagree", "copied")]
    fitted = resistance.resistance(NORMAL, VEHICLE, WORKSHOP)
    assert isinstance(fitted, Resistance) and fitted.agreement == "agree"
    apart_fit = replace(fitted, agreement="disagree")
    for one, gain, held_up in (
        (fitted, of_gain(9), ["copied"]), (fitted, None, ["zero_moved", "copied"]),
        (apart_fit, of_gain(9), ["zero_moved", "copied"]),
    ):  # fmt: skip
        both = Comparison(tuple(told), one, one, gain, {}, {})
        assert judge.unexplained(both) == held_up, "a moved zero is taken out by the sum"


def a_gain_of_the_wrong_sign() -> None:
    known = check_facts(GOOD_FACTS)
    for high, wrong in ((0.1, False), (0.0, False), (-0.1, True)):
        gain = of_gain(-2.0, high)
        with patch.object(comparing, "_gain", lambda *_, g=gain: g):
            found = compare(BEFORE, SAME, VEHICLE, WORKSHOP, known)
        assert ("wrong_sign" in {f.id for f in found.flags}) is wrong, high
        assert found.gain is not None
    good = compare(BEFORE, BETTER, VEHICLE, WORKSHOP, known)
    assert good.together and not good.alone and good.gain is not None
    apart = three("after", "61 2500 40 215 88 shut", "22 820 9 168 86 open")
    found = compare(BEFORE, apart, VEHICLE, WORKSHOP, known)
    assert "disagree" in {f.id for f in found.flags} and found.gain is not None
    cold = three("after", "61 2500 40 215 50 shut", "12.5 820 9.0 168 50 open")
    found = compare(BEFORE, cold, VEHICLE, WORKSHOP, known)
    assert found.gain is None and found.refused and found.together
    refused = compare(BEFORE, [], VEHICLE, WORKSHOP, known)
    assert refused.gain is None and "no_after" in {f.id for f in refused.refused}
    idle_only = [s for s in BETTER if s.condition == "zero"]
    found = compare(BEFORE, idle_only, VEHICLE, WORKSHOP, known)
    assert "no_after" in {f.id for f in found.refused} and found.after is None
    assert "no_before" not in {f.id for f in found.refused} and found.before is not None


# -- flows and fits -----------------------------------------------------------------------------


def flows() -> None:
    """No air, or no revs without an air flow, is no flow; a hair more is one."""
    for line, why in (
        ("19 820 0 168 86 open", "no_air"), ("19 820 0.1 168 86 open", ""),
        ("19 0 x 168 86 open", "no_flow"), ("19 1 x 168 86 open", ""),
        ("19 x x 168 86 open", "no_flow"), ("x 820 9 168 86 open", "no_pressure"),
    ):  # fmt: skip
        try:
            found = flow_point(parse_set(line, "idle", "before"), VEHICLE, WORKSHOP)
        except NoPressure as error:
            assert str(error) == why, line
        else:
            assert not why and found.share > 0, line
    zero = flow_point(parse_set("0.5 0 x x x x", "zero", "before"), VEHICLE, WORKSHOP)
    assert (zero.share, zero.basis) == (0, "none")
    bare = parse_set("19 820 x 168 86 open", "idle", "before")
    half = flow_point(replace(bare, manifold_pa=5e4), VEHICLE, WORKSHOP)
    alone = flow_point(replace(bare, manifold_pa=None), VEHICLE, WORKSHOP)
    warm = flow_point(replace(bare, manifold_pa=5e4, intake_k=350.0), VEHICLE, WORKSHOP)
    assert (half.basis, alone.basis) == ("manifold_pressure", "engine_speed_only")
    assert warm.air_kg_s < half.air_kg_s < 0.6 * alone.air_kg_s, "as the charge is dense"
    unread = [term.id for term in alone.terms if term.id not in {t.id for t in half.terms}]
    assert unread == ["manifold"], "less is known of a charge that is not read"
    read, assumed = (
        flow_point(parse_set(f"19 820 9.0 {degc} 86 open", "idle", "before"), VEHICLE, WORKSHOP)
        for degc in ("168", "x")
    )
    bias = [[t.moves for t in one.terms if t.shared == "heat"] for one in (read, assumed)]
    assert 0 < bias[0][0] < bias[1][0]
    visits = [[t.u for t in one.terms if t.shared == "visit before"] for one in (read, assumed)]
    assert visits == [[], [35.0]]
    hot = {
        seconds: flow_point(replace(bare, held_s=seconds), VEHICLE, WORKSHOP)
        for seconds in (None, 0.0, 119.9, 120.0, 120.1)
    }
    early = [s for s, one in hot.items() if "exhaust_early" in {t.id for t in one.terms}]
    assert early == [0.0, 119.9], "an exhaust that was not held for two minutes is known less"
    whole, tenth = (
        flow.typed_step_pa(parse_set(f"{mbar} 820 9.0 168 86 open", "idle", "before"))
        for mbar in ("19", "19.0")
    )
    assert whole == pytest.approx(100.0) and tenth == pytest.approx(10.0)


def a_line_that_does_not_rise() -> None:
    for raised, idle, why in (("0", "0", "not_rising"), ("-9", "-2", "not_rising"), ("9", "2", "")):
        sets = three(
            "before", f"{raised} 2500 40 215 88 shut", f"{idle} 820 9 168 86 open", "0 0 x x x x"
        )
        found = resistance.resistance(sets, VEHICLE, WORKSHOP)
        assert (found.why if isinstance(found, NoResistance) else "") == why, raised


def coarse_zero() -> None:
    """A zero that says less than what is known of any sensor leaves that standing beside it: its
    spread is 0.4 mbar and the step over root twelve, that of a sensor 2 mbar."""
    border = math.sqrt(12 * (2.0**2 - 0.4**2)) * 100
    for step_pa, both in ((100.0, False), (border - 1, False), (border + 1, True), (1e3, True)):
        car = replace(VEHICLE, sensor_step_pa=step_pa)
        found = resistance.resistance(NORMAL, car, WORKSHOP)
        assert isinstance(found, Resistance) and found.zero_read
        assert ([p.condition for p in found.points].count("zero") == 2) is both, step_pa


def agreement() -> None:
    """Points that would lie so by chance once in a hundred times, or oftener, agree."""
    for chance, zero_read, named in (
        (0.009, True, "disagree"), (0.01, True, "agree"), (0.5, True, "agree"),
        (0.5, False, "cannot_tell"), (None, True, "cannot_tell"),
    ):  # fmt: skip
        assert resistance._agreement(chance, zero_read) == named, chance


def flows_apart() -> None:
    """Two flows less than a hundredth apart say nothing of the pressure without flow."""
    fitted = resistance.resistance(BEFORE, VEHICLE, WORKSHOP)
    assert isinstance(fitted, Resistance)
    point = fitted.points[0]
    zero = FlowPoint("zero", "before", 900.0, (Term("reading", "mbar", 0.1, "pressure", 100.0),))
    scatter = Term("reading", "mbar", 0.5, "pressure", 100.0)
    own = [zero] + [
        FlowPoint(
            "idle", "before", pressure, (scatter, Term("air", "percent", 1.0, "flow", share / 100)),
            share=share,
        )
        for pressure, share in ((500.0, 0.1), (900.0, 0.2))
    ]  # fmt: skip
    for apart, told in ((0.009, False), (0.01, True), (0.5, True)):
        results = [replace(point, condition="idle", flow_share=f) for f in (0.0, apart)]
        found, _ = resistance._offset_from_flow(own, results, Numbers())
        assert found == (pytest.approx(1.0, abs=0.1) if told else None), apart
    still = replace(point, condition="zero", flow_share=0.0)
    same = [still, *(replace(point, condition="idle", flow_share=0.3) for _ in range(2))]
    assert resistance._offset_from_flow(own, same, Numbers()) == (None, None)


# -- what remains, answers, triage --------------------------------------------------------------


def ash(**given: object) -> AshBand:
    found = ash_band(VEHICLE, check_facts(given))
    assert found is not None
    return found


def ash_said() -> None:
    assert ash(distance_km=9, ash_distance_km=5).distance_km == 5
    assert ash(distance_km=9).distance_km == 9 and ash(ash_distance_km=5).distance_km == 5
    assert ash_band(VEHICLE, check_facts({"age_years": 3})) is None
    for years, named in ((10, False), (10.1, True), (9.9, False), (30, True)):
        assert ("old" in ash(distance_km=100_000, age_years=years).said) is named, years
    for km, named in ((30_000, False), (30_001, True), (29_999, False), (90_000, True)):
        found = ash(distance_km=km, age_years=1, duty="motorway")
        assert ("young" in found.said) is named, km
    for duty, said in (("town", ["town"]), ("mixed", []), ("unknown", ["duty_unknown"])):
        assert list(ash(distance_km=90_000, age_years=3, duty=duty).said) == said
    assert "young" not in ash(distance_km=90_000, age_years=1, duty="mixed").said
    assert "age_unknown" in ash(distance_km=90_000, duty="mixed").said
    assert not {"old", "age_unknown"} & set(ash(distance_km=90_000, age_years=0).said)


def ash_states() -> None:
    """High where even the least of it is beyond the harmless layer, low where the most is not."""
    worn = replace(VEHICLE, oil_l_per_1000_km=1.0, oil_sulphated_ash=0.016)
    for vehicle, km, state in (
        (VEHICLE, 20_000, "low"), (VEHICLE, 200_000, "unknown"), (worn, 400_000, "high"),
        (worn, 5_000, "low"), (worn, 100_000, "unknown"),
    ):  # fmt: skip
        given = check_facts({"distance_km": km, "age_years": 5, "duty": "mixed"})
        found = ash_band(vehicle, given)
        assert found is not None and found.state == state, (km, found)


def refuses(taking: Callable[..., object], given: object) -> bool:
    try:
        taking(given)
    except (BadFact, code_table.BadCode):
        return True
    return False


def numbers_of_answers() -> None:
    for years, ok in ((0, True), (-0.1, False), (60, True), (60.1, False), (7, True)):
        try:
            assert check_facts({"age_years": years}).number("age_years") == years and ok
        except BadFact:
            assert not ok, years
    found = check_facts({"burning": "no", "codes": ["P2002"], "filter_dry": True})
    assert (found.get("burning"), found.get("filter_dry")) == ("no", "yes")
    assert [code.code for code in found.codes] == ["P2002"]
    for wrong in ({"burning": "often"}, {"burn": "no"}, {"codes": "P2002"}, {"age_years": True}):
        assert refuses(check_facts, wrong), wrong


def grounds(
    sets: list[ReadingSet] = BEFORE, vehicle: object = VEHICLE, **facts: object
) -> set[str]:
    found = triage.triage(sets, vehicle, WORKSHOP, GOOD_FACTS | facts)  # type: ignore[arg-type]
    return {r.id for r in found.reasons} | {f"={found.state}"}


def triage_grounds() -> None:
    assert grounds() == {"=go"}
    assert {"code_blocks", "=dont"} <= grounds(codes=["P2453"])
    assert {"code_asks", "=warn"} <= grounds(codes=["P2459"]) - {"code_blocks"}
    assert "code_blocks" not in grounds(codes=["P2459"])
    assert "code_asks" not in grounds(codes=["P2463"]), "a code that is only worth knowing"
    assert triage._expected(None, BAND, VEHICLE) is None
    assert {"ash_code", "=warn"} <= grounds(codes=["P242F"])
    assert "ash_code" not in grounds(codes=["P2459"])
    urea = replace(VEHICLE, urea_after_filter=True)
    assert "coating_unknown" in grounds(vehicle=urea)
    assert "coating_unknown" not in grounds(vehicle=urea, coating="approved")
    assert grounds([]) >= {"=dont"}
    burning = [replace(s, burning=True) for s in BEFORE]
    assert (
        sum(
            1
            for r in triage.triage(burning, VEHICLE, WORKSHOP, GOOD_FACTS).reasons
            if r.id == "burning"
        )
        == 1
    )
    high = three("before", zero="4.0 0 x x x x")
    assert {"zero_high", "=warn"} <= grounds(high)
    cold = three("before", "96 2500 40 215 50 shut", "19 820 9 168 50 open")
    assert {"cold", "=dont"} <= grounds(cold)
    assert "air" not in grounds() and "zero" not in grounds(), "what is in order is no reason"
    for found, expected in ((BEFORE, True), ([], False)):
        assert (
            triage.triage(found, VEHICLE, WORKSHOP, GOOD_FACTS).expected is not None
        ) is expected
    for facts, given in (({"root_cause": "open"}, True), ({"fuel": "other"}, False)):
        decided = triage.triage(BEFORE, VEHICLE, WORKSHOP, GOOD_FACTS | facts)
        assert (decided.expected is not None) is given
    normal = [replace(s, phase="before") for s in NORMAL]
    nothing = triage.triage(normal, VEHICLE, WORKSHOP, GOOD_FACTS | {"soot_model": "normal"})
    assert nothing.state == "nothing" and nothing.expected is None
    open_cause = triage.triage(BEFORE, VEHICLE, WORKSHOP, GOOD_FACTS | {"root_cause": "open"})
    assert open_cause.warnings and not nothing.warnings


def owners_of_codes() -> None:
    """Who gives a code its meaning: SAE J2012 (U3 standard: from memory)."""
    for code, owner in (
        ("P0401", "standard"), ("P1234", "maker"), ("P1400", "maker"), ("P2002", "standard"),
        ("P3000", "maker"),
        ("P3399", "maker"), ("P3400", "standard"), ("P3FFF", "standard"), ("C0123", "standard"),
        ("C1123", "maker"), ("C2123", "maker"), ("C3123", "reserved"), ("B3123", "reserved"),
        ("U0123", "standard"), ("U1123", "maker"), ("U2123", "maker"), ("U3123", "standard"),
    ):  # fmt: skip
        found = code_table.describe(code)
        assert found.owner == owner, code
        assert found.listed is (code in {row["code"] for row in load_table("codes")})
    for wrong in ("P20O2", "P4002", "X0123", "P200", "P2002-1"):
        assert refuses(code_table.describe, wrong), wrong
    for code, sided in (("P2463", True), ("P2002", True), ("P2459", False)):
        told = "\n".join(code_table.lines(code_table.describe(code)))
        assert ("Fits a pressure" in told) is sided


CHECKS: dict[str, tuple[Callable[[], None], ...]] = {
    "runner/assess/judge.py": (
        gain_classes, levels, codes_against_the_level, looks_of_the_core, after_the_road,
        what_the_verdict_sees,
    ),
    "runner/assess/compare.py": (a_gain_of_the_wrong_sign,),
    "runner/assess/flow.py": (flows,),
    "runner/assess/resistance.py": (
        a_line_that_does_not_rise, coarse_zero, agreement, flows_apart, ways,
    ),
    "runner/assess/remains.py": (ash_said, ash_states),
    "runner/assess/facts.py": (numbers_of_answers,),
    "runner/assess/triage.py": (triage_grounds,),
    "runner/assess/codes.py": (owners_of_codes,),
}  # fmt: skip
