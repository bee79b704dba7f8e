"""What a judgement puts on record: no sentence, no raw float, and classes that follow from it.

A record has to be found good wherever it is decided again: on a processor, a C library or a Python
whose last digits differ, and after every sentence of this program was reworded.
"""

import copy
import math
import random
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from steplatch.runner.assess import (
    codes,
    customer,
    flow,
    inputs,
    judge,
    linear,
    remains,
    told,
    words,
)
from steplatch.runner.assess import triage as triage_module
from steplatch.runner.assess.judge import verdict_rows
from steplatch.runner.assess.plateau import trend
from steplatch.runner.assess.tables import load_table
from steplatch.runner.core.reading_set import ReadingSet
from steplatch.runner.input.resolution import RESOLUTIONS, Disagreement, Numbers, agrees, unit_of
from steplatch.safety.physics.gas import Atmosphere, standard_atmosphere

from tests.assess.sets import BEFORE, BETTER, GOOD_FACTS, NORMAL, SAME, VEHICLE, WORKSHOP, three
from tests.assess.simulated_readings import draw, take
from tests.assess.test_coverage import NAMED

JOBS = 120
NAME = re.compile(r"[a-z][a-z0-9_]*")
NUMBER = re.compile(r"-?\d+(\.\d+)?")
CODE = re.compile(r"[PCBU][0-3][0-9A-F]{3}(-[0-9A-F]{2})?")
TYPED = ("names",)
"""Keys under which a judgement keeps what a person typed."""

Judged = Callable[[Any], dict[str, Any]]
"""A judgement of one case, given the outcome that stands in a record or None."""


def cases() -> Iterator[tuple[str, Judged]]:
    """Verdicts and triages of simulated and of awkward jobs, and trends of simulated holds."""
    faults = [(), (), (), *((fault,) for fault in NAMED)]
    for number in range(JOBS):
        case = take(draw(50_000 + number, faults[number % len(faults)]))
        facts = case.facts | {"distance_km": 40_000 + 900 * number, "codes": ["P2002-1C", "P2463"]}
        road = [replace(s, phase="road") for s in case.after] if number % 4 == 0 else None
        before, after = case.before, case.after
        if number % 5 == 1:
            before, after = (
                [replace(s, air_kg_s=None, exhaust_k=None) for s in sets]
                for sets in (before, after)
            )
        yield from both(f"simulated {number}", before, after, road, facts, case.vehicle)
    dried = three("road", "20.5 2500 40 220 89 shut", "4.6 820 9.0 170 88 open")
    wet = three("after", "45 2500 40 215 88 shut", "9.3 820 9.0 168 86 open")
    bent = three("after", "61 2500 40 215 88 shut", "22 820 9 168 86 open")
    down = three("before", "-40 2500 40 215 88 x", None)
    cold = [replace(s, coolant_k=320.0, line_name="dp, other name 7") for s in BETTER]
    named = [replace(s, line_name="dp") for s in BEFORE]
    same = three("before", "40 2500 30 200 88 shut", "40.5 2500 30 200 88 shut", None)
    hose = replace(VEHICLE, one_hose=True)
    for name, before, after, road, vehicle in (
        ("drier", BEFORE, wet, dried, VEHICLE),
        ("bent", BEFORE, bent, None, VEHICLE),
        ("down", down, NORMAL, None, VEHICLE),
        ("cold", named, cold, None, VEHICLE),
        ("none", [], SAME, None, VEHICLE),
        ("one flow", same, BETTER, None, VEHICLE),
        ("one hose", BEFORE, BETTER, None, hose),
    ):
        yield from both(name, before, after, road, GOOD_FACTS, vehicle)
    for number in range(JOBS):
        points = held(number)
        yield (
            f"trend {number}",
            lambda recorded, points=points: trend(points, 100.0, Numbers(recorded)).to_json(),
        )


def both(
    name: str,
    before: list[ReadingSet],
    after: list[ReadingSet],
    road: list[ReadingSet] | None,
    facts: dict[str, Any],
    vehicle: Any,
) -> Iterator[tuple[str, Judged]]:
    yield (
        f"verdict, {name}",
        lambda recorded: judge.judge(
            before, after, road, vehicle, WORKSHOP, facts, recorded
        ).to_json(),
    )
    yield (
        f"triage, {name}",
        lambda recorded: triage_module.triage(before, vehicle, WORKSHOP, facts, recorded).to_json(),
    )


def held(number: int) -> list[tuple[float, float]]:
    """Pressures noted in one hold: falls, shelves, straight lines, steps, as an eye notes them."""
    rng = random.Random(number)
    kind = number % 6
    tau, level, height = rng.uniform(40, 900), rng.uniform(15, 120), rng.uniform(2, 60)
    step = rng.choice((0.1, 1.0))
    points = []
    for at in range(rng.randint(3, 40)):
        t = 30.0 * at
        mbar = {
            0: level + height * math.exp(-t / tau),
            1: level + height * math.exp(-t / tau) + 5 * math.exp(-t / 2000),
            2: level,
            3: level + height - t / 60,
            4: level + (height if at == 0 else 0.0),
            5: level + t / 120,
        }[kind]
        points.append((t, 100 * step * round((mbar + rng.gauss(0, 0.2)) / step)))
    return points


CASES = dict(cases())


def leaves(value: Any, key: str = "", path: str = "") -> Iterator[tuple[str, str, Any]]:
    """Every single value of an outcome with the key it stands under and its whole path."""
    if isinstance(value, dict):
        for name, item in value.items():
            assert NAME.fullmatch(name), path
            yield from leaves(item, name, f"{path}.{name}")
    elif isinstance(value, list):
        for at, item in enumerate(value):
            yield from leaves(item, key, f"{path}.{at}")
    else:
        yield path, key, value


def is_number(key: str, value: Any) -> bool:
    has_unit = any(key == unit or key.endswith(f"_{unit}") for unit in RESOLUTIONS)
    return has_unit and isinstance(value, str) and NUMBER.fullmatch(value) is not None


def test_an_outcome_holds_no_sentence_and_no_float() -> None:
    for name, judged in CASES.items():
        for path, key, value in leaves(judged(None)):
            assert not isinstance(value, float), (name, path)
            if isinstance(value, str) and key not in TYPED and value:
                fits = NAME.fullmatch(value) or CODE.fullmatch(value) or is_number(key, value)
                assert fits, (name, path, value)


def jittered(monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    """Every value of the C library, of the physics and of a sum of products a few digits off."""
    rng = random.Random(seed)

    def off(value: float) -> float:
        for _ in range(rng.randint(0, 4) if value else 0):
            value = math.nextafter(value, rng.choice((-math.inf, math.inf)))
        return value

    def shaken(function: Callable[..., float]) -> Callable[..., float]:
        return lambda *given: off(function(*given))

    for name in ("exp", "expm1", "log", "log1p", "hypot", "lgamma", "erfc", "fsum"):
        monkeypatch.setattr(math, name, shaken(getattr(math, name)))
    for module, name in (
        (flow, "viscosity_pa_s"),
        (flow, "volume_flow_m3_s"),
        (flow, "speed_density_air_kg_s"),
        (remains, "viscosity_pa_s"),
        (remains, "volume_flow_m3_s"),
        (remains, "oil_burnt_kg"),
        (remains, "opening_from_cell_density"),
        (linear, "dot"),
    ):
        monkeypatch.setattr(module, name, shaken(getattr(module, name)))

    def weather(height_m: float) -> Atmosphere:
        air = standard_atmosphere(height_m)
        return replace(air, pressure_pa=off(air.pressure_pa))

    monkeypatch.setattr(flow, "standard_atmosphere", weather)


@pytest.mark.parametrize(
    "seed", [1, *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(2, 8))]
)
def test_other_last_digits_move_no_class_and_no_number_by_more_than_a_step(seed: int) -> None:
    moved = 0
    for at, (name, judged) in enumerate(CASES.items()):
        here = judged(None)
        with pytest.MonkeyPatch.context() as patch:
            remains.clean_band.cache_clear()
            jittered(patch, 1000 * seed + at)
            there = judged(None)
            again = judged(copy.deepcopy(here))
        remains.clean_band.cache_clear()
        assert again == here, name
        ours, theirs = list(leaves(here)), list(leaves(there))
        assert [p for p, _, _ in ours] == [p for p, _, _ in theirs], name
        for (path, key, one), (_, _, other) in zip(ours, theirs, strict=True):
            if is_number(key, one):
                assert agrees(key, one, other), (name, path, one, other)
                moved += one != other
            else:
                assert one == other, (name, path, one, other)
    print(f"numbers that moved by a step: {moved}")


def test_a_class_follows_from_the_recorded_number_and_not_from_the_one_worked_out() -> None:
    before = three("before", "96 2500 40 215 88 shut")
    verdict = judge.judge(before, NORMAL, None, VEHICLE, WORKSHOP, GOOD_FACTS)
    standing = verdict.to_json()
    # As if the level had come out one step higher, with the limit just between the two.
    limit = Decimal(standing["clean"]["today_high_mbar"])
    assert verdict.after is not None and limit > 0
    high = f"{verdict.after.at_reference_mbar + 0.1:.1f}"
    standing["slopes"]["together"]["after_mbar"] = high
    again = judge.judge(before, NORMAL, None, VEHICLE, WORKSHOP, GOOD_FACTS, standing)
    assert again.after is not None and again.after.at_reference_mbar == float(high)


def test_every_number_moved_by_two_steps_is_found() -> None:
    tried = 0
    for name in ("verdict, drier", "triage, bent", "verdict, cold", "verdict, bent"):
        judged = CASES[name]
        standing = judged(None)
        for path, key, value in leaves(standing):
            if not is_number(key, value):
                continue
            forged = copy.deepcopy(standing)
            place: Any = forged
            *way, last = path.lstrip(".").split(".")
            for part in way:
                place = place[int(part)] if isinstance(place, list) else place[part]
            step = Decimal(RESOLUTIONS[unit_of(key)])
            place[last] = str(Decimal(value) + 2 * step)
            tried += 1
            try:
                assert judged(forged) != forged, (name, path)
            except Disagreement as found:
                assert found.recorded == place[last], (name, path)
    assert tried > 150


@pytest.mark.parametrize("forged", ["1e1", "+23.0", "23.00", " 23.0", "nan", "", 23.0, None])
def test_a_number_that_is_no_plain_decimal_of_its_resolution_is_not_taken(forged: Any) -> None:
    with pytest.raises(Disagreement, match="level_mbar"):
        Numbers({"level_mbar": forged}).take("level_mbar", 23.0)


def test_rewording_every_sentence_changes_no_outcome(monkeypatch: pytest.MonkeyPatch) -> None:
    names = [n for n in CASES if "simulated" not in n or n.endswith(("0", "7"))]
    standing = {name: CASES[name](None) for name in names}
    said = {name: told.lines(name[:7].strip(","), standing[name]) for name in names
            if not name.startswith("trend")}  # fmt: skip

    def reworded(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            return {k: reworded(v, k) for k, v in value.items()}
        if isinstance(value, list | tuple):
            return [reworded(v, key) for v in value]
        said = ("reason", "until", "source", "advice", "to_do", "ask", "meaning")
        sentence = key in said and value
        return f"In other words: {value}" if sentence else value

    tables = {name: reworded(load_table(name)) for name in ("triage", "verdict", "codes", "facts")}
    for title in tables["verdict"]["titles"]:
        tables["verdict"]["titles"][title] += ", in other words"
    for module in (judge, triage_module, codes, told):
        monkeypatch.setattr(module, "load_table", tables.__getitem__)
    for table in (words.FINDINGS, words.NO_FIT, words.NO_LEVEL, words.ASH_SAID, told.TITLES,
                  customer._OPENING, customer._CAUSE):  # fmt: skip
        for key, text in table.items():
            monkeypatch.setitem(table, key, f"Otherwise: {text}")  # type: ignore[arg-type]
    monkeypatch.setattr(words, "CLEAN_SOURCE", "otherwise")
    monkeypatch.setattr(inputs, "REFERENCE_TEXT", "otherwise")
    for cached in (verdict_rows, triage_module._rows, codes._rows):
        cached.cache_clear()
    try:
        for name in names:
            assert CASES[name](None) == standing[name], name
            if name in said:
                assert told.lines(name[:7].strip(","), standing[name]) != said[name], name
    finally:
        for cached in (verdict_rows, triage_module._rows, codes._rows):
            cached.cache_clear()
