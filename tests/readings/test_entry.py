"""A typed line becomes a set, a set becomes words, and nothing malformed is repaired."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.runner.core.reading_set import CONDITIONS, PHASES, Reading, ReadingSet
from steplatch.runner.core.typed_set import BadReading, echo, parse_set, parse_value


def test_the_line_of_the_trade_is_read_in_its_fixed_order() -> None:
    # Order of the line: common practice, no source.
    got = parse_set("22 820 9.0 168 86 open", "idle", "before")
    assert got.pressure_pa == 2200.0
    assert got.speed_rpm == 820.0
    assert got.air_kg_s == 0.009
    assert got.exhaust_k == pytest.approx(441.15)
    assert got.coolant_k == pytest.approx(359.15)
    assert got.recirculation == "open"
    assert got.typed == "22 820 9.0 168 86 open"
    assert [r.typed for r in got.readings] == ["22", "820", "9.0", "168", "86"]


def test_x_means_not_shown_and_never_nought() -> None:
    got = parse_set("x x x X x x", "idle", "before")
    assert got.pressure_pa is None and got.air_kg_s is None and got.recirculation is None
    assert got.readings == ()


@pytest.mark.parametrize(
    ("item", "pascal"),
    [
        ("12kPa", 12000.0),
        ("120hPa", 12000.0),
        ("120mbar", 12000.0),
        ("0.12bar", 12000.0),
        # 1 psi = 6894.757 Pa, 1 inH2O (4 degC) = 249.082 Pa, 1 mmHg = 133.3224 Pa:
        # Thompson and Taylor, NIST SP 811 (2008), appendix B.8.
        ("1psi", 6894.757),
        ("10inH2O", 2490.82),
        ("10mmHg", 1333.224),
    ],
)
def test_pressure_comes_in_the_units_people_meet(item: str, pascal: float) -> None:
    got = parse_set(f"{item} 820 9 168 86 x", "idle", "before").pressure_pa
    assert got == pytest.approx(pascal, rel=2e-4)


def test_air_comes_in_kg_per_hour_and_in_mg_per_stroke() -> None:
    assert parse_set("22 820 36kg/h 168 86 x", "idle", "before").air_kg_s == pytest.approx(0.010)
    # 480 mg/stroke at 800 1/min in four cylinders is 12.8 g/s (four strokes, algebra).
    got = parse_set("22 800 480mg/stroke 168 86 x", "idle", "before", cylinders=4)
    assert got.air_kg_s == pytest.approx(0.0128)


def test_default_units_can_be_changed_for_an_instrument() -> None:
    units = {"pressure": "kPa", "exhaust": "degF"}
    got = parse_set("2.2 820 9 334 86 x", "idle", "before", units=units)
    assert got.pressure_pa == 2200.0
    assert got.exhaust_k == pytest.approx(440.93, abs=0.01)


def test_a_decimal_comma_is_a_decimal_comma() -> None:
    assert parse_set("22,5 820 9,1 168 86 x", "idle", "before").pressure_pa == 2250.0


@pytest.mark.parametrize(
    ("line", "item", "says"),
    [
        ("", 0, "0 items where 6 belong"),
        ("22 820 9 168 86", 0, "5 items where 6 belong"),
        ("22 820 9 168 86 open open", 0, "7 items"),
        ("22 mbar 820 9 168 86 open", 0, "stands by itself"),
        ("1,234 820 9 168 86 open", 1, "two ways"),
        ("22 820 9e3 168 86 open", 3, "exponent"),
        ("2O 820 9 168 86 open", 1, "letter where a digit"),
        ("22 820 9 168psi 86 open", 4, "unit of a pressure"),
        ("22 820 9 168 86 half", 6, "open, shut or part"),
        ("22 -820 9 168 86 open", 2, "less than"),
        ("22 82000 9 168 86 open", 2, "cannot be the engine speed"),
        ("22 820 480mg/stroke 168 86 x", 3, "number of cylinders"),
        ("nan 820 9 168 86 open", 1, "number"),
        ("inf 820 9 168 86 open", 1, "number"),
        ("22 820 9 168 .5 open", 5, "no digit before"),
    ],
)
def test_a_malformed_item_is_refused_with_its_place_and_remedy(
    line: str, item: int, says: str
) -> None:
    with pytest.raises(BadReading) as caught:
        parse_set(line, "idle", "before")
    assert caught.value.item == item
    assert says in str(caught.value)
    assert caught.value.remedy


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_and_never_breaks(text: str) -> None:
    try:
        got = parse_set(text, "idle", "before")
    except BadReading:
        return
    assert len(text.split()) == 6
    assert got.typed == text


def test_the_echo_names_each_unit_with_its_equivalent() -> None:
    said = "\n".join(echo(parse_set("12kPa 820 30kg/h 168 186.8degF shut", "idle", "before")))
    assert "12 kPa = 120 mbar" in said
    assert "30 kg/h ≈ 8.333 g/s" in said
    assert "186.8 °F = 86 °C" in said
    assert "recirculation: shut" in said
    plain = "\n".join(echo(parse_set("22 820 x 168 86 x", "idle", "before")))
    assert "22 mbar = 2.2" in plain
    assert "air flow: not shown on this vehicle" in plain


def test_one_value_alone_is_read_with_its_unit() -> None:
    assert parse_value("manifold", "985").si == pytest.approx(98500.0)
    with pytest.raises(BadReading):
        parse_value("manifold", "-5")


numbers = st.none() | st.floats(-1e6, 1e6, allow_nan=False)


@given(
    st.sampled_from(CONDITIONS),
    st.sampled_from(PHASES),
    numbers,
    numbers,
    st.sampled_from([None, "open", "shut", "part"]),
    st.sampled_from([None, True, False]),
    st.text(max_size=20),
)
def test_a_set_comes_back_from_json_as_it_was_recorded(
    condition: str,
    phase: str,
    pressure: float | None,
    air: float | None,
    state: str | None,
    burning: bool | None,
    text: str,
) -> None:
    reading = (Reading("pressure", text, "mbar", pressure, "logged"),) if pressure else ()
    one = ReadingSet(
        condition,  # type: ignore[arg-type]
        phase,  # type: ignore[arg-type]
        pressure,
        air_kg_s=air,
        recirculation=state,  # type: ignore[arg-type]
        burning=burning,
        typed=text,
        readings=reading,
        spread_pa=air,
    )
    plain = json.loads(json.dumps(one.to_json()))
    again = ReadingSet.from_json(plain)
    assert again.to_json() == plain and again == ReadingSet.from_json(again.to_json())
    assert all(not isinstance(v, float) for v in plain.values())


@pytest.mark.parametrize(
    "change",
    [
        {"condition": "fast"},
        {"phase": "during"},
        {"recirculation": "half"},
        {"pressure_pa": "twelve"},
        {"pressure_pa": "nan"},
        {"pressure_pa": True},
        {"burning": "yes"},
        {"typed": 3},
        {"surplus": 1},
        {"readings": [{"quantity": "pressure"}]},
        {"readings": [{"quantity": "q", "typed": "", "unit": "", "source": "typed"}]},
    ],
)
def test_a_broken_record_of_a_set_is_refused(change: dict[str, object]) -> None:
    plain = parse_set("22 820 9 168 86 open", "idle", "before").to_json()
    with pytest.raises(BadReading):
        ReadingSet.from_json(plain | change)


def test_a_record_without_its_condition_is_refused() -> None:
    plain = parse_set("22 820 9 168 86 open", "idle", "before").to_json()
    del plain["condition"]
    with pytest.raises(BadReading):
        ReadingSet.from_json(plain)
