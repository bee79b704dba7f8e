"""Stages that a procedure takes from another one: what comes with them, and what is refused."""

from pathlib import Path

import pytest
from steplatch.runner.core.loading import load_kept, load_procedure, load_written_out
from steplatch.runner.input.findings import BadFile
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.runner.input.strict_yaml import FileText

BELOW = PROCEDURES / "clean-below.yaml"
TEXT = BELOW.read_text("utf-8")


def test_a_borrowed_stage_is_that_stage_step_for_step() -> None:
    above, below = load_procedure(PROCEDURES / "clean-above.yaml")[0], load_procedure(BELOW)[0]
    mine = {stage.id: stage for stage in below.stages}
    taken = [stage.id for stage in above.stages]
    assert [mine[name] for name in taken] == list(above.stages)
    assert [stage.id for stage in below.stages if stage.id in taken] == taken


def test_what_a_job_keeps_of_it_rests_on_no_other_file() -> None:
    procedure, _, kept = load_written_out(BELOW)
    assert load_kept(FileText("kept.yaml", kept))[0] == procedure


def _own(folder: Path, old: str, new: str) -> list[str]:
    path = folder / "mine.yaml"
    assert old in TEXT
    path.write_text(TEXT.replace(old, new, 1), "utf-8")
    try:
        load_procedure(path)
    except BadFile as bad:
        return [str(one) for one in bad.findings]
    return []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("codes: clean-above", "codes: clean-abuv", "there is no procedure 'clean-abuv'"),
        ("codes: clean-above", "coedes: clean-above", "Did you mean 'codes'"),
        ("codes: clean-above", "codes: clean-below", "no stage 'codes' written out"),
        ("codes: clean-above", "codes: clean-above\n    done: Done.", "steps"),
        ("codes: clean-above", "codes: clean-above\n    stepps: [hands-clear]", "'stepps' cannot"),
        ("  dosed_off:", "  dry: {fluid_in: yes}\n  dosed_off:", "'dry' means something else"),
        ("  - codes: clean-above", "  - take-in: clean-above\n  - codes: clean-above", "twice"),
    ],
)  # fmt: skip
def test_a_slip_is_told_at_the_line_that_takes_it(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    told = _own(tmp_path, old, new)
    assert any(said in one and "mine.yaml:" in one for one in told), told


def test_a_condition_and_a_return_point_may_be_added(tmp_path: Path) -> None:
    added = "codes: clean-above\n    when: dry\n    returns: here-too"
    assert _own(tmp_path, "codes: clean-above", added) == []
    procedure = load_procedure(tmp_path / "mine.yaml")[0]
    stage = next(one for one in procedure.stages if one.id == "codes")
    assert stage.returns == ("here-too",)
    assert all(step.when[0].fact == "fluid_in" for step in stage.steps)


def test_the_file_beside_is_meant_before_the_shipped_one(tmp_path: Path) -> None:
    above = (PROCEDURES / "clean-above.yaml").read_text("utf-8")
    mine = above.replace("take-in: Take in", "take-in: Come in", 1)
    (tmp_path / "clean-above.yaml").write_text(mine, "utf-8")
    (tmp_path / "mine.yaml").write_text(TEXT, "utf-8")
    assert load_procedure(tmp_path / "mine.yaml")[0].stages[0].title == "Come in"
