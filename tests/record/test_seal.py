"""The seal, the workshop's keys, and what a check finds after any change."""

import json
import random
import shutil
import stat
from pathlib import Path

import pytest
from steplatch.runner.record import JobFolder, JournalWriter, NotRecordable, verify
from steplatch.runner.record.faults import JournalFailed
from steplatch.runner.record.head import Head, encode_head
from steplatch.runner.record.keys import (
    KeyFolder,
    NoKey,
    PublicKey,
    SigningKey,
    public_from_pem,
    short_key,
)
from steplatch.runner.record.seal import (
    PUBLIC_KEY,
    SIGNATURE,
    STATEMENT,
    Statement,
    check_seal,
    make_seal,
)

from tests.record.failing_disk import FailingDisk
from tests.record.sample_jobs import HEADER, OTHER_JOB, lines_of, make_job, put_lines

VECTORS = json.loads((Path(__file__).parent / "rfc8032_7_1.json").read_text())["vectors"]
TIME = "2025-01-31T15:00:00Z"
KEY = SigningKey(bytes(range(32)))


def sealed(parent: Path, lines: int = 6) -> JobFolder:
    folder = JobFolder(make_job(parent, lines))
    make_seal(folder, verify(folder.path), "finished", "at the end", TIME, KEY)
    return folder


@pytest.mark.parametrize("vector", VECTORS, ids=lambda v: v["name"])
def test_the_published_signatures_come_out_of_the_code_that_seals(vector: dict[str, str]) -> None:
    key = SigningKey(bytes.fromhex(vector["secret_key"]))
    message = bytes.fromhex(vector["message"])
    assert key.public.raw.hex() == vector["public_key"]
    assert key.sign(message).hex() == vector["signature"]
    assert key.public.verifies(key.sign(message), message)
    assert not key.public.verifies(key.sign(message), message + b"x")


def test_a_sealed_job_checks_good_and_says_whose_key(tmp_path: Path) -> None:
    folder = sealed(tmp_path)
    chain = verify(folder.path)
    assert check_seal(folder, chain).known_key is None
    assert check_seal(folder, chain, (KEY.public,)).known_key is True
    other = check_seal(folder, chain, (SigningKey(b"x" * 32).public,))
    assert other.state == "good" and other.known_key is False
    assert "does not know" in other.lines()[0]


def test_the_same_job_sealed_at_the_same_time_gives_the_same_bytes(tmp_path: Path) -> None:
    files = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        room = sealed(tmp_path / name).path / "seal"
        files.append([(room / f).read_bytes() for f in (STATEMENT, SIGNATURE, PUBLIC_KEY)])
    assert files[0] == files[1]


def test_a_tail_cut_after_sealing_is_found_even_with_a_head_that_fits(tmp_path: Path) -> None:
    folder = sealed(tmp_path, 6)
    for kept in (5, 4, 3, 2, 1):
        put_lines(folder.path, lines_of(folder.path)[:kept])
        cut = verify(folder.path)
        folder.head.write_bytes(encode_head(Head(folder.id, kept, cut.sha256)))
        chain = verify(folder.path)
        assert chain.sound  # the chain alone is content
        found = check_seal(folder, chain)
        assert found.state == "broken" and "cut off" in found.findings[0]


def test_a_journal_written_anew_from_line_one_is_found(tmp_path: Path) -> None:
    folder = sealed(tmp_path, 6)
    (tmp_path / "anew").mkdir()
    anew = make_job(tmp_path / "anew", 5)
    for name in ("journal.jsonl", "head"):
        shutil.copy(anew / name, folder.path / name)
    chain = verify(folder.path)
    assert chain.sound and check_seal(folder, chain).state == "broken"


def test_a_seal_of_another_job_is_found(tmp_path: Path) -> None:
    folder = sealed(tmp_path)
    other = JobFolder(make_job(tmp_path, 6, OTHER_JOB))
    shutil.copytree(folder.path / "seal", other.path / "seal")
    found = check_seal(other, verify(other.path))
    assert found.state == "broken" and "another job" in " ".join(found.findings)


def test_every_changed_byte_of_the_seal_is_found(tmp_path: Path) -> None:
    """Each byte of statement and signature in three ways; of the key, where it is not padding."""
    folder = sealed(tmp_path)
    chain = verify(folder.path)
    drawn = random.Random(8032)
    tried = 0
    for name in (STATEMENT, SIGNATURE):
        path = folder.path / "seal" / name
        whole = path.read_bytes()
        for at in range(len(whole)):
            for flip in (1, 0x80, drawn.randrange(1, 256)):
                path.write_bytes(whole[:at] + bytes([whole[at] ^ flip]) + whole[at + 1 :])
                assert check_seal(folder, chain).state == "broken", (name, at, flip)
                tried += 1
        path.write_bytes(whole)
    assert tried > 800
    (folder.path / "seal" / PUBLIC_KEY).write_bytes(SigningKey(b"y" * 32).public.pem)
    assert check_seal(folder, chain).state == "broken"


@pytest.mark.parametrize("name", [STATEMENT, SIGNATURE, PUBLIC_KEY])
def test_a_file_of_the_seal_taken_away_or_emptied_is_found(tmp_path: Path, name: str) -> None:
    folder = sealed(tmp_path)
    path = folder.path / "seal" / name
    path.write_bytes(b"")
    assert check_seal(folder, verify(folder.path)).state == "broken"
    path.unlink()
    found = check_seal(folder, verify(folder.path))
    assert found.state == "broken" and name in found.findings[0]


def test_no_line_is_added_to_a_sealed_job(tmp_path: Path) -> None:
    folder = sealed(tmp_path)
    with pytest.raises(NotRecordable, match="sealed"):
        JournalWriter.open(folder.path, HEADER)


def test_only_a_job_that_has_ended_with_a_sound_chain_is_sealed_and_only_once(
    tmp_path: Path,
) -> None:
    folder = JobFolder(make_job(tmp_path, 3))
    with pytest.raises(NotRecordable, match="not ended"):
        make_seal(folder, verify(folder.path), "", "later", TIME, KEY)
    lines = lines_of(folder.path)
    put_lines(folder.path, lines[1:])
    with pytest.raises(NotRecordable, match="not sound"):
        make_seal(folder, verify(folder.path), "finished", "later", TIME, KEY)
    put_lines(folder.path, lines)
    make_seal(folder, verify(folder.path), "abandoned", "later", TIME, KEY)
    with pytest.raises(NotRecordable, match="already"):
        make_seal(folder, verify(folder.path), "abandoned", "later", TIME, KEY)


def test_a_disk_that_fails_at_any_call_leaves_no_half_seal(tmp_path: Path) -> None:
    """The seal is whole or not there; sealing again afterwards makes it whole."""
    for call in range(1, 40):
        (tmp_path / str(call)).mkdir()
        folder = JobFolder(make_job(tmp_path / str(call), 3))
        chain = verify(folder.path)
        disk = FailingDisk(call)
        try:
            make_seal(folder, chain, "finished", "at the end", TIME, KEY, disk)
        except JournalFailed:
            found = check_seal(folder, chain)
            assert found.state in ("none", "good")
            if found.state == "none":
                make_seal(folder, chain, "finished", "later", TIME, KEY)
                assert check_seal(folder, chain).state == "good"
        else:
            assert check_seal(folder, chain).state == "good"
            if not disk.struck:  # it came to its end before the call that was to fail
                assert call > 12
                return
    raise AssertionError("sealing never came to its end")


def test_a_statement_has_one_form_only() -> None:
    said = Statement(
        "2025-01-31-k3f7qa2m", 3, "ab" * 32, "finished", "later", TIME, KEY.public.short
    )
    raw = said.to_bytes()
    assert Statement.from_bytes(raw) == said
    for wrong in (raw + b"\n", raw[:-1], raw.replace(b"later", b"never"), b"\xff" + raw, b""):
        with pytest.raises(ValueError):
            Statement.from_bytes(wrong)


# -- keys --------------------------------------------------------------------------------------


def test_a_key_is_kept_closed_and_opens_again(tmp_path: Path) -> None:
    keys = KeyFolder(tmp_path / "keys")
    public = keys.make(b"k" * 32)
    assert stat.S_IMODE(keys.private.stat().st_mode) == 0o600
    assert keys.open().public == public and keys.public_keys() == (public,)
    with pytest.raises(NotRecordable, match="already"):
        keys.make(b"l" * 32)


def test_a_new_key_leaves_the_old_public_half_in_place(tmp_path: Path) -> None:
    keys = KeyFolder(tmp_path / "keys")
    old, new = keys.make(b"k" * 32), keys.make(b"l" * 32, again=True)
    assert {k.raw for k in keys.public_keys()} == {old.raw, new.raw}
    assert keys.open().public == new


def test_a_passphrase_is_needed_where_one_was_set(tmp_path: Path) -> None:
    keys = KeyFolder(tmp_path / "keys")
    keys.make(b"k" * 32, "correct horse")
    assert keys.locked()
    for wrong in (None, "", "battery"):
        with pytest.raises(NoKey, match="passphrase"):
            keys.open(wrong)
    assert keys.open("correct horse").public.short == SigningKey(b"k" * 32).public.short


def test_a_missing_or_damaged_key_says_what_to_do(tmp_path: Path) -> None:
    keys = KeyFolder(tmp_path / "keys")
    with pytest.raises(NoKey, match="steplatch key new"):
        keys.open()
    keys.make(b"k" * 32)
    keys.private.write_bytes(b"no key at all")
    with pytest.raises(NoKey, match="--again"):
        keys.open()
    (keys.path / "public" / "zz.pem").write_bytes(b"no key")
    with pytest.raises(NoKey, match="backup"):
        keys.public_keys()


def test_a_key_shows_nothing_of_itself() -> None:
    assert (b"k" * 32).hex() not in repr(SigningKey(b"k" * 32))
    assert short_key(KEY.public.raw) == KEY.public.short
    assert public_from_pem(KEY.public.pem) == PublicKey(KEY.public.raw, KEY.public.pem)
