"""The validation table is long enough, rests on enough sources, and every row agrees."""

import re
from pathlib import Path

import pytest

from tests.assess.validation_rows import Row, rows, table

ROWS = rows()
PAGE = Path(__file__).parent / "VALIDATION.md"


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r.quantity)
def test_a_published_value_is_met_within_its_tolerance(row: Row) -> None:
    assert row.agrees, f"{row.ours} against {row.published} +/- {row.tolerance}"


def test_the_table_has_40_rows_from_12_sources_at_least() -> None:
    works = {re.split(r",|;| \(its", r.source)[0] for r in ROWS}
    assert len(ROWS) >= 40
    assert len(works) >= 12


def test_no_tolerance_is_so_wide_that_a_row_could_not_fail() -> None:
    for row in ROWS:
        if row.published:
            assert row.tolerance <= 0.2 * abs(row.published), row.quantity


def test_the_page_in_the_docs_is_what_the_program_gives() -> None:
    def without_noise(text: str) -> list[str]:
        # The difference of values that agree to the last figures is rounding noise.
        return [re.sub(r"\| -?\d\.\de[+-]\d\d \|", "|", line) for line in text.splitlines()]

    assert without_noise(PAGE.read_text(encoding="utf-8")) == without_noise(table()), (
        "run: python -m tests.assess.validation_rows > tests/assess/VALIDATION.md"
    )
