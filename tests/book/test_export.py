"""Export: complete, exact, opens elsewhere, runs nothing, and holds no personal value unasked."""

import csv
import io
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from steplatch.runner.cli import exits
from steplatch.runner.cli.book import json_text
from steplatch.runner.cli.main import main
from steplatch.runner.input.resolution import RESOLUTIONS
from steplatch.runner.jobs.csv_cells import harmless, to_csv
from steplatch.runner.jobs.export import COLUMNS, csv_files, export_job, local_time
from steplatch.runner.jobs.projection import fold
from steplatch.runner.record import (
    DataFolder,
    Erased,
    JobFolder,
    JobLock,
    JournalWriter,
    PersonalField,
    create_personal,
    erase_personal,
    read,
    short_head,
)
from steplatch.runner.record.faults import JournalBroken
from steplatch.safety.interlocks import INTERLOCKS

from tests.book.small_jobs import (
    DISK,
    HEADER,
    at,
    data_in,
    ended,
    moved,
    recorded,
    signed,
    small_job,
)
from tests.played import Played

ONE = "2026-01-31-aaaaaaaa"
PLATE, CUSTOMER = "EXAMPLE 17", "Erika Example"
RUNNING = ("=1+1", "+1+1", "-1+1", "@SUM(1)", "\t=1", "\r=1", "\n=1", "\0=1", "＝1", "＋1", "－1",
           "＠x", " =1+1", "\u00a0=1", '=HYPERLINK("http://x")', "-2+3+cmd|' /C calc'!A0", "--1",
           "=", "-", "+00 555 0100", "- not checked")  # fmt: skip


def rows(raw: bytes) -> list[dict[str, str]]:
    """A CSV file as any reader sees it."""
    text = raw.decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


@pytest.mark.parametrize("text", RUNNING)
def test_a_cell_that_a_spreadsheet_could_run_is_made_text(text: str) -> None:
    cell = harmless(text)
    assert cell.startswith("'") and cell.isprintable()


@pytest.mark.parametrize("text", ["-1", "-0.5", "0", "10980.0", "-1.5e-07", "3E8", "1e+16"])
def test_a_plain_number_stays_a_number_the_minus_sign_included(text: str) -> None:
    assert harmless(text) == text
    float(text)


@pytest.mark.parametrize("text", ["1_000", "0x1", "-inf", "nan", "00012", "1,5", ".5", "-.5", "5."])
def test_what_only_looks_like_a_number_is_kept_as_it_was_typed(text: str) -> None:
    assert harmless(text).lstrip("'") == text


@given(st.text(max_size=40))
@settings(max_examples=120, deadline=None)
def test_no_text_at_all_makes_a_cell_that_runs_or_breaks_a_row(text: str) -> None:
    raw = to_csv(("a", "b"), [(text, "end")])
    (row,) = rows(raw)
    assert row["b"] == "end" and raw.count(b"\r\n") == 2
    assert row["a"].isprintable()
    number = row["a"].lstrip("-")[:1].isdigit() and row["a"] == text
    assert number or row["a"].lstrip()[:1] not in tuple("=+-@＝＋－＠")


def test_numbers_of_the_program_keep_every_digit() -> None:
    raw = to_csv(("n", "t"), [(0.1 + 0.2, True), (-3, None)])
    assert [(r["n"], r["t"]) for r in rows(raw)] == [("0.30000000000000004", "true"), ("-3", "")]


def test_an_export_of_a_whole_job_holds_every_line_and_every_signature(good: Played) -> None:
    exported = export_job(good.folder)
    lines = list(read(good.folder.path))
    log = fold(lines).log
    assert [row["sha256"] for row in exported["journal"]] == [line.sha256 for line in lines]
    assert [row["outcome"] for row in exported["journal"]] == [line.outcome for line in lines]
    assert exported["job"]["head"] == lines[-1].sha256 and short_head(exported["job"]["head"])
    tables = exported["tables"]
    assert [r["step"] for r in tables["steps"]] == [m.step for m in log.marks]
    assert [r["person"] for r in tables["signatures"]] == [s.person for s in log.signatures]
    assert len(tables["refusals"]) == sum(len(line.outcome["refused"]) for line in lines)
    names = [r.name for r in log.records if r.value]
    assert list(dict.fromkeys(names)) == list(dict.fromkeys(r["name"] for r in tables["records"]))
    sets = [r for r in log.records if r.name == "reading"]
    pressures = [r for r in tables["readings"] if r["quantity"] == "pressure"]
    assert [r["number"] for r in pressures] == [r.value["pressure_pa"] for r in sets]
    assert json.loads(json_text(exported)) == exported


def test_the_tables_open_elsewhere_with_the_values_of_the_json(good: Played) -> None:
    exported = export_job(good.folder)
    files = csv_files(good.folder, exported)
    assert set(files) == {f"{good.folder.id}-{name}.csv" for name in COLUMNS}
    for name, table in exported["tables"].items():
        raw = files[f"{good.folder.id}-{name}.csv"]
        assert raw.startswith(b"\xef\xbb\xbfjob,seq,utc,local,by,")
        read_back = rows(raw)
        assert len(read_back) == len(table)
        assert all(row["job"] == good.folder.id for row in read_back)
    readings = rows(files[f"{good.folder.id}-readings.csv"])
    assert len(readings) > 20
    for row in readings:
        float(row["number"])
        assert row["in"] in RESOLUTIONS


def odd_job(quick: Path) -> JobFolder:
    """A job with a refusal, changes, a trip, and hostile text."""
    data = data_in(quick)
    folder = small_job(
        data, ONE,
        [recorded("complaint", text="=cmd|' /C calc'!A0"), moved("ignition")],
        [{"kind": "Begun", "step": "ignition", "procedure": "clean-above"}],
        [{"kind": "Done", "step": "ignition", "answer": "-5+3", "by": "apprentice-1",
          "procedure": "clean-above"}],
        [signed("technician-1", "technician")],
        [{"kind": "Corrected", "name": "gun", "number": 0, "was": {"a": "1"}, "now": {"a": "2"},
          "reason": "read the wrong jug", "by": "apprentice-1"}],
        [{"kind": "MarkedNotApplicable", "step": "ash", "reason": "no model here", "by": "t",
          "procedure": "clean-above"}],
        [{"kind": "Waived", "interlock": "row", "reason": "because of it", "asked_by": "a",
          "person": "technician-1", "role": "technician", "how": "pin", "until_ms": 9}],
        [{"kind": "Tripped", "trip": "stalled"}, {"kind": "Held", "why": "stop"}],
    )  # fmt: skip
    with JournalWriter.open(folder.path, HEADER, DISK) as writer:
        refused = [{"interlock": "start-ledger", "about": {}}]
        writer.append("apprentice-1", "apprentice", {"kind": "Begin", "step": "start"},
                      {"events": [], "refused": refused}, at(70, "2026-01-31"))  # fmt: skip
        writer.append("apprentice-1", "apprentice", {"kind": "Tick"},
                      {"events": [ended()], "refused": []}, at(71, "2026-01-31"))  # fmt: skip
    return folder


def test_refusals_changes_and_trips_each_stand_in_their_table(quick: Path) -> None:
    tables = export_job(odd_job(quick))["tables"]
    (refusal,) = tables["refusals"]
    assert (refusal["command"], refusal["asked"]) == ("Begin", "step: start")
    assert refusal["interlock"] == "start-ledger"
    row = next(row for row in INTERLOCKS if row.id == "start-ledger")
    assert (refusal["reason"], refusal["remedy"]) == (row.reason, row.remedy)
    assert [(r["kind"], r["what"], r["reason"]) for r in tables["changes"]] == [
        ("Corrected", "gun", "read the wrong jug"),
        ("MarkedNotApplicable", "ash", "no model here"),
        ("Waived", "row", "because of it"),
    ]
    assert (tables["changes"][0]["was"], tables["changes"][0]["now"]) == ("a: 1", "a: 2")
    assert [(r["kind"], r["what"]) for r in tables["events"]] == [
        ("Tripped", "stalled"),
        ("Held", "stop"),
        ("Ended", "finished"),
    ]
    (signature,) = tables["signatures"]
    assert (signature["name"], signature["how"]) == ("Björn Beispiel", "pin")
    assert (signature["exceptions"], signature["covers"]) == ("alone", "a, b")
    (step,) = tables["steps"]
    assert (step["utc"], step["begun_utc"]) == (
        "2026-01-31T09:00:04.000Z",
        "2026-01-31T09:00:03.000Z",
    )


def test_hostile_text_is_exact_in_the_json_and_harmless_in_the_csv(quick: Path) -> None:
    folder = odd_job(quick)
    exported = export_job(folder)
    assert exported["tables"]["records"][0]["value"] == "=cmd|' /C calc'!A0"
    files = csv_files(folder, exported)
    assert rows(files[f"{ONE}-records.csv"])[0]["value"] == "'=cmd|' /C calc'!A0"
    assert rows(files[f"{ONE}-steps.csv"])[0]["answer"] == "'-5+3"


@pytest.mark.parametrize(
    ("utc", "zone", "local"),
    [
        ("2026-01-31T23:30:00.000Z", "+01:00", "2026-02-01T00:30:00.000+01:00"),
        ("2026-01-31T00:10:00.000Z", "-03:30", "2026-01-30T20:40:00.000-03:30"),
        ("2026-01-31T00:10:00.000Z", "+00:00", "2026-01-31T00:10:00.000+00:00"),
        ("yesterday", "+01:00", "yesterday +01:00"),
        ("2026-01-31T00:10:00.000Z", "", "2026-01-31T00:10:00.000Z "),
    ],
)
def test_each_row_says_the_workshops_own_time_with_its_offset(
    utc: str, zone: str, local: str
) -> None:
    assert local_time(utc, zone) == local


@pytest.fixture
def kept(quick: Path) -> DataFolder:
    """A data folder with one job that keeps a customer's data."""
    folder = odd_job(quick)
    values = {PersonalField.CUSTOMER_NAME: CUSTOMER, PersonalField.REGISTRATION: PLATE}
    with JobLock.take(folder, DISK) as lock:
        create_personal(lock, values, DISK)
    return data_in(quick)


def everything(exported: dict[str, Any], folder: JobFolder) -> str:
    return json_text(exported) + "".join(
        name + raw.decode() for name, raw in csv_files(folder, exported).items()
    )


def test_no_personal_value_is_exported_unless_asked_for_and_the_state_always_is(
    kept: DataFolder,
) -> None:
    folder = kept.job(ONE)
    without = export_job(folder)
    assert PLATE not in everything(without, folder) and CUSTOMER not in everything(without, folder)
    assert without["personal"]["registration"] == {"state": "kept"}
    with_values = export_job(folder, with_personal=True)
    assert with_values["personal"]["registration"] == {"state": "kept", "value": PLATE}
    erased = Erased("supervisor-1", "2026-05-01T00:00:00Z", "asked for")
    with JobLock.take(folder, DISK) as lock:
        erase_personal(lock, [PersonalField.REGISTRATION], erased, DISK)
    after = export_job(folder, with_personal=True)
    assert after["personal"]["registration"]["state"] == "erased"
    assert after["personal"]["registration"]["by"] == "supervisor-1"
    assert PLATE not in everything(after, folder)


def test_a_personal_value_in_free_text_is_pointed_at(quick: Path) -> None:
    data = data_in(quick)
    folder = small_job(data, ONE, [moved("x")], [recorded("advice", text="told erika  EXAMPLE so")])
    with JobLock.take(folder, DISK) as lock:
        create_personal(lock, {PersonalField.CUSTOMER_NAME: CUSTOMER}, DISK)
    assert any("journal lines 3:" in note for note in export_job(folder)["notes"])


def test_a_damaged_record_is_not_exported(quick: Path) -> None:
    folder = odd_job(quick)
    raw = folder.journal.read_bytes()
    folder.journal.write_bytes(raw.replace(b"wrong jug", b"right jug"))
    with pytest.raises(JournalBroken):
        export_job(folder)
    assert main(["--data", str(folder.path.parent.parent), "export", ONE]) == exits.AUDIT_BROKEN


def test_the_command_writes_files_that_only_the_owner_reads_and_names_no_plate(
    kept: DataFolder, quick: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    room = quick / "out" / "tables"
    words = ["--data", str(kept.path), "export", "aaaaaaaa", "--csv", str(room)]
    assert main([*words, "--file", str(quick / "job.json"), "--with-personal"]) == exits.OK
    made = [*room.iterdir(), quick / "job.json"]
    assert len(made) == len(COLUMNS) + 1
    assert all(path.stat().st_mode & 0o777 == 0o600 for path in made)
    names = " ".join(path.name for path in quick.rglob("*")).lower()
    assert "example17" not in names and "example 17" not in names and "erika" not in names
    assert json.loads((quick / "job.json").read_text())["format"] == "steplatch-job-export"
    capsys.readouterr()
    assert main(["--data", str(kept.path), "export", "aaaaaaaa"]) == exits.OK
    assert json.loads(capsys.readouterr().out)["job"]["state"] == "finished"


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("export", "nothing"), exits.NO_SUCH_JOB, "steplatch jobs"),
        (("export", "aaaaaaaa", "--csv", "{file}"), exits.RECORD_FAILED, "not a folder"),
        (("export", "aaaaaaaa", "--file", "{folder}"), exits.FAILED, "no plain file"),
    ],
)
def test_a_wrong_job_file_or_folder_is_said_with_the_remedy(
    kept: DataFolder,
    quick: Path,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
    code: int,
    said: str,
) -> None:
    (quick / "file").write_text("x")
    (quick / "folder").mkdir()
    given = [w.format(file=quick / "file", folder=quick / "folder") for w in words]
    assert main(["--data", str(kept.path), *given]) == code
    assert said in capsys.readouterr().err


def test_json_shows_no_terminal_a_character_that_it_obeys() -> None:
    value = {"a": "\x9b2J \u202e\x7f end\n\U000e0001", "b": "Größe °C"}
    text = json_text(value)
    assert json.loads(text) == value
    assert all(line.isprintable() for line in text.split("\n")) and "Größe °C" in text


def test_a_copied_job_folder_exports_the_same(good: Played, quick: Path) -> None:
    copy = quick / "jobs" / good.folder.id
    shutil.copytree(good.folder.path, copy)
    assert export_job(JobFolder(copy)) == export_job(good.folder)
