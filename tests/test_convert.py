"""The first form is refused with the command that converts it, and comes back step for step."""

from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.converting import NotTheSame, converted_text, new_id
from steplatch.runner.cli.main import main
from steplatch.runner.core.loading import load_kept, load_procedure, load_written_out
from steplatch.runner.input.findings import BadFile

FIRST = sorted((Path(__file__).parent / "first_form").glob("*.yaml"))


@pytest.mark.parametrize("path", FIRST, ids=lambda p: p.stem)
def test_every_step_comes_back_as_it_was(path: Path, tmp_path: Path) -> None:
    text = converted_text(path)
    assert max(len(line) for line in text.split("\n")) <= 100
    assert len(text) < 0.75 * len(path.read_text("utf-8"))
    out = tmp_path / path.name
    out.write_text(text, "utf-8")
    before, after = load_kept(path)[0], load_written_out(out, judged=False)[0]
    assert len(before.steps()) > 10
    for old, new in zip(before.steps(), after.steps(), strict=True):
        assert old.model_copy(update={"id": new_id(old.id)}) == new
    if before.role == "main":
        assert after.applies_to == "any vehicle" and before.applies_to in after.purpose
        kept = {"applies_to": before.applies_to, "purpose": before.purpose}
        after = after.model_copy(update=kept)
    heads = [p.model_dump(exclude={"stages", "return_to", "return_with_fluid"}) for p in
             (before, after)]  # fmt: skip
    assert heads[0] == heads[1]
    for one, other in zip(before.stages, after.stages, strict=True):
        assert (one.id, one.title, one.done) == (other.id, other.title, other.done)


def test_the_points_that_recoveries_come_back_to_are_on_their_stages(tmp_path: Path) -> None:
    for path in FIRST:
        (tmp_path / path.name).write_text(converted_text(path), "utf-8")
    main_one = load_written_out(tmp_path / "clean-above.yaml", judged=False)[0]
    recovery = load_written_out(tmp_path / "recovery-overdose.yaml", judged=False)[0]
    assert recovery.missing_points(main_one) == ()
    assert main_one.returned_to("before-fluid") == "secured"
    assert main_one.returned_to("fluid-in") == "run-hands"


def test_the_first_form_is_refused_with_the_command_that_converts_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "old.yaml"
    path.write_bytes(FIRST[0].read_bytes())
    with pytest.raises(BadFile) as bad:
        load_procedure(path)
    (found,) = bad.value.findings
    assert f"steplatch procedure convert {path}" in found.remedy
    assert main(["procedure", "convert", str(path)]) == exits.OK
    assert "come back as they were" in capsys.readouterr().out
    load_written_out(path, judged=False)
    assert (tmp_path / "old.yaml.first-form").read_bytes() == FIRST[0].read_bytes()
    assert main(["procedure", "convert", str(path)]) == exits.BAD_FILE


def test_nothing_is_written_where_a_step_would_change(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from steplatch.runner.cli import converting

    path = tmp_path / "old.yaml"
    path.write_bytes(FIRST[1].read_bytes())
    monkeypatch.setattr(converting, "_conditions", lambda step: ())
    with pytest.raises(NotTheSame, match="would not come back"):
        converted_text(path)
    assert main(["procedure", "convert", str(path)]) == exits.FAILED
    assert path.read_bytes() == FIRST[1].read_bytes()
