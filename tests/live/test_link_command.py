"""The command ``link``, as a person calls it."""

import json
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli import main as command_line
from steplatch.runner.live.frames import Addressing
from steplatch.runner.live.practice_ecu import LINK_FAULTS, VIN
from steplatch.runner.live.raw_log import BadRawLog, RawLog, replay


def main(arguments: list[str]) -> int:
    return command_line.main(["link", *arguments])


def test_without_an_adapter_it_lists_the_ports_and_opens_none(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main([]) == exits.OK
    said = capsys.readouterr().out
    assert "nothing was opened or sent" in said and "Everything works by typing" in said


def test_a_practice_vehicle_is_recorded_and_decoded_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    raw = tmp_path / "drive.raw"
    code = main(["--practice", "--record", str(raw), "--seconds", "3", "--json"])
    first = json.loads(capsys.readouterr().out)
    assert code == exits.OK
    found = {row["channel"]: row["quality"] for row in first["gives"]}
    assert found["speed_rpm"] in ("good", "old"), "old on a machine that is too busy"
    assert found["delta_pa"] in ("not_proven", "old")
    assert first["happenings"]
    assert main(["--replay", str(raw), "--json"]) == exits.OK
    again = json.loads(capsys.readouterr().out)
    assert again["raw_log"] == first["raw_log"]
    assert again["happenings"] == first["happenings"]
    assert again["same_table"] and again["whole"]
    kept = raw.read_bytes()
    assert VIN.encode().hex().upper()[:8].encode() not in kept
    assert b" masked " in kept


def test_plain_words_say_what_the_vehicle_gives(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--practice", "--seconds", "4"]) == exits.OK
    said = capsys.readouterr().out
    for text in (
        "yes  engine speed",
        "pressure over the filter",
        "not proven",
        "fast enough to help the ear",
        "P2463",
        "Unplug the lead",
    ):
        assert text in said
    assert VIN not in said


def test_a_vehicle_that_does_not_answer_ends_in_a_word(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("steplatch.runner.cli.link.WATCH_S", 2.0)
    assert main(["--practice", "--link-fault", "locked"]) == exits.FAILED
    assert "does not let others read" in capsys.readouterr().out


def test_the_faults_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--list-faults"]) == exits.OK
    said = capsys.readouterr().out
    assert all(name in said for name in LINK_FAULTS)


def test_what_is_wrong_with_the_call_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["--practice", "--link-fault", "no-such"]) == exits.USAGE
    assert main(["--adapter", "x", "--per-second", "50"]) == exits.USAGE
    there = tmp_path / "there.raw"
    there.write_text("mine", encoding="utf-8")
    assert main(["--practice", "--record", str(there), "--seconds", "1"]) == exits.BAD_FILE
    assert there.read_text(encoding="utf-8") == "mine", "nothing is written over"
    assert main(["--replay", str(there)]) == exits.BAD_FILE
    assert "no raw log" in capsys.readouterr().err


# -- the raw log itself -----------------------------------------------------------------------


def small(path: Path) -> bytes:
    log = RawLog(path, Addressing.BITS_11)
    log.close(10)
    return path.read_bytes()


def test_an_empty_log_is_whole(tmp_path: Path) -> None:
    again = replay(small(tmp_path / "a.raw"))
    assert again.whole and again.happenings == ()


def test_a_cut_log_is_read_as_far_as_it_goes(tmp_path: Path) -> None:
    data = small(tmp_path / "a.raw")
    again = replay(data[:-3])
    assert not again.whole
    assert again.digest.sha256 != replay(data).digest.sha256


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        (b"x link awake answers", "invalid literal"),
        (b"5 link awake nonsense", "nonsense"),
        (b"5 < 7E8 0", "non-hexadecimal"),
        (b"5 < FFFF 00", "identifier"),
        (b"5 hum", "no kind"),
        (b"5 said engine=idling", "missing"),
        (b"5 sample speed_rpm 1 2", "2"),
        (b"20 end\n5 end", "after"),
        (b"999999999999 end", "later"),
        (b"-5 end", "after"),
    ],
)
def test_a_bad_line_is_refused_with_its_number(tmp_path: Path, line: bytes, problem: str) -> None:
    head = small(tmp_path / "a.raw").split(b"\n")[0]
    with pytest.raises(BadRawLog, match=problem) as bad:
        replay(head + b"\n" + line + b"\n")
    assert bad.value.line in (2, 3)


def test_another_table_is_told(tmp_path: Path) -> None:
    data = small(tmp_path / "a.raw")
    mark = data.split(b"\n")[0].split(b" ")[3]
    assert not replay(data.replace(mark, b"0" * 16)).same_table
