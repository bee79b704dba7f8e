"""The validation table is long enough, rests on enough sources, and every row agrees."""

import importlib
import re
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tests.assess.validation_rows import Row, rows, table

ROWS = rows()
PAGE = Path(__file__).parent / "VALIDATION.md"


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r.quantity)
def test_a_published_value_is_met_within_its_tolerance(row: Row) -> None:
    assert row.agrees, f"{row.ours} against {row.published} +/- {row.tolerance}"


def test_the_table_has_90_rows_from_22_sources_at_least() -> None:
    works = {re.split(r",|;| \(its", r.source)[0] for r in ROWS}
    assert len(ROWS) >= 90
    assert len({r.source for r in ROWS}) >= 22
    assert len(works) >= 20


def test_no_tolerance_is_so_wide_that_a_row_could_not_fail() -> None:
    for row in ROWS:
        if row.published:
            assert row.tolerance <= 0.2 * abs(row.published), row.quantity


PHYSICS = (
    ("gas", ("R_AIR", "_SUTHERLAND_BETA", "_SUTHERLAND_S_K", "_EARTH_RADIUS_M", "_GRAVITY_M_S2",
             "_LAPSE_K_M", "_SEA_LEVEL_K", "_SEA_LEVEL_PA")),
    ("drying", ("WATER_HEAT_J_KG_K", "EXHAUST_HEAT_J_KG_K", "_BOILING_K", "_LATENT_J_KG",
                "_VAPOUR_SLOPE_K")),
    ("wall_flow", ("SQUARE_DUCT_F",)),
    ("exhaust", ("_STROKES_PER_CHARGE_S_MIN",)),
    ("ash", ("TRAPPED_SHARE_LOW", "TRAPPED_SHARE_HIGH")),
)  # fmt: skip
CHOSEN = (
    "CRANKING_PRESSURE_RATIO", "POLYTROPIC_EXPONENT", "HIGHEST_COMPRESSION_RATIO",
    "LEVEL_TOLERANCE", "HEIGHT_READ", "BORE_READ", "VOLUME_COUNTED", "CHANNELS_COUNTED",
    "LONGEST_SHAPE", "LOW_INLET_VOID", "LOW_PORE_SHARE", "PORES_RETAIN", "PORES_RUNNING",
    "LOW_FILTER_TO_ENGINE", "GUN_SCATTER", "STOP_SCATTER", "SCATTER_WEIGHT", "HEAT_SHARE",
    "LOW_FILLING", "HIGH_RECIRCULATION", "COOL_IDLE", "COOL_RAISED",
)  # fmt: skip


def moved(monkeypatch: pytest.MonkeyPatch, room: str, name: str, factor: float) -> None:
    """The constant by 5 %, wherever it was imported to under its name."""
    was = getattr(importlib.import_module(f"steplatch.safety.{room}"), name)
    now = replace(was, value=was.value * factor) if room == "limits.choices" else was * factor
    for loaded in [m for n, m in sys.modules.items() if n.startswith(("steplatch.", "tests."))]:
        if getattr(loaded, name, None) is was:
            monkeypatch.setattr(loaded, name, now)


@pytest.mark.parametrize("factor", [0.95, 1.05])
@pytest.mark.parametrize(
    ("room", "name"),
    [(f"physics.{room}", name) for room, names in PHYSICS for name in names]
    + [("limits.choices", name) for name in CHOSEN],
)
def test_a_constant_moved_by_5_percent_fails_a_row(
    room: str, name: str, factor: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    moved(monkeypatch, room, name, factor)
    try:
        assert any(not row.agrees for row in rows())
    except (ValueError, ArithmeticError):
        return  # a sum that refuses fails its row as well


def test_the_page_in_the_docs_is_what_the_program_gives() -> None:
    def without_noise(text: str) -> list[str]:
        # The difference of values that agree to the last figures is rounding noise.
        return [re.sub(r"\| -?\d\.\de[+-]\d\d \|", "|", line) for line in text.splitlines()]

    assert without_noise(PAGE.read_text(encoding="utf-8")) == without_noise(table()), (
        "run: python -m tests.assess.validation_rows > tests/assess/VALIDATION.md"
    )
