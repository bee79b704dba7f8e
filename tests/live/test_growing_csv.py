"""The growing file of a logger is a second source with the same reducer."""

from dataclasses import replace
from pathlib import Path
from random import Random

from steplatch.runner.live.connection import Need, Quiet
from steplatch.runner.live.frames import Addressing
from steplatch.runner.live.growing_csv import GrowingCsv
from steplatch.runner.live.link import Cause
from steplatch.runner.live.raw_log import RawLog, replay
from steplatch.runner.live.samples import Happening, Said

HEADER = "Time [s];Speed [1/min];Filter pressure [mbar];Coolant [degC]\n"
IDLING = Said(0, engine="idling", ceiling_rpm=2500, idle_rpm=820)


class Logged:
    """A logger that writes, and the program that follows, on one virtual clock."""

    def __init__(self, folder: Path, header: str = HEADER) -> None:
        self.path = folder / "drive.csv"
        self.raw = folder / "raw.log"
        self.now_ms = 0
        self.path.write_text(header, encoding="utf-8")
        log = RawLog(self.raw, Addressing.BITS_11)
        self.source = GrowingCsv(self.path, lambda: self.now_ms, log=log)
        self.told: list[Happening] = []
        self.rng = Random(4)

    def write(self, text: str) -> None:
        with self.path.open("a", encoding="utf-8") as file:
            file.write(text)

    def rows(self, count: int, rpm: float) -> None:
        for _ in range(count):
            speed = rpm + self.rng.gauss(0, 6) if rpm else 0
            self.write(f"{self.now_ms / 1000:.1f};{speed:.0f};22.5;86\n")
            self.pass_ms(100)

    def pass_ms(self, ms: int) -> None:
        for _ in range(max(1, ms // 100)):
            self.now_ms += min(100, ms)
            self.told += self.source.step()

    def what(self, kind: str) -> list[str]:
        return [h.what for h in self.told if h.kind.value == kind]


def test_a_growing_file_feeds_the_same_facts_and_trips(tmp_path: Path) -> None:
    logged = Logged(tmp_path)
    logged.source.messages.put(IDLING)
    logged.pass_ms(100)
    assert logged.source.link.cause is Cause.FIRST_ASKS
    logged.rows(30, 820)
    assert logged.source.link.cause is Cause.ANSWERS
    assert logged.source.witness.engine == "running"
    assert logged.source.witness.tracks["delta_pa"].milli == 2_250_000
    assert logged.source.witness.tracks["coolant_degc"].milli == 86_000
    logged.rows(3, 2900)
    assert logged.what("trip") == ["over_ceiling"]
    logged.rows(3, 0)
    assert logged.what("trip") == ["over_ceiling", "stalled"]
    told, digest = logged.source.close()
    again = replay(logged.raw.read_bytes())
    assert again.digest == digest
    assert list(again.happenings) == logged.told + told


def test_what_stood_in_the_file_before_is_history_and_not_now(tmp_path: Path) -> None:
    logged = Logged(tmp_path, HEADER + "0.0;820;22.5;86\n" * 50)
    logged.pass_ms(500)
    assert logged.source.witness.tracks == {}


def test_half_a_row_waits_for_its_end(tmp_path: Path) -> None:
    logged = Logged(tmp_path)
    logged.pass_ms(100)
    logged.write("0.1;82")
    logged.pass_ms(100)
    assert logged.source.witness.tracks == {}
    logged.write("0;22.5;86\n")
    logged.pass_ms(100)
    assert logged.source.witness.tracks["speed_rpm"].milli == 820_000


def test_a_logger_that_stops_writing_is_silence(tmp_path: Path) -> None:
    logged = Logged(tmp_path)
    logged.rows(10, 820)
    logged.pass_ms(4000)
    assert logged.source.link.cause is Cause.FELL_SILENT
    assert logged.source.witness.engine == "unknown"
    assert logged.what("trip") == []


def test_a_file_that_is_not_there_or_goes_away_is_told(tmp_path: Path) -> None:
    missing = GrowingCsv(tmp_path / "none.csv", lambda: 0)
    missing.step()
    assert missing.link.cause is Cause.CANNOT_OPEN
    logged = Logged(tmp_path)
    logged.rows(10, 820)
    logged.path.unlink()
    logged.pass_ms(100)
    assert logged.source.link.cause is Cause.ADAPTER_LOST


def test_rows_that_cannot_be_read_end_the_link_with_a_word(tmp_path: Path) -> None:
    logged = Logged(tmp_path)
    logged.rows(5, 820)
    logged.write("0.1;many;22.5;86\n")
    logged.pass_ms(100)
    assert logged.source.link.cause is Cause.ADAPTER_GARBLED
    assert "many" in logged.source.problem
    logged.rows(5, 820)
    assert logged.source.link.cause is Cause.ANSWERS


def test_a_logger_that_writes_many_rows_at_once_is_a_slow_refresh(tmp_path: Path) -> None:
    logged = Logged(tmp_path)
    logged.source.messages.put(IDLING)
    for _ in range(15):
        for row in range(20):
            logged.write(f"{row};{820 + logged.rng.gauss(0, 8):.0f};22.5;86\n")
        logged.pass_ms(1900)
    refresh = logged.source.witness.tracks["speed_rpm"].refresh_ms
    assert refresh is not None and refresh >= 1900
    logged.source.messages.put(replace(IDLING, gun_open=True))
    logged.pass_ms(100)
    assert logged.source.witness.sag == "too_slow"


def test_a_logger_is_not_asked_and_read_whether_there_is_a_need_or_not(tmp_path: Path) -> None:
    logged = Logged(tmp_path)
    for message in (IDLING, Need(), Quiet.KEY_BOXED):
        logged.source.messages.put(message)
    logged.rows(30, 820)
    assert logged.source.witness.engine == "running"


def test_a_slow_logger_is_a_slow_refresh(tmp_path: Path) -> None:
    logged = Logged(tmp_path)
    logged.source.messages.put(IDLING)
    for second in range(20):
        logged.write(f"{second};{820 + logged.rng.gauss(0, 8):.0f};22.5;86\n")
        logged.pass_ms(1000)
    refresh = logged.source.witness.tracks["speed_rpm"].refresh_ms
    assert refresh is not None and refresh >= 1000
