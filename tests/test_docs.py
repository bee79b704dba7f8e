"""The README says what the program does: commands, exit codes, and nothing that it must not."""

import argparse
import re
import subprocess
import sys
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import parser

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def _commands() -> dict[str, argparse.ArgumentParser]:
    action = next(a for a in parser()._actions if isinstance(a, argparse._SubParsersAction))
    return dict(action.choices)


def test_every_exit_code_stands_in_the_readme_with_its_meaning() -> None:
    rows = dict(re.findall(r"^\| (\d+) \| (.+?) \|$", README, re.M))
    assert rows == {str(code): text for code, text in exits.MEANINGS.items()}


def test_every_command_stands_in_the_readme() -> None:
    aliases = {"practice", "continue"}
    for name in set(_commands()) - aliases:
        assert f"`steplatch {name}" in README, name


def test_every_command_says_what_it_does_and_gives_an_example() -> None:
    for name, command in _commands().items():
        assert command.description, name
        assert command.epilog and command.epilog.startswith("example: steplatch "), name


@pytest.mark.parametrize("name", sorted(_commands()))
def test_help_of_each_command_works(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        parser().parse_args([name, "--help"])
    assert ended.value.code == 0
    assert "example: steplatch" in capsys.readouterr().out.replace("\n", " ")


def test_files_that_the_docs_name_exist() -> None:
    for page in ("README.md", "DEVELOPERS.md", "procedures/README.md"):
        text = (ROOT / page).read_text(encoding="utf-8")
        for name in re.findall(
            r"`((?:safety|runner|procedures|examples|tests|\.ci)/[\w./-]*)`", text
        ):
            assert (ROOT / name).exists(), f"{page} names {name}"


def test_a_person_is_told_when_there_is_no_terminal(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "steplatch.runner.cli", "--data", str(tmp_path), "practise"],
        cwd=ROOT,
        input="",
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == exits.NO_TERMINAL
    assert "no terminal" in done.stdout + done.stderr


def test_no_text_claims_a_safety_integrity_or_performance_level() -> None:
    claim = re.compile(r"\bSIL ?[1-4]\b|\bPL ?[a-e]\b|safety integrity level", re.I)
    for path in [*ROOT.glob("runner/**/*.py"), *ROOT.glob("safety/**/*.py"),
                 *ROOT.glob("procedures/*.yaml"), ROOT / "README.md"]:  # fmt: skip
        assert not claim.search(path.read_text(encoding="utf-8")), path


def test_the_help_of_audit_names_each_grade_with_its_exit_code(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit):
        parser().parse_args(["audit", "--help"])
    said = " ".join(capsys.readouterr().out.split())
    assert "good (0)" in said
    for code in (exits.AUDIT_OLDER, exits.AUDIT_CANNOT, exits.AUDIT_BROKEN):
        assert f"{exits.MEANINGS[code].removeprefix('audit: ')} ({code})" in said


@pytest.mark.parametrize(
    "words",
    [
        ("practise", "--seed", "４"),
        ("practise", "--seed", "1_000"),
        ("practise", "--speed", "٦٠"),
        ("practise", "--speed", "inf"),
        ("practise", "--speed", "nan"),
        ("dose", "--displacement", "2.0 L", "--cylinders", "४"),
        ("dose", "--displacement", "2.0 L", "--cylinders", "4", "--ratio", "1e1"),
        ("customer", "keep", "７２"),
        ("jobs", "--since", "２０２６-03-01"),
    ],
)
def test_numbers_of_the_command_line_are_digits_0_to_9(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        parser().parse_args(words)
    assert ended.value.code == exits.USAGE
    assert "write it like" in capsys.readouterr().err
