"""The pages of the guide: their commands run, their generated files are up to date; ``help``."""

import re
import shlex
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main, parser
from steplatch.runner.screen.terms import terms

from tests.test_contracts import ROOT
from tests.upkeep.write_guide import GUIDE, files

PAGES = sorted(GUIDE.glob("*.md"))
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.M | re.S)


@pytest.mark.parametrize("name", sorted(files()))
def test_a_generated_file_is_up_to_date(name: str) -> None:
    assert (GUIDE / name).read_text(encoding="utf-8") == files()[name]


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_command_of_a_page_runs_with_the_files_that_the_page_gives(
    page: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STEPLATCH_DATA", str(tmp_path / "data"))
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    (tmp_path / "data" / "jobs").mkdir(parents=True, mode=0o700)
    (tmp_path / "data").chmod(0o700)
    (tmp_path / "data" / "settings.yaml").write_text("keep_personal_months: 72\n")
    for kind, text in BLOCK.findall(page.read_text(encoding="utf-8")):
        if kind == "yaml" and (named := re.match(r"# file: (\S+)\n", text)):
            (tmp_path / named[1]).write_text(text, encoding="utf-8")
        for line in text.splitlines() if kind == "sh" else ():
            words = shlex.split(line)
            assert words[0] == "steplatch"
            assert main(words[1:]) == exits.OK, f"{line}: {capsys.readouterr()}"
    if page.name == "logs.md":
        shown = capsys.readouterr().out
        assert shown.count("as_expected") + shown.count("flows as expected") >= 2
    for link in re.findall(r"\]\(([\w./-]+)\)", page.read_text(encoding="utf-8")):
        assert (page.parent / link).exists(), link


def test_without_the_map_the_log_is_refused_and_the_message_tells_of_the_map(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["steady", str(GUIDE / "before.csv")]) == exits.BAD_FILE
    assert "--columns" in capsys.readouterr().err


def test_help_explains_commands_terms_and_codes(capsys: pytest.CaptureFixture[str]) -> None:
    for topic, said in (
        ([], "run-on"),
        (["ledger"], "upper bound of all fluid"),
        (["hold", "point"], "named role signs"),
        (["audit"], "usage: steplatch audit"),
        (["exit-codes"], "another program has the job open"),
        (["terms"], "95 % range: in 95 of 100"),
        (["manual"], ".SH EXIT STATUS"),
    ):
        assert main(["help", *topic]) == exits.OK
        assert said in capsys.readouterr().out, topic
    assert main(["help", "ledg"]) == exits.USAGE
    assert "Near it: ledger" in capsys.readouterr().err


def test_the_manual_names_every_command_and_no_line_of_it_is_a_request_by_accident(
    capsys: pytest.CaptureFixture[str],
) -> None:
    main(["help", "manual"])
    page = capsys.readouterr().out
    requests = {line.split()[0] for line in page.splitlines() if line.startswith((".", "'"))}
    assert requests == {".TH", ".SH", ".TP", ".B", ".I", ".RS", ".RE"}
    for name in re.findall(r"\{(.*?)\}", parser().format_usage()) or ["practise,audit,doctor"]:
        for command in name.split(","):
            assert f".B {command}" in page


def test_no_term_is_explained_twice_and_none_ends_like_a_sentence() -> None:
    lowered = [term.lower() for term in terms()]
    assert len(set(lowered)) == len(lowered)
    assert not [term for term, said in terms().items() if said.endswith(".")]
