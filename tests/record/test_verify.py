"""What a check finds: every changed byte, every moved, dropped, added or foreign line, a cut."""

import hashlib
import json
from pathlib import Path
from random import Random

import pytest
from steplatch.runner.record import (
    Disk,
    FindingGrade,
    FindingKind,
    JournalBroken,
    JournalFailed,
    JournalWriter,
    NotRecordable,
    read,
    verify,
)
from steplatch.runner.record import line as line_module
from steplatch.runner.record.findings import _MEANING, HEAD_LAG
from steplatch.runner.record.head import HEAD_BYTES, decode_head
from steplatch.runner.record.verify import MAX_FINDINGS

from tests.record.forged_journals import forge, kinds_of
from tests.record.sample_jobs import (
    HEADER,
    JOB,
    OTHER_JOB,
    UnsyncedDisk,
    add_line,
    at_ms,
    lines_of,
    make_job,
    put_lines,
)


def _overwrite(path: Path, data: bytes) -> None:
    """Change a file in place: much quicker than making it anew thousands of times."""
    with path.open("r+b") as file:
        file.write(data)
        file.truncate()


def test_an_untouched_journal_has_no_findings_and_reads_back_what_was_written(
    tmp_path: Path,
) -> None:
    folder = make_job(tmp_path, 4)
    found = verify(folder)
    assert (found.grade, found.lines, found.findings) == (FindingGrade.INTACT, 4, ())
    lines = list(read(folder))
    assert [line.envelope.seq for line in lines] == [1, 2, 3, 4]
    assert lines[-1].sha256 == found.sha256 == hashlib.sha256(lines_of(folder)[-1]).hexdigest()
    assert lines[1].envelope.times == at_ms(2000)
    assert lines[1].envelope.header == HEADER
    assert lines[1].command == {"report": "sprayed", "seconds": "6.5", "number": 2}


@pytest.mark.parametrize("name", ["journal.jsonl", "head"])
def test_every_single_bit_change_of_every_byte_is_found(tmp_path: Path, name: str) -> None:
    folder = make_job(tmp_path, 2)
    path = folder / name
    whole = path.read_bytes()
    missed = []
    for at in range(len(whole)):
        for bit in range(8):
            changed = bytearray(whole)
            changed[at] ^= 1 << bit
            _overwrite(path, bytes(changed))
            if verify(folder).grade is not FindingGrade.BROKEN:
                missed.append((at, bit))
    assert len(whole) > 100
    assert missed == []


@pytest.mark.parametrize("name", ["journal.jsonl", "head"])
@pytest.mark.parametrize("byte", [b"\n", b"\0"])
def test_every_byte_replaced_or_preceded_by_a_telling_one_is_found(
    tmp_path: Path, name: str, byte: bytes
) -> None:
    folder = make_job(tmp_path, 2)
    path = folder / name
    whole = path.read_bytes()
    for at in range(len(whole)):
        for changed in (whole[:at] + byte + whole[at + 1 :], whole[:at] + byte + whole[at:]):
            if changed != whole:
                _overwrite(path, bytes(changed))
                assert verify(folder).grade is FindingGrade.BROKEN, (at, changed)


@pytest.mark.parametrize("name", ["journal.jsonl", "head"])
def test_every_single_byte_taken_out_is_found(tmp_path: Path, name: str) -> None:
    folder = make_job(tmp_path, 2)
    path = folder / name
    whole = path.read_bytes()
    for at in range(len(whole)):
        _overwrite(path, whole[:at] + whole[at + 1 :])
        assert verify(folder).grade is FindingGrade.BROKEN, at


def test_a_head_is_behind_by_no_more_lines_than_a_loss_of_power_takes_back(tmp_path: Path) -> None:
    folder = make_job(tmp_path, HEAD_LAG + 2)
    for counted, kind in ((2, FindingKind.HEAD_BEHIND), (1, FindingKind.HEAD_FAR_BEHIND)):
        (tmp_path / str(counted)).mkdir()
        old = make_job(tmp_path / str(counted), counted) / "head"
        _overwrite(folder / "head", old.read_bytes())
        assert kinds_of(verify(folder)) == {kind}
    with pytest.raises(JournalBroken):
        JournalWriter.open(folder, HEADER, UnsyncedDisk())


def test_a_head_that_was_cut_off_while_it_was_overwritten_is_no_tampering(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 3)
    (tmp_path / "2").mkdir()
    old = (make_job(tmp_path / "2", 2) / "head").read_bytes()
    new = (folder / "head").read_bytes()
    seen: set[FindingKind] = set()
    for at in range(len(new) + 1):
        _overwrite(folder / "head", new[:at] + old[at:])
        seen |= kinds_of(verify(folder))
        with JournalWriter.open(folder, HEADER, UnsyncedDisk()):
            assert (folder / "head").read_bytes() == new
    assert seen == {FindingKind.HEAD_BEHIND}
    for at in range(0, len(new), 7):
        _overwrite(folder / "head", new[:at] + bytes([new[at] ^ 1]) + old[at + 1 :])
        assert verify(folder).grade is FindingGrade.BROKEN, at


def test_a_head_as_earlier_programs_wrote_it_is_read_and_brought_to_its_size(
    tmp_path: Path,
) -> None:
    folder = make_job(tmp_path, 2)
    new = (folder / "head").read_bytes()
    _overwrite(folder / "head", new.rstrip(b"\n") + b"\n")
    assert not verify(folder).findings
    JournalWriter.open(folder, HEADER, UnsyncedDisk()).close()
    assert (folder / "head").read_bytes() == new and len(new) == HEAD_BYTES


def test_most_lines_are_read_without_parsing_their_envelope_and_as_strictly(
    tmp_path: Path,
) -> None:
    raws = lines_of(make_job(tmp_path, 3))
    assert all(line_module._read(raw, "x") is not None for raw in raws)
    chance, quick, strict = Random(3), 0, 0
    for _ in range(6000):
        raw = bytearray(chance.choice(raws))
        at = chance.randrange(len(raw))
        match chance.randrange(4):
            case 0:
                raw[at] = chance.randrange(256)
            case 1:
                raw[at:at] = chance.choice(
                    (b" ", b"0", b'"', b",", b"\\u0041", b"\xc3\xa4", b"1e5")
                )
            case 2:
                del raw[at : at + chance.randrange(1, 4)]
            case _:
                raw[at : at + 1] = chance.choice((b"-1", b"01", b"null", b"[]", b"{}", b"\n"))
        got = line_module._read(bytes(raw), "x")
        try:
            expected = line_module.line_from(line_module.decode_fields(bytes(raw)), "x")
        except line_module.Unreadable:
            assert got is None, bytes(raw)
            strict += 1
        else:
            assert got in (expected, None)
            quick += got is not None
    assert quick > 500 and strict > 2000


def test_a_cut_at_any_byte_of_the_last_two_lines_opens_or_reports_as_promised(
    tmp_path: Path,
) -> None:
    folder = make_job(tmp_path, 3)
    heads = {}
    for count in (1, 2, 3):
        (tmp_path / str(count)).mkdir()
        heads[count] = (make_job(tmp_path / str(count), count) / "head").read_bytes()
    assert heads[3] == (folder / "head").read_bytes()
    whole = (folder / "journal.jsonl").read_bytes()
    ends = [0]
    for raw in lines_of(folder):
        ends.append(ends[-1] + len(raw))
    for size in range(ends[1], ends[3] + 1):
        for counted, head in heads.items():
            if counted == 1 and size % 9:
                continue  # all of these are one case: a head more than one line behind
            _overwrite(folder / "journal.jsonl", whole[:size])
            _overwrite(folder / "head", head)
            lines = max(number for number in range(4) if ends[number] <= size)
            found = verify(folder)
            expected = {FindingKind.HEAD_BEHIND} if lines > counted else set()
            if size > ends[lines]:
                expected.add(FindingKind.TORN_TAIL)
            if lines < counted:
                expected = {FindingKind.HEAD_AHEAD}
            assert kinds_of(found) == expected, (size, counted)
            if found.grade is FindingGrade.BROKEN:
                if size % 9:
                    continue
                with pytest.raises(JournalBroken):
                    JournalWriter.open(folder, HEADER, UnsyncedDisk())
                assert (folder / "journal.jsonl").read_bytes() == whole[:size]
                continue
            with JournalWriter.open(folder, HEADER, UnsyncedDisk()) as writer:
                assert writer.head.lines == lines
                assert {item.kind for item in writer.findings} == expected
            assert (folder / "journal.jsonl").read_bytes() == whole[: ends[lines]]
            torn = whole[ends[lines] : size]
            assert [path.read_bytes() for path in folder.glob("torn-*")] == [torn] * bool(torn)
            (folder / "torn-1").unlink(missing_ok=True)


def test_dropped_swapped_doubled_and_added_lines_are_found_where_they_are(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 5)
    lines = lines_of(folder)
    cases = {
        "dropped": (lines[:2] + lines[3:], 3),
        "swapped": ([*lines[:1], lines[2], lines[1], *lines[3:]], 2),
        "doubled": ([*lines[:3], lines[2], *lines[3:]], 4),
        "first dropped": (lines[1:], 1),
    }
    for name, (changed, where) in cases.items():
        put_lines(folder, changed)
        found = verify(folder)
        assert {FindingKind.SEQUENCE, FindingKind.CHAIN} <= kinds_of(found), name
        assert found.findings[0].line == where, name
    put_lines(folder, lines[:4])
    assert kinds_of(verify(folder)) == {FindingKind.HEAD_AHEAD}
    put_lines(folder, [])
    assert kinds_of(verify(folder)) == {FindingKind.HEAD_AHEAD}


def test_a_line_of_another_job_is_found_even_with_a_fitting_chain(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 3)
    other = make_job(tmp_path, 3, OTHER_JOB)
    lines = lines_of(folder)
    forge(folder, [lines[0], lines_of(other)[1], lines[2]])
    found = verify(folder)
    assert [(item.kind, item.line) for item in found.findings] == [(FindingKind.OTHER_JOB, 2)]
    put_lines(folder, lines_of(other))
    (folder / "head").write_bytes((other / "head").read_bytes())
    assert kinds_of(verify(folder)) == {FindingKind.OTHER_JOB, FindingKind.HEAD_OF_OTHER_JOB}


def _edited(raw: bytes, old: bytes, new: bytes) -> bytes:
    assert raw.count(old) == 1
    return raw.replace(old, new)


@pytest.mark.parametrize(
    ("old", "new", "kind"),
    [
        (b'"number":2', b'"number":2,"number":2', FindingKind.DUPLICATE_KEY),
        (b'"number":2', b'"number": 2', FindingKind.NOT_CANONICAL),
        (b'"number":2', b'"numbe\\u0072":2', FindingKind.NOT_CANONICAL),
        (b'"number":2', b'"number":2e0', FindingKind.NOT_CANONICAL),
        (b'"number":2', b'"number":NaN', FindingKind.NOT_JSON),
        (b'"number":2', b'"number":"\\ud800"', FindingKind.NOT_JSON),
        (b'"number":2', b'"number":', FindingKind.NOT_JSON),
        (b'"number":2', b'"number":' + b"[" * 5000, FindingKind.WRONG_MEMBERS),
        (b'"number":2', b'"number":' + b"[" * 100_000 + b"]" * 100_000, FindingKind.WRONG_MEMBERS),
        (b'"number":2', b'"number":' + b"9" * 5000, FindingKind.NOT_JSON),
        ("größer".encode(), b"gr\xf6\xdfer", FindingKind.NOT_UTF8),
        (b'"schema":2', b'"schema":3', FindingKind.UNKNOWN_SCHEMA),
        (b'"schema":2', b'"schema":true', FindingKind.UNKNOWN_SCHEMA),
        (b'"actor":"anna",', b"", FindingKind.WRONG_MEMBERS),
        (b'"actor":"anna",', b'"actor":"anna","more":1,', FindingKind.WRONG_MEMBERS),
        (
            b'"actor":"anna","role":"technician"',
            b'"role":"technician","actor":"anna"',
            FindingKind.WRONG_MEMBERS,
        ),
        (b'"actor":"anna"', b'"actor":""', FindingKind.WRONG_MEMBERS),
        (b'"actor":"anna"', b'"actor":7', FindingKind.WRONG_MEMBERS),
        (b'"seq":2', b'"seq":true', FindingKind.WRONG_MEMBERS),
        (b'"monotonic_ms":2000', b'"monotonic_ms":-1', FindingKind.WRONG_MEMBERS),
        (b'"utc":"2025-01-31T', b'"utc":"2025-01-31 ', FindingKind.WRONG_MEMBERS),
        (b'"zone":"+01:00"', b'"zone":"CET"', FindingKind.WRONG_MEMBERS),
        (b'"rules_sha256":"cd', b'"rules_sha256":"CD', FindingKind.WRONG_MEMBERS),
        (b'"seq":2', b'"seq":4', FindingKind.SEQUENCE),
    ],
)  # fmt: skip
def test_a_line_made_by_other_means_is_found_even_with_a_fitting_chain(
    tmp_path: Path, old: bytes, new: bytes, kind: FindingKind
) -> None:
    folder = make_job(tmp_path, 3)
    lines = lines_of(folder)
    lines[1] = _edited(lines[1], old, new)
    forge(folder, lines)
    found = verify(folder)
    assert found.findings[0].kind is kind
    assert found.findings[0].line == 2
    assert found.grade is FindingGrade.BROKEN
    with pytest.raises(JournalBroken) as caught:
        list(read(folder))
    assert [item.kind for item in caught.value.findings] == [kind]


def test_a_line_that_is_json_but_no_object_is_found(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 2)
    put_lines(folder, [b"[]\n", *lines_of(folder)[1:]])
    assert {FindingKind.WRONG_MEMBERS, FindingKind.CHAIN} <= kinds_of(verify(folder))


def test_a_line_longer_than_any_this_program_writes_is_found_without_reading_on(
    tmp_path: Path,
) -> None:
    folder = make_job(tmp_path, 2)
    for end in (b"", b"\n"):
        put_lines(folder, [*lines_of(folder)[:2], b"x" * 3_000_000 + end])
        assert FindingKind.LINE_TOO_LONG in kinds_of(verify(folder))
        with pytest.raises(JournalBroken):
            list(read(folder))


def test_a_file_full_of_faults_stops_at_a_stated_number_of_findings(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 2)
    put_lines(folder, [b"rubbish\n"] * 5000)
    found = verify(folder)
    assert FindingKind.MORE in kinds_of(found)
    assert len(found.findings) < MAX_FINDINGS + 10


def test_a_missing_unreadable_or_foreign_head_is_found(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 2)
    head = (folder / "head").read_bytes()
    (folder / "head").unlink()
    assert kinds_of(verify(folder)) == {FindingKind.HEAD_MISSING}
    for rubbish in (b"", b"{}\n", b"[1]\n", b"\xff\n", head[:-1], head + b"\n", b" " * 5000,
                    head.replace(b'"lines":2', b'"lines":2.0'), b"[" * 900,
                    head.replace(b'"lines":2', b'"lines":0')):  # fmt: skip
        (folder / "head").write_bytes(rubbish)
        assert kinds_of(verify(folder)) == {FindingKind.HEAD_UNREADABLE}, rubbish
        assert decode_head(rubbish) is None
    (folder / "head").write_bytes(head.replace(JOB.encode(), OTHER_JOB.encode()))
    assert kinds_of(verify(folder)) == {FindingKind.HEAD_OF_OTHER_JOB}


def test_a_missing_journal_beside_a_head_is_broken_and_a_missing_folder_is_said(
    tmp_path: Path,
) -> None:
    folder = make_job(tmp_path, 2)
    (folder / "journal.jsonl").unlink()
    assert kinds_of(verify(folder)) == {FindingKind.JOURNAL_MISSING}
    with pytest.raises(JournalBroken):
        JournalWriter.open(folder, HEADER)
    with pytest.raises(JournalFailed, match="not there"):
        verify(tmp_path / OTHER_JOB)
    with pytest.raises(JournalFailed, match="not there"):
        JournalWriter.open(tmp_path / OTHER_JOB, HEADER)
    assert not (tmp_path / OTHER_JOB).exists()
    with pytest.raises(NotRecordable, match="not a job id"):
        verify(tmp_path / "EXAMPLE 1")


def test_zeros_that_a_power_loss_left_for_the_uncounted_line_are_torn_not_tampered(
    tmp_path: Path,
) -> None:
    folder = make_job(tmp_path, 2)
    journal = folder / "journal.jsonl"
    whole = journal.read_bytes()
    for tail in (b"\0" * 600, b"\0" * 300 + b'me":1}}\n'):
        journal.write_bytes(whole + tail)
        found = verify(folder)
        assert (kinds_of(found), found.lines) == ({FindingKind.TORN_TAIL}, 2)
    journal.write_bytes(whole + b"\0\n\0\n")
    assert verify(folder).grade is FindingGrade.BROKEN


def test_bytes_added_at_the_end_that_begin_no_next_line_are_never_excused_as_torn(
    tmp_path: Path,
) -> None:
    folder = make_job(tmp_path, 2)
    journal = folder / "journal.jsonl"
    whole = journal.read_bytes()
    first, second = lines_of(folder)
    for tail in (b"\n", b" ", b"note", b"note\n", first, first[:300], second[:300], b"{}\n"):
        journal.write_bytes(whole + tail)
        found = verify(folder)
        assert (found.grade, found.lines >= 2) == (FindingGrade.BROKEN, True), tail
        with pytest.raises(JournalBroken):
            JournalWriter.open(folder, HEADER)
        assert journal.read_bytes() == whole + tail


def test_an_uncounted_last_line_that_is_whole_but_edited_is_not_excused_as_torn(
    tmp_path: Path,
) -> None:
    folder = make_job(tmp_path, 2)
    head = (folder / "head").read_bytes()
    with JournalWriter.open(folder, HEADER, UnsyncedDisk()) as writer:
        add_line(writer, 3)
    (folder / "head").write_bytes(head)
    assert kinds_of(verify(folder)) == {FindingKind.HEAD_BEHIND}
    lines = lines_of(folder)
    put_lines(folder, [*lines[:2], lines[2].replace(b'"number":3', b'"number": 3')])
    found = verify(folder)
    assert (FindingKind.NOT_CANONICAL in kinds_of(found), found.grade) == (
        True,
        FindingGrade.BROKEN,
    )


def test_a_counted_line_that_cannot_be_read_is_never_excused_as_torn(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 2)
    lines = lines_of(folder)
    put_lines(folder, [lines[0], b"\0" * (len(lines[1]) - 1) + b"\n"])
    found = verify(folder)
    assert {FindingKind.NOT_JSON, FindingKind.HEAD_DIFFERS} <= kinds_of(found)
    assert found.grade is FindingGrade.BROKEN


def test_a_running_clock_that_goes_back_is_noted_but_another_boot_is_not(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 2)
    with JournalWriter.open(folder, HEADER, UnsyncedDisk()) as writer:
        writer.append("anna", "technician", {}, {}, at_ms(1500))
    found = verify(folder)
    assert [(item.kind, item.line) for item in found.findings] == [(FindingKind.CLOCK_WENT_BACK, 3)]
    assert found.grade is FindingGrade.NOTE and found.sound
    lines = lines_of(folder)
    lines[2] = lines[2].replace(b'"boot":"boot-1"', b'"boot":"boot-2"')
    forge(folder, lines)
    assert verify(folder).findings == ()


def test_a_journal_that_grows_while_it_is_read_is_not_taken_for_broken(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 2)
    writer = JournalWriter.open(folder, HEADER, UnsyncedDisk())

    class MeanwhileWritten(Disk):
        done = False

        def open(self, path: Path, flags: int) -> int:
            if path.name == "journal.jsonl" and not self.done:
                self.done = True
                add_line(writer, 3)
                add_line(writer, 4)
            return super().open(path, flags)

    found = verify(folder, MeanwhileWritten())
    writer.close()
    assert (kinds_of(found), found.grade, found.lines) == (
        {FindingKind.BEING_WRITTEN},
        FindingGrade.NOTE,
        4,
    )
    assert verify(folder).grade is FindingGrade.INTACT


def test_reading_stops_at_the_first_line_that_does_not_follow(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 4)
    lines = lines_of(folder)
    put_lines(folder, [lines[0], lines[1].replace(b'"6.5"', b'"5.5"'), *lines[2:]])
    given = []
    with pytest.raises(JournalBroken) as caught:
        for line in read(folder):
            given.append(line.envelope.seq)
    assert given == [1, 2]
    assert [(item.kind, item.line) for item in caught.value.findings] == [(FindingKind.CHAIN, 3)]
    assert "line 3" in str(caught.value) and "May mean" in str(caught.value.findings[0])


def test_reading_ends_before_a_torn_line(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 2)
    with (folder / "journal.jsonl").open("ab") as journal:
        journal.write(b'{"prev":"')
    assert [line.envelope.seq for line in read(folder)] == [1, 2]


def test_each_kind_of_finding_says_what_it_may_mean_and_what_to_do() -> None:
    assert set(_MEANING) == set(FindingKind)
    for _, may_mean, remedy in _MEANING.values():
        assert may_mean and remedy


def test_a_line_holds_exactly_the_members_fixed_from_the_first_version(tmp_path: Path) -> None:
    raw = lines_of(make_job(tmp_path, 1))[0]
    assert raw.decode("utf-8") == (
        '{"prev":"' + "0" * 64 + '","schema":2,"job":"2025-01-31-k3f7qa2m","seq":1,'
        '"utc":"2025-01-31T14:05:09.123Z","zone":"+01:00","monotonic_ms":1000,'
        '"boottime_ms":1000,"boot":"boot-1","actor":"anna","role":"technician",'
        '"procedure":"filter-clean","revision":"3","procedure_sha256":"' + "ab" * 32 + '",'
        '"program":"0.1.0","rules_sha256":"'
        + "cd" * 32
        + '","judge_sha256":"'
        + "de" * 32
        + '","files_sha256":"'
        + "ef" * 32
        + '",'
        '"command":{"report":"sprayed","seconds":"6.5","number":1},'
        '"outcome":{"events":[{"event":"wet_raised","dose_ml":"7.8"}],"note":"größer"}}\n'
    )
    assert json.loads(raw)["outcome"]["note"] == "größer"
