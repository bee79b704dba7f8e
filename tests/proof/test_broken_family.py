"""Jobs of the family spoiled as an author might spoil them: each is caught, by rule and by step.

The unbroken twins are proven in ``tests/test_family.py``; the clean itself is spoiled in
``test_broken_procedures.py``.
"""

from collections.abc import Callable
from pathlib import Path

import pytest
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.input.findings import BadFile
from steplatch.runner.input.shelf import PROCEDURES, procedure_files
from steplatch.runner.proof.runs import Runs, runs_of_main, steps_never_reached

from tests.step_text import in_step, without_steps, written_out

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


def said(step: str, old: str, new: str) -> Edit:
    """One text for another, in one step."""
    return lambda text: in_step(text, step, old, new)


def again(step: str, times: int) -> Edit:
    """More looks than a stage may have, in front of a step."""

    def edit(text: str) -> str:
        looks = "".join(f"      - look-{n}: Look again.\n        ask: text\n" for n in range(times))
        return swapped(f"      - {step}:", f"{looks}      - {step}:")(text)

    return edit


NEVER = "never reached"
"""What is said of a step that no way comes to."""

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
     "'read before zero'", ""),
    ("measure-only", "line not tested", without("line-test-blow"),
     "'ask line_test'", ""),
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
     "'sign release_check' is left out", ""),
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
    ("return-visit", "no kept set is typed", without("kept-raised", "kept-idle", "kept-zero"),
     "'kept raised' is missing", ""),
    ("return-visit", "kept set left out for the customer's sheet",
     said("kept-zero", "when: was_kept", "when: {kept_from: record}"),
     "'kept zero' is left out", ""),
    ("return-visit", "today's idle not read", without("today-idle"), "'read before idle'", ""),
    ("return-visit", "line not tested", without("line-test-blow"), "line_test", ""),
    ("return-visit", "condition mistyped", swapped("when: was_kept", "when: was_keept"),
     "Did you mean 'was_kept'", ""),
    ("return-visit", "no return point", swapped("    returns: before-readings\n", ""),
     "no stage returns 'before-readings'", ""),
    ("return-visit", "offered from a place that there is not",
     swapped("from: last job", "from: memory"), "last job", ""),
    ("return-visit", "held for a weight", swapped("held: 2 min", "held: 2 kg"), "kg", ""),
    ("return-visit", "hands not cleared", without("hands-codes"),
     "start-hands-clear", "ignition-codes"),
    ("return-visit", "engine left running", without("before-stop"),
     "zero-stopped", "before-zero-read"),
    ("return-visit", "a question that is never met",
     said("kept-line", "when: was_kept", "when: [was_kept, {kept_from: none}]"),
     NEVER, "kept-line"),
    ("retained-volume-test", "one pour is not measured", without("back-2"),
     "'ask came_back_2' is missing", ""),
    ("retained-volume-test", "nobody stands for the number", without("approve"),
     "'sign technician checked' is missing", ""),
    ("retained-volume-test", "the customer stands for the number",
     said("approve", "sign: technician", "sign: customer"), "'sign technician checked'", ""),
    ("retained-volume-test", "small job that leaves the hose off", without("on-hose"),
     "revs-hose-on", "release"),
    ("retained-volume-test", "pipe not measured", without("off-cool"), "hose-cool", "off-hose"),
    ("retained-volume-test", "nobody looked what carries it", without("off-carried"),
     "lift-carries", "off-try"),
    ("petrol-measure", "dipstick not read", without("oil-level"), "run-oil", "before-start"),
    ("petrol-measure", "no extraction", without("fumes"), "run-fumes", "before-start"),
    ("petrol-measure", "no advice", without("advice"), "'ask advice' is missing", ""),
    ("petrol-measure", "an answer named like a word of the program",
     said("misfire", "some:", "back:"), "works at every question", ""),
    ("petrol-measure", "caution misspelt", said("misfire", "filter-damaged", "filter-damage"),
     "Did you mean 'filter-damaged'", ""),
    ("clean-below", "no soak", without("off-soak"), "wait soak", ""),
    ("clean-below", "left on stands", without("lowered", "down"), "lift-carries", "found-try"),
    ("line-check", "stage that is never met",
     swapped("    when: {hose: on}\n", "    when: {hose: on, engine: raised}\n"),
     NEVER, "run-hands"),
    ("line-check", "codes unread", without("codes-saved"), "hand-over-codes", "release"),
    ("zero-check", "nobody looked for a bar", without("bar-none"), "start-bar-off", "ignition"),
    ("zero-check", "step named twice", swapped("- learned:", "- advice:"), "used twice", ""),
    ("zero-check", "an answer that is none",
     said("finding", "ask: choice", "ask: choice\n        want: good"), "no option 'good'", ""),
    ("zero-check", "end that finishes nothing",
     said("hand-over", "end: finished", "end: abandoned"),
     "'look tag' is missing", ""),
    ("zero-check", "last step may be left out",
     said("hand-over", "end: finished", "end: finished\n        when: adult"),
     "may be left out", ""),
    ("zero-check", "came with fluid, nobody asked", without("arrival"), "hand-over-dry", "release"),
    ("oil-check", "ten steps in a stage",
     again("oil-kind", 8), "at most 9", ""),
    ("oil-check", "quantity misspelt", said("oil-kind", "ask: text", "ask: volum"),
     "volume", ""),
    ("oil-check", "hose not looked at", without("hose-sits"), "revs-hose-on", "release"),
    ("extraction-check", "two kinds in one step",
     said("smoke", "ask: choice", "look: fumes\n        ask: choice"),
     "a step has one", ""),
    ("extraction-check", "nobody at the controls", without("controls"),
     "run-controls", "idle-start"),
    ("extraction-check", "not chocked", without("secured"), "run-secured", "idle-start"),
    ("gun-rate-test", "a customer's data in the record",
     said("complaint", "ask: text", "ask: text\n        personal: yes"),
     "kept apart", ""),
    ("regeneration-watch", "hold point of a role that is not here",
     said("release", "sign: technician", "sign: supervisor"), "finished in reach", "release"),
    ("regeneration-watch", "somebody young alone",
     said("crew", "alone_adult]", "alone_adult, alone_junior]"),
     "crew-may-run", "watch-start"),
    ("measure-only", "read before it was asked",
     swapped("  - history: History\n", "  - history: History\n    when: {line_today: yes}\n"),
     "'line_today' is neither", ""),
    ("measure-only", "a branch that may be left unanswered",
     said("line-today", "ask: choice", "ask: choice\n        may_not_apply: yes"),
     "cannot be left", ""),
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
    main = runs.loaded.plan.main
    made = (runs.make(run) for run in sorted(runs_of_main(main), key=lambda run: run.giving_up))
    if name == NEVER:
        (told,) = [
            x for x in steps_never_reached(runs.loaded, main.id, [*made]) if f" {step} " in x
        ]
        assert "mine.yaml:" in told
        return
    fault = next(f for result in made for f in result.faults if f.step == step and name in f.name)
    assert fault.place.startswith("mine.yaml:") and fault.trace


def test_there_are_sixty_of_them_over_the_whole_family() -> None:
    assert len({row[:2] for row in BROKEN}) >= 60
    mains = {path.stem for path in procedure_files() if load_procedure(path)[0].role == "main"}
    assert {row[0] for row in BROKEN} == mains - {"clean-above"}
