"""What one terminal hands on as an answer: never a part of a paste, never a control character."""

import io
import os
import threading
import time
from pathlib import Path

import pytest
from steplatch.runner.cli.main import main
from steplatch.runner.record import NotRecordable, find_data_folder
from steplatch.runner.screen.terminal.keyboard import Keyboard, NotTaken, clean
from steplatch.runner.screen.terminal.keys import Keys
from steplatch.runner.screen.terminal.plain_lines import PlainLines

pty = pytest.importorskip("pty")


@pytest.mark.parametrize("apart_s", [0.0, 0.02, 0.04])
def test_lines_that_follow_each_other_faster_than_anybody_types_are_all_dropped(
    apart_s: float,
) -> None:
    master, slave = pty.openpty()
    with os.fdopen(slave, "r+b", buffering=0) as raw, io.TextIOWrapper(raw) as stdin:
        keyboard = Keyboard(stdin)

        def paste() -> None:
            for line in (b"1\n", b"2\n", b"3\n"):
                os.write(master, line)
                time.sleep(apart_s)

        typing = threading.Thread(target=paste)
        typing.start()
        with pytest.raises(NotTaken, match="at once"):
            keyboard.line()
        typing.join()
        assert keyboard.line_within(0.1) is None, "nothing of it is left for the next question"
        os.write(master, b"4\n")
        assert keyboard.line() == "4"
    os.close(master)


def test_a_terminal_that_marks_pastes_is_not_waited_for_and_its_paste_is_one_line_or_none() -> None:
    master, slave = pty.openpty()
    shown: list[str] = []
    with os.fdopen(slave, "r+b", buffering=0) as raw, io.TextIOWrapper(raw) as stdin:
        keys = Keys(stdin)
        keys.take()
        try:
            os.write(master, b"1\n")
            began = time.monotonic()
            assert keys.typed_within(1.0, shown.append) == "1"
            careful = time.monotonic() - began
            os.write(master, b"\x1b[?2004;1$y")
            assert keys.key_within(0.2) is None, "its answer is no key"
            os.write(master, b"\x1b[200~2.5\x1b[201~ mbar\n")
            began = time.monotonic()
            assert keys.typed_within(1.0, shown.append) == "2.5 mbar"
            assert careful >= 0.03 > time.monotonic() - began
            os.write(master, b"\x1b[200~1\n2\n\x1b[201~")
            with pytest.raises(NotTaken, match="at once"):
                keys.typed_within(1.0, shown.append)
            assert keys.typed_within(0.1, shown.append) is None and not keys.typed
        finally:
            keys.give_back()
    os.close(master)


@pytest.mark.parametrize("raw", [b"\x1b[31mred", b"a\x07", b"\xe2\x80\xaeback", b"\x9b1m", b"\xff"])
def test_what_a_terminal_would_obey_is_no_answer_and_is_not_shown_again(raw: bytes) -> None:
    with pytest.raises(NotTaken) as why:
        clean(raw + b"\n")
    assert str(why.value).isprintable()


def test_a_terminal_of_ascii_shows_every_sign_as_something() -> None:
    out = io.TextIOWrapper(io.BytesIO(), encoding="ascii", errors="strict")
    PlainLines(io.StringIO(), out).say("64 °C, ±0.1 mbar … größer → Ω \u202e")
    out.flush()
    assert b"64" in out.buffer.getvalue()  # type: ignore[attr-defined]


@pytest.mark.parametrize("named", ["", "   ", "\x1b[2J", "a\x00b", "~nobody-of-this-name/x", "\n"])
def test_an_odd_name_of_the_data_folder_is_refused_in_words(
    named: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(NotRecordable):
        find_data_folder(None, {"STEPLATCH_DATA": named})
    if "\x00" not in named:
        monkeypatch.setenv("STEPLATCH_DATA", named)
        assert main(["jobs"]) != 0
        said = capsys.readouterr().err
        assert "STEPLATCH_DATA" in said and all(line.isprintable() for line in said.splitlines())


def test_a_data_folder_that_is_a_file_is_refused_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("x")
    monkeypatch.setenv("STEPLATCH_DATA", str(tmp_path / "file"))
    assert main(["jobs"]) in (0, 7)
    assert "Traceback" not in capsys.readouterr().err
