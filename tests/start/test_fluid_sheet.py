"""What follows from a fluid's file: what is worn, which fluid is refused, which sheet is old."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from steplatch.runner.input.findings import BadFile
from steplatch.runner.jobs.bundle import PRACTICE, Sources, load_bundle
from steplatch.runner.workshop.files import load_fluid
from steplatch.runner.workshop.fluid_sheet import feeding_fire, sheet_lines, to_wear
from steplatch.safety.limits.inputs import Fluid

from tests.played import MAIN

FLUID = Fluid("cleaner", "sheet 3", "2024-05-31", ("H315", "H318"))


def test_an_old_sheet_is_told_with_its_years_and_a_new_one_is_not() -> None:
    assert "years old" not in sheet_lines(FLUID, date(2029, 5, 30))[0]
    assert "5 years old: ask for today's" in sheet_lines(FLUID, date(2029, 6, 2))[0]


def test_hazard_statements_say_what_is_worn() -> None:
    assert to_wear(FLUID.hazard_codes) == ("gloves that resist it", "closed eye protection")
    assert to_wear(("H302+H332", "EUH208")) == ("breathing protection where mist is not drawn off",)
    assert sheet_lines(FLUID, date(2025, 1, 1))[1].startswith("SHEET  H315 H318: gloves")
    assert sheet_lines(replace(FLUID, hazard_codes=()), date(2025, 1, 1))[1] == (
        "SHEET  no hazard statement"
    )


@pytest.mark.parametrize("code", ["H225", "H226", "H222", "H271", "H302+H224"])
def test_no_job_begins_with_a_fluid_that_feeds_a_fire_and_a_kept_one_is_still_read(
    code: str, tmp_path: Path
) -> None:
    text = (PRACTICE / "fluid.yaml").read_text(encoding="utf-8")
    key = next(line for line in text.splitlines() if line.startswith("hazard_codes:"))
    path = tmp_path / "fluid.yaml"
    path.write_text(text.replace(key, f"hazard_codes: [{code}]"), encoding="utf-8")
    with pytest.raises(BadFile, match="feeds a fire"):
        load_bundle(replace(Sources.of_practice(MAIN), fluid=path))
    assert load_fluid(path)[0].hazard_codes == (code,)


def test_usual_statements_feed_no_fire() -> None:
    assert feeding_fire(("H302", "H314", "H315", "H318", "H319", "H335", "H412", "EUH208")) == ()
