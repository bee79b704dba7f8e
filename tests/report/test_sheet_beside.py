"""The second process that draws: what it gives is what is drawn here, and its end is said."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli import sheet as commands_sheet
from steplatch.runner.cli.main import main
from steplatch.runner.sheet import to_pdf
from steplatch.runner.sheet.beside import Beside, DrawingFailed
from steplatch.runner.sheet.content import pictures_to_come
from steplatch.runner.sheet.html_page import to_html
from steplatch.runner.sheet.plots import plot_svg

from tests.played import Played
from tests.report.sample_sheets import EVERY_JOB, record_of, sheet_of


@pytest.fixture(scope="module")
def beside() -> Iterator[Beside]:
    with Beside() as one:
        yield one


def test_the_second_process_gives_the_very_bytes_that_are_made_here(beside: Beside) -> None:
    for name, part in (("good", "customer"), ("draft", "all")):
        sheet = sheet_of(name)
        beside.expect(pictures_to_come(record_of(name)))
        beside.ask(sheet, part, pdf=True)
        drawn = beside.pictures()
        assert drawn == {picture: plot_svg(picture) for picture in sheet.pictures(part)}
        assert to_html(sheet, part, drawn.__getitem__) == to_html(sheet, part)
        assert beside.pdf() == to_pdf(sheet, part)


@pytest.mark.parametrize("name", [*EVERY_JOB, "hostile"])
def test_the_pictures_known_before_the_audit_are_those_of_the_sheet(name: str) -> None:
    assert set(pictures_to_come(record_of(name))) == set(sheet_of(name).pictures())


def test_a_fault_there_is_told_here_and_the_process_still_answers(beside: Beside) -> None:
    beside.ask(sheet_of("empty"), "no such part", pdf=False)
    with pytest.raises(DrawingFailed, match="no part 'no such part'"):
        beside.pictures()
    beside.ask(sheet_of("empty"), "customer", pdf=False)
    assert beside.pictures() == {}


def test_a_process_that_was_ended_is_told_with_a_remedy() -> None:
    with Beside() as beside:
        beside._process.kill()
        beside._process.wait()
        with pytest.raises(DrawingFailed, match=r"ended from outside .* try again"):
            beside.ask(sheet_of("good"), "all", pdf=True)
            beside.pictures()
    assert beside._process.returncode is not None


def test_the_command_says_that_the_drawing_ended_and_leaves_no_process_behind(
    good: Played,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    begun: list[Beside] = []

    class EndedAtOnce(Beside):
        def __init__(self) -> None:
            super().__init__()
            begun.append(self)
            self._process.kill()
            self._process.wait()

    monkeypatch.setattr("steplatch.runner.sheet.beside.Beside", EndedAtOnce)
    monkeypatch.setattr(commands_sheet, "_worth_it", lambda args: True)
    data = str(good.folder.path.parents[1])
    page = tmp_path / "x.html"
    code = main(["--data", data, "sheet", good.folder.id, "--customer", "--html", str(page)])
    assert code == exits.FAILED
    assert "ended from outside" in capsys.readouterr().err
    assert not page.exists() and begun[0]._process.returncode is not None


def test_where_no_second_process_can_be_started_the_sheet_is_drawn_in_this_one(
    good: Played,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refuse() -> Beside:
        raise OSError(11, "Resource temporarily unavailable")

    monkeypatch.setattr("steplatch.runner.sheet.beside.Beside", refuse)
    monkeypatch.setattr(commands_sheet, "_worth_it", lambda args: True)
    data, page = str(good.folder.path.parents[1]), tmp_path / "x.html"
    code = main(["--data", data, "sheet", good.folder.id, "--customer", "--html", str(page)])
    assert code == exits.OK and page.exists()
    assert "note: drawn in one process" in capsys.readouterr().err
