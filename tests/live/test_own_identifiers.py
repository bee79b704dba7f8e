"""Identifiers that a user brings: a strict table; shown, and not used but for a proven pressure."""

from dataclasses import replace
from pathlib import Path

import pytest
from steplatch.runner.input.findings import BadFile
from steplatch.runner.live.own_identifiers import OwnRow, load_own, row_of, row_text
from steplatch.runner.live.proving import Proof, against_gauge, at_zero
from steplatch.runner.live.raw_log import replay
from steplatch.runner.live.report import lines
from steplatch.runner.live.requests import DataByIdentifier, question

from tests.live.bench import IDLING, Bench

PRESSURE = """\
identifiers:
  - id: "22 2001"
    name: pressure over the filter
    origin: found beside the own gauge on this van, technician-1, 2026-02-11
    answer_bytes: 2
    field: {at: 0, bytes: 2, signed: true, scale: "1/10", unit: mbar, range: ["-20", "1000"]}
    every_s: 1.0
    feeds: pressure
    zero: {raw: "0003", says: "0.3"}
    check: {raw: "00D6", says: "21.4", read: "20.9", instrument: own gauge, by: technician-1,
            on: "2026-02-11"}
"""
SHOWN = """\
identifiers:
  - id: "22 2001"
    name: pressure over the filter
    origin: a list of unknown origin, held against nothing
    answer_bytes: 2
    field: {at: 0, bytes: 2, signed: true, scale: "1/10", unit: mbar, range: ["-20", "1000"]}
    every_s: 0.5
"""


def brought(folder: Path, text: str) -> tuple[OwnRow, ...]:
    path = folder / "own.yaml"
    path.write_text(text, encoding="utf-8")
    return load_own(path)


def bench(rows: tuple[OwnRow, ...], log: Path | None = None, *faults: str) -> Bench:
    out = Bench(faults, log=log, own=rows)
    out.say(IDLING)
    out.run(25)
    return out


def asked(of: Bench) -> list[int]:
    """The maker's identifiers that were asked for, one for each question."""
    questions = [question(f.data[1 : 1 + f.data[0]]) for _, f in of.sent if not f.data[0] >> 4]
    return [q.dids[0] for q in questions if isinstance(q, DataByIdentifier) and q.dids[0] < 0xF000]


def test_a_pressure_that_was_checked_takes_the_place_of_the_standards(tmp_path: Path) -> None:
    for faults in ((), ("no_pressure",)):
        of = bench(brought(tmp_path, PRESSURE), None, *faults)
        track = of.connection.witness.tracks["delta_pa"]
        assert track.milli % 10_000 == 0, "tenths of a mbar: the maker's, not the standard's"
        assert track.milli / 1000 == pytest.approx(2100, abs=200)
        assert 15 <= len(asked(of)) <= 26, "once a second"


def test_a_row_that_was_held_against_nothing_is_shown_and_feeds_nothing(tmp_path: Path) -> None:
    rows = brought(tmp_path, SHOWN)
    of = bench(rows, None, "no_pressure")
    witness, car = of.connection.witness, of.connection.car
    assert car is not None and "delta_pa" not in witness.tracks
    assert witness.tracks["own_2001"].milli / 1000 == pytest.approx(21.0, abs=2.0)
    text = "\n".join(lines(car, witness, rows))
    assert "pressure over the filter (22 2001, yours): " in text and "shown, not used" in text


def test_it_is_proven_in_the_job_like_the_standards(tmp_path: Path) -> None:
    of = Bench(["no_pressure"], own=brought(tmp_path, PRESSURE))
    of.speed = 0.0
    of.run(40)
    samples = of.connection.recorder.take_samples()
    assert at_zero(samples, 0) is Proof.ZERO_SEEN
    assert against_gauge(Proof.ZERO_SEEN, 2100, 2000, 100) is Proof.PROVEN


def test_the_raw_log_decides_the_same_without_the_file(tmp_path: Path) -> None:
    log = tmp_path / "raw.log"
    of = bench(brought(tmp_path, PRESSURE), log)
    digest = of.close_link()
    again = replay(log.read_bytes())
    assert again.digest == digest and list(again.happenings) == of.told
    assert again.witness.tracks["delta_pa"] == of.connection.witness.tracks["delta_pa"]
    assert (
        b"held against" not in log.read_bytes()
        and b"found beside the own gauge" in log.read_bytes()
    )


def test_it_takes_one_question_in_five_at_most_and_none_while_the_gun_is_open(
    tmp_path: Path,
) -> None:
    four = [SHOWN.replace("2001", f"200{n}").partition("\n")[2] for n in range(1, 5)]
    rows = brought(tmp_path, "identifiers:\n" + "".join(four))
    of = Bench(own=rows)
    of.say(IDLING)
    of.run(15)
    begin = len(of.sent)
    of.run(20)
    sent = [f for _, f in of.sent[begin:] if not f.data[0] >> 4]
    mine = [f for f in sent if f.data[1] == 0x22]
    assert 0.1 < len(mine) / len(sent) <= 0.2
    of.say(replace(IDLING, gun_open=True, permits=frozenset({"spray_running"})))
    of.run(1)
    begin = len(of.sent)
    of.run(5)
    assert not [f for _, f in of.sent[begin:] if f.data[1] == 0x22]
    assert of.connection.witness.engine == "running"


def test_one_that_the_vehicle_does_not_know_is_given_up_and_says_nothing_of_the_link(
    tmp_path: Path,
) -> None:
    of = bench(brought(tmp_path, SHOWN.replace("2001", "2777")))
    assert len(asked(of)) == 3
    assert of.connection.witness.engine == "running" and of.what("trip") == []


def wrong(text: str, old: str, new: str) -> str:
    assert text.count(old) == 1, old
    return text.replace(old, new)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"22 2001"', '"22 F47A"', "standard's"),
        ('"22 2001"', '"22 F190"', "who the vehicle is"),
        ('"22 2001"', '"2E 2001"', "id"),
        ("technician-1, 2026-02-11\n    answer_bytes", "\n    answer_bytes", "origin"),
        ('says: "21.4"', 'says: "214"', "says 21.4"),
        ('read: "20.9"', 'read: "209"', "does not bear it out"),
        ('zero: {raw: "0003", says: "0.3"}', 'zero: {raw: "0064", says: "10"}', "from nil"),
        ('    zero: {raw: "0003", says: "0.3"}\n', "", "a zero and a check"),
        ("unit: mbar", "unit: bar", "a pressure stands"),
        ("every_s: 1.0", "every_s: 5.0", "oftener"),
        ("every_s: 1.0", "every_s: 0.1", "every_s"),
        ("answer_bytes: 2\n", "answer_bytes: 1\n", "ends behind"),
        ('["-20", "1000"]', '["1000", "-20"]', "upside down"),
        ("feeds: pressure", "feeds: engine", "feeds"),
        ("feeds: pressure", "writes: 5", "writes"),
    ],
)
def test_a_table_that_does_not_add_up_is_refused_with_its_place(
    old: str, new: str, said: str, tmp_path: Path
) -> None:
    text = wrong(PRESSURE, old, new)
    if "technician-1, 2026" in old:
        text = text.replace("found beside the own gauge on this van, ", "me")
    with pytest.raises(BadFile) as bad:
        brought(tmp_path, text)
    found = " ".join(f"{f.key} {f.problem}" for f in bad.value.findings)
    assert said in found and all(f.line > 1 for f in bad.value.findings)


def test_two_rows_of_one_identifier_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="twice"):
        brought(tmp_path, PRESSURE + PRESSURE.partition("\n")[2])


def test_a_row_comes_back_from_the_log_as_it_was(tmp_path: Path) -> None:
    for text in (PRESSURE, SHOWN):
        (row,) = brought(tmp_path, text)
        assert row_of(row_text(row)) == row and row_text(row).isascii()


def test_none_is_shipped() -> None:
    """No YAML file of the program, its procedures or examples is such a table."""
    root = Path(__file__).parents[2]
    texts = [p.read_text(encoding="utf-8")
             for room in ("runner", "safety", "procedures", "examples")
             for p in (root / room).rglob("*.yaml")]  # fmt: skip
    assert len(texts) > 20
    assert not [t for t in texts if '"22 ' in t and "every_s" in t]
