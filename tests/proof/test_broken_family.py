"""Jobs of the family spoiled as an author might spoil them: each is caught, by rule and by step.

The unbroken twins are proven in ``tests/test_family.py``.
"""

from collections.abc import Callable
from pathlib import Path

import pytest
from steplatch.runner.input.findings import BadFile
from steplatch.runner.input.shelf import PROCEDURES, procedure_files
from steplatch.runner.proof.runs import Runs, runs_of_main

from tests.step_text import without_steps, written_out

Edit = Callable[[str], str]


def without(*steps: str) -> Edit:
    """Steps forgotten."""
    return lambda text: without_steps(text, *steps)


def swapped(old: str, new: str) -> Edit:
    """One text for another, once."""

    def edit(text: str) -> str:
        assert old in text
        return text.replace(old, new, 1)

    return edit


BROKEN: tuple[tuple[str, str, Edit, str, str], ...] = (
    # (job, what the author did, edit, interlock, property or finding, step; '' for the loader)
    ("measure-only", "hands not cleared after the hose", without("found-out"),
     "start-hands-clear", "before-ignition"),
    ("measure-only", "not chocked", without("secured"),
     "run-secured", "before-start"),
    ("measure-only", "nobody looked what carries it", without("down"),
     "lift-carries", "before-start"),
    ("measure-only", "no extraction", without("fumes"),
     "run-fumes", "before-start"),
    ("measure-only", "dipstick not read", without("oil-level"),
     "run-oil", "before-start"),
    ("measure-only", "nobody at the controls", without("controls"),
     "run-controls", "before-start"),
    ("measure-only", "engine left running", without("before-stop"),
     "zero-stopped", "before-zero-read"),
    ("measure-only", "no return point", swapped("    returns: before-readings\n", ""),
     "no stage returns 'before-readings'", ""),
    ("measure-only", "hose found off, never put on", without("found-put"),
     "start-port-shut", "before-start"),
    ("measure-only", "line test leaves the hose off", without("line-on"),
     "revs-hose-on", "release"),
    ("measure-only", "wrong condition name",
     swapped("when: [adult, {line_today", "when: [adlt, {line_today"),
     "Did you mean 'adult'", ""),
    ("measure-only", "somebody young starts", swapped("running\n    when: adult\n", "running\n"),
     "crew-may-run", "before-start"),
    ("measure-only", "zero not read", without("before-zero-read"),
     "not taken: before zero", ""),
    ("measure-only", "line not tested", without("line-test-blow"),
     "not tested", ""),
    ("line-check", "hose left off", without("line-on"),
     "revs-hose-on", "zero-read"),
    ("line-check", "hands left in", without("line-hands-out"),
     "start-hands-clear", "zero-ignition"),
    ("line-check", "start not disabled", without("line-disable"),
     "try-disabled", "line-try"),
    ("line-check", "pipe not measured", without("line-cool"),
     "hose-cool", "line-off"),
    ("line-check", "sensor not traced", without("line-which"),
     "hose-which", "line-off"),
    ("line-check", "condition that is not known yet",
     swapped("    when: {hose: on}\n", "    when: {sensor: proven}\n"),
     "finished in reach", "run-start"),
    ("zero-check", "codes unread", without("codes-saved"),
     "hand-over-codes", "release"),
    ("zero-check", "nobody signs the release", without("release"),
     "hand-over-signed", "hand-over"),
    ("zero-check", "hold point that nobody may sign", swapped("sign: technician", "sign: customer"),
     "too weak", ""),
    ("zero-check", "no completion line",
     swapped("    done: The zero is read, and lies in its band or not.\n", ""),
     "done", ""),
    ("oil-check", "state that oil never has",
     swapped("want: [ok, low, over, thinned]", "want: [gone]"),
     "no state 'gone'", ""),
    ("extraction-check", "no return point", swapped("    returns: before-readings\n", ""),
     "no stage returns 'before-readings'", ""),
    ("extraction-check", "engine left idling", without("idle-stop"),
     "hand-over-still", "release"),
    ("gun-rate-test", "data sheet not read", without("sheet"),
     "spray-sheet", "gun-rate"),
    ("gun-rate-test", "protection not put on", without("kit"),
     "fluid-kit", "gun-rate"),
    ("regeneration-watch", "watched by nobody", without("controls"),
     "run-controls", "watch-start"),
    ("regeneration-watch", "engine left running", without("watch-stop"),
     "hand-over-still", "release"),
    ("regeneration-watch", "question that nobody asked",
     swapped("want: bare\n", "want: bare\n        when: {place_ok: yes}\n"),
     "'place_ok' is neither", ""),
    ("regeneration-watch", "not chocked", without("secured"),
     "run-secured", "watch-start"),
)  # fmt: skip


@pytest.mark.parametrize(
    ("job", "edit", "name", "step"),
    [pytest.param(row[0], *row[2:], id=f"{row[0]}, {row[1]}") for row in BROKEN],
)
def test_a_spoiled_job_is_caught_by_rule_and_step(
    tmp_path: Path, job: str, edit: Edit, name: str, step: str
) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text(edit(written_out(PROCEDURES / f"{job}.yaml")), encoding="utf-8")
    if not step:
        with pytest.raises(BadFile) as bad:
            Runs(path, procedure_files())
        told = [str(one) for one in bad.value.findings if name in str(one)]
        assert told and all("mine.yaml:" in one for one in told)
        return
    runs = Runs(path, procedure_files())
    faults = [
        fault
        for run in runs_of_main(runs.loaded.plan.main)
        for fault in runs.make(run).faults
        if fault.step == step and name in fault.name
    ]
    assert faults
    assert faults[0].place.startswith("mine.yaml:") and faults[0].trace
