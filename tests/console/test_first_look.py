"""The first look: after one raised set it is said whether to go on, and what a dose comes to."""

from dataclasses import replace

import pytest
from steplatch.runner.core.job import Job
from steplatch.runner.screen.first_look import (
    GO,
    MORE,
    NO,
    UNLIKELY,
    LookFiles,
    answer_lines,
    costs,
    dose_lines,
)
from steplatch.safety.bay import Fuel, Oil
from steplatch.safety.limits.worked import work_limits

from tests.played import Stands, bundle_from


@pytest.fixture(scope="module")
def files() -> LookFiles:
    """The invented van in its workshop."""
    bundle = bundle_from()
    return LookFiles(bundle.vehicle, bundle.fluid, bundle.workshop, bundle.gun)


@pytest.fixture(scope="module")
def looked(stands: Stands) -> Job:
    """The job right after its first raised set."""
    return stands.at("before-lower")


def _head(job: Job, files: LookFiles) -> str:
    return answer_lines(job, files)[0][0]


def test_a_full_filter_is_a_go_with_what_is_still_open(looked: Job, files: LookFiles) -> None:
    lines = [text for text, _ in answer_lines(looked, files)]
    assert lines[0] == f"FIRST LOOK  {GO}, provisionally"
    assert any(text.startswith("GAIN ") and "nothing at all is possible" in text for text in lines)
    assert "OPEN   The hose is not blown yet." in lines
    assert looked.log.latest("triage") is None, "nothing was decided by it"


def test_what_forbids_is_a_no_with_its_reason(looked: Job, files: LookFiles) -> None:
    petrol = replace(looked, core=replace(looked.core, bay=looked.bay.but(fuel=Fuel.OTHER)))
    assert NO in _head(petrol, files)
    assert any("petrol or another fuel" in text for text, _ in answer_lines(petrol, files))
    thin = replace(looked, core=replace(looked.core, bay=looked.bay.but(oil=Oil.OVER)))
    assert NO in _head(thin, files)


def test_little_to_gain_is_said_before_anybody_quotes(looked: Job, files: LookFiles) -> None:
    full = replace(looked, core=looked.core.choosing("ash_state", "at_limit"))
    lines = [text for text, _ in answer_lines(full, files)]
    assert lines[0] == f"FIRST LOOK  {UNLIKELY}, provisionally"
    assert any("Ash is at its limit" in text for text in lines)


def test_without_a_reading_more_has_to_be_measured(stands: Stands, files: LookFiles) -> None:
    assert MORE in _head(stands.at("before-raise"), files)


def test_the_dose_stands_in_ml_and_seconds_and_says_whether_the_gun_can(files: LookFiles) -> None:
    text = "\n".join(text for text, _ in dose_lines(files, (2.0, 2.0, 2.1)))
    doses = work_limits(files.vehicle, files.fluid, files.workshop, files.gun)
    assert f"DOSE   engine off {doses.dose_strict.whole()} mL" in text
    assert f"running {doses.running_dose.whole()} mL" in text
    assert "engine off: " in text and " s = " in text
    fast = "\n".join(text for text, _ in dose_lines(files, (9.0, 9.1, 9.0)))
    assert "too short to time, use the syringe" in fast
    assert "never measured here" in "\n".join(text for text, _ in dose_lines(files, ()))


def test_what_is_not_known_says_what_it_costs(files: LookFiles) -> None:
    unknown = replace(files, vehicle=replace(files.vehicle, compression_ratio=None))
    (first, *_) = costs(unknown)
    assert first.startswith("compression ratio unknown: ") and " mL instead of " in first
    assert not [text for text in costs(files) if "compression" in text]
