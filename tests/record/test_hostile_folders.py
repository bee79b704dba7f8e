"""A folder that somebody else made stops no reader: pipes, devices, bombs, lines of odd content."""

import hashlib
import os
import random
import shutil
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.record import JobFolder

from tests.attacks.malformed import lines_of, malformed, put
from tests.attacks.readers import READERS, read_all, run
from tests.played import Played


@pytest.fixture
def copy(good: Played, quick: Path) -> JobFolder:
    folder = quick / "data" / "jobs" / good.folder.id
    shutil.copytree(good.folder.path, folder)
    return JobFolder(folder)


FILES = ("journal.jsonl", "head", "personal.json", "practice.json", "hold.json")


KINDS = ("pipe", "folder", "link to a device", "link to a pipe")
ODD = [
    pytest.param(name, kind, marks=[] if name == FILES[0] or kind == KINDS[0] else pytest.mark.slow)
    for name in (*FILES, "texts")
    for kind in KINDS
]
"""By default each kind in the journal's place, and a pipe in each place."""


@pytest.mark.parametrize(("name", "kind"), ODD)
def test_no_odd_kind_of_file_hangs_or_crashes_a_reader(
    copy: JobFolder, quick: Path, name: str, kind: str
) -> None:
    path = copy.path / name
    if name == "texts":
        path = min(path.iterdir())
    path.unlink(missing_ok=True)
    os.mkfifo(quick / "pipe")
    match kind:
        case "pipe":
            os.mkfifo(path)
        case "folder":
            path.mkdir()
        case "link to a device":
            path.symlink_to("/dev/zero")
        case _:
            path.symlink_to(quick / "pipe")
    for ran in read_all(quick / "data", copy.id):
        assert not ran.trace, (ran.command, ran.trace)  # a hang is one: a busy machine is not


def test_a_text_that_grows_when_it_is_read_is_refused_and_takes_no_memory(
    copy: JobFolder, quick: Path
) -> None:
    """Nine doublings of a list by aliases: 391 bytes that a plain loader makes gigabytes of."""
    bomb = "label: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
        f"{b}: &{b} [{', '.join(['*' + a] * 9)}]\n"
        for a, b in zip("abcdefgh", "bcdefghi", strict=True)
    )
    raw = bomb.encode()
    digest = hashlib.sha256(raw).hexdigest()
    (copy.path / "texts" / f"{digest}.yaml").write_bytes(raw)
    lines = lines_of(copy.journal)
    lines[0]["command"]["files"]["vehicle"] = digest
    for event in lines[0]["outcome"]["events"]:
        if event["kind"] == "Opened":
            event["files"]["vehicle"] = digest
    put(copy.path, copy.id, lines)
    listed = run("jobs", ["--data", str(quick / "data"), "jobs", copy.id])
    assert not listed.trace and listed.code == exits.OK
    for ran in read_all(quick / "data", copy.id):
        assert not ran.trace, (ran.command, ran.trace)


@pytest.mark.parametrize(
    "seed", [pytest.param(n, marks=pytest.mark.slow if n >= 5 else []) for n in range(12)]
)
def test_lines_of_odd_content_in_a_fitting_chain_are_findings_with_their_place(
    copy: JobFolder, quick: Path, seed: int
) -> None:
    """The long run of the same: ``python -m tests.attacks``."""
    lines = malformed(lines_of(copy.journal), random.Random(seed))
    put(copy.path, copy.id, lines)
    for ran in read_all(quick / "data", copy.id):
        assert not ran.trace, (ran.command, ran.trace)
        if ran.code not in (exits.OK, exits.FAILED):
            assert "line " in ran.said or ran.command == "jobs", ran.said


@pytest.mark.parametrize("value", [5, None, [], {"readings": 3}, {"quantity": "pressure"}])
def test_a_record_of_a_wrong_form_names_its_line_in_every_reader(
    copy: JobFolder, quick: Path, value: object
) -> None:
    lines = lines_of(copy.journal)
    at, event = next(
        (number, event)
        for number, line in enumerate(lines, start=1)
        for event in line["outcome"]["events"]
        if event["kind"] == "Recorded"
    )
    event["value"] = value
    put(copy.path, copy.id, lines)
    assert set(READERS) >= {"audit", "export"}
    for ran in read_all(quick / "data", copy.id):
        assert not ran.trace, (ran.command, ran.trace)
    audit = run("audit", ["--data", str(quick / "data"), "audit", copy.id])
    assert audit.code == exits.AUDIT_BROKEN and f"line {at}" in audit.said


@pytest.mark.parametrize("events", [1.5, True, None, "x", {"kind": "Ended"}])
def test_events_that_are_no_list_are_a_finding_in_every_reader(
    copy: JobFolder, quick: Path, events: object
) -> None:
    lines = lines_of(copy.journal)
    lines[40]["outcome"]["events"] = events
    put(copy.path, copy.id, lines)
    for ran in read_all(quick / "data", copy.id):
        assert not ran.trace, (ran.command, ran.trace)
