"""What changed since a kept set, and what a filter retains: each state by hand-made figures."""

from dataclasses import replace

import pytest
from steplatch.runner.assess import told
from steplatch.runner.assess.change import STATE, Change, change
from steplatch.runner.assess.judge import DOMAINS
from steplatch.runner.assess.retained import retained
from steplatch.runner.assess.tables import load_table
from steplatch.runner.core.reading_set import ReadingSet
from steplatch.runner.core.typed_set import parse_set
from steplatch.runner.input.resolution import Disagreement
from steplatch.runner.jobs.bundle import EXAMPLES
from steplatch.runner.workshop.files import load_vehicle, load_workshop

VEHICLE = load_vehicle(EXAMPLES / "workshop" / "vehicle.yaml")[0]
WORKSHOP = load_workshop(EXAMPLES / "workshop" / "workshop.yaml")[0]
THEN = {
    "raised": "27.4 2374 39.7 246 87 shut",
    "idle": "5 820 8.7 211 87 open",
    "zero": "0 0 0 201 86 shut",
}
FACTS = {"loads_off": "yes", "car_level": "yes", "filter_dry": "yes"}


def sets(lines: dict[str, str]) -> list[ReadingSet]:
    return [parse_set(text, name, "before") for name, text in lines.items()]  # type: ignore[arg-type]


def compared(today: dict[str, str], **given: object) -> Change:
    return change(sets(THEN), sets(today), VEHICLE, WORKSHOP, FACTS, (98000.0, 99400.0), **given)  # type: ignore[arg-type]


TODAY = {"idle": "5.1 822 8.7 209 87 open", "zero": "0.1 0 0 200 86 shut"}


@pytest.mark.parametrize(
    ("raised", "idle", "state"),
    [
        ("28.1 2380 39.9 244 87 shut", "5.2 821 8.7 210 87 open", "same"),
        ("76.4 2376 39.7 240 87 shut", "15.6 819 8.7 208 87 open", "harder"),
        ("13 2376 39.7 240 87 shut", "2.3 819 8.7 208 87 open", "easier"),
        ("x 2376 39.7 240 87 shut", "x 819 8.7 208 87 open", "cannot_say"),
        ("28.1 2380 39.9 90 87 shut", "5.2 821 8.7 80 87 open", "cannot_say"),
        ("28.1 2380 39.9 244 87 shut", "5.2 821 15.0 210 87 shut", "look_first"),
    ],
)
def test_each_state_comes_of_its_figures(raised: str, idle: str, state: str) -> None:
    got = compared(TODAY | {"raised": raised, "idle": idle})
    assert got.state == state, got
    assert (got.distance_km, bool(got.gains)) == (1400.0, state not in ("cannot_say",))


def test_every_state_has_its_words_and_every_class_of_a_gain_its_state() -> None:
    assert STATE.keys() == set(DOMAINS["gain"])
    assert load_table("change").keys() == {*STATE.values(), "look_first"}


def test_what_is_said_is_said_of_two_days() -> None:
    worse = {"raised": "76.4 2376 39.7 240 87 shut", "idle": "15.6 819 8.7 208 87 open"}
    got = compared(TODAY | worse)
    lines = "\n".join(told.lines("change", got.to_json()))
    assert "flows harder than then" in lines and "1 400 km later" in lines
    found = [line for line in lines.splitlines() if "next:" not in line]
    assert not any(word in " ".join(found).split() for word in ("before", "after"))


def test_without_a_kept_set_nothing_is_compared() -> None:
    today = sets(TODAY | {"raised": "28.1 2380 39.9 244 87 shut"})
    got = change([], today, VEHICLE, WORKSHOP, FACTS)
    assert got.state == "cannot_say" and got.gains == {}
    assert "no_before" in {f.id for f in got.findings}


def test_an_audit_takes_the_recorded_figures_and_refuses_others() -> None:
    today = TODAY | {"raised": "76.4 2376 39.7 240 87 shut"}
    plain = compared(today).to_json()
    assert compared(today, recorded=plain).to_json() == plain
    forged = plain | {"gains": {"after": plain["gains"]["after"] | {"percent": "10"}}}
    with pytest.raises(Disagreement):
        compared(today, recorded=forged)


def test_line_names_that_differ_are_not_compared() -> None:
    today = [replace(s, line_name="calculated") for s in sets(TODAY | {"raised": THEN["raised"]})]
    then = [replace(s, line_name="measured") for s in sets(THEN)]
    assert change(then, today, VEHICLE, WORKSHOP, FACTS).state == "cannot_say"


@pytest.mark.parametrize(
    ("pours", "state", "ml"),
    [
        (((60, 45), (60, 44), (60, 46)), "given", 14.0),
        (((60, 60), (60, 60), (60, 59.5)), "none", 0.0),
        (((60, 45), (60, 30), (60, 46)), "scatter", 14.0),
        (((60, 45), (60, 44)), "cannot_say", None),
        (((60, 45), (60, 44), (60, 66)), "cannot_say", None),
    ],
)
def test_the_smallest_of_three_pours_is_the_number(
    pours: tuple[tuple[float, float], ...], state: str, ml: float | None
) -> None:
    got = retained(pours)
    assert (got.state, got.retained_ml) == (state, ml)
    assert retained(pours, got.to_json()) == got
    assert told.lines("retained", got.to_json())[0].startswith("RETAINED")
