"""Files kept with a job: copied, hashed, cleaned on request, and all that may be wrong."""

import os
import struct
import zlib
from pathlib import Path

import pytest
from PIL import Image
from steplatch.runner.record import JobFolder, JournalFailed, NotRecordable
from steplatch.runner.record.attachments import (
    MAX_FILE_BYTES,
    attachment_path,
    check_attachment,
    keep_file,
)
from steplatch.runner.record.pictures import NotCleanable, kind_of, without_metadata

from tests.record.failing_disk import FailingDisk, Fault
from tests.record.sample_jobs import make_job

GPS = 0x8825
PLACE = b"Nowhere Lane 7"


def jpeg_with_place(path: Path) -> bytes:
    """A real picture by a general-purpose imaging library, with position, comment and device."""
    picture = Image.effect_noise((64, 48), 60)
    exif = Image.Exif()
    exif[0x010F] = "Some Camera"
    exif.get_ifd(GPS).update({1: "N", 2: (51.0, 30.0, 0.0), 3: "W", 4: (0.0, 7.0, 0.0)})
    picture.save(path, "JPEG", exif=exif, comment=PLACE, progressive=True)
    return path.read_bytes()


def png_with_place(path: Path) -> bytes:
    Image.effect_noise((40, 30), 60).save(path, "PNG")
    data = path.read_bytes()
    at = data.index(b"IDAT") - 4
    chunks = b"".join(_chunk(n, PLACE) for n in (b"tEXt", b"iTXt", b"zTXt", b"eXIf", b"tIME"))
    path.write_bytes(data[:at] + chunks + data[at:])
    return path.read_bytes()


def _chunk(name: bytes, body: bytes) -> bytes:
    crc = struct.pack(">I", zlib.crc32(name + body))
    return struct.pack(">I", len(body)) + name + body + crc


def test_place_time_and_device_are_gone_and_every_pixel_stays(tmp_path: Path) -> None:
    for make, name in ((jpeg_with_place, "a.jpg"), (png_with_place, "a.png")):
        source = tmp_path / name
        whole = make(source)
        assert PLACE in whole
        (tmp_path / "clean").write_bytes(without_metadata(whole))
        cleaned = (tmp_path / "clean").read_bytes()
        assert PLACE not in cleaned and b"Some Camera" not in cleaned and b"Exif" not in cleaned
        with Image.open(source) as before, Image.open(tmp_path / "clean") as after:
            assert list(before.tobytes()) == list(after.tobytes())
            assert not after.getexif() and "comment" not in after.info
        assert without_metadata(cleaned) == cleaned


def test_what_stands_behind_the_end_of_a_picture_goes_too(tmp_path: Path) -> None:
    for make in (jpeg_with_place, png_with_place):
        whole = make(tmp_path / "a")
        assert without_metadata(whole + PLACE) == without_metadata(whole)


def test_a_picture_cut_off_anywhere_is_refused_rather_than_half_cleaned(tmp_path: Path) -> None:
    for make in (jpeg_with_place, png_with_place):
        whole = make(tmp_path / "a")
        for length in range(2, len(whole) - 2, 3):
            with pytest.raises(NotCleanable):
                without_metadata(whole[:length])
    with pytest.raises(NotCleanable):
        without_metadata(b"P6 1 1 255 ...")


def test_the_kind_comes_from_the_bytes_and_not_from_the_name(tmp_path: Path) -> None:
    assert kind_of(jpeg_with_place(tmp_path / "photo.txt")) == "jpeg"
    assert kind_of(b"time;mbar\n0;12\n") == "text"
    assert kind_of(b"%PDF-1.7\n\xff") == "pdf"
    assert kind_of(b"\x00\x01") == "other" and kind_of(b"\xff\xfe") == "other"


@pytest.fixture
def folder(tmp_path: Path) -> JobFolder:
    return JobFolder(make_job(tmp_path, 3))


def test_a_file_is_copied_named_by_its_hash_and_checked(folder: JobFolder, tmp_path: Path) -> None:
    source = tmp_path / "ein Foto; rm -rf.jpg"
    whole = jpeg_with_place(source)
    kept = keep_file(folder, source, "  the stub,\n before ")
    path = attachment_path(folder, kept.sha256, kept.kind)
    assert path.read_bytes() == whole and path.name == f"{kept.sha256}.jpg"
    assert kept.label == "the stub, before" and source.read_bytes() == whole
    assert check_attachment(folder, kept.to_json()) is None
    assert keep_file(folder, source, "again").sha256 == kept.sha256  # kept once
    path.write_bytes(whole[:-1] + b"x")
    assert "changed" in (check_attachment(folder, kept.to_json()) or "")
    path.unlink()
    assert "cannot be read" in (check_attachment(folder, kept.to_json()) or "")


def test_a_cleaned_copy_leaves_the_original_as_it_is(folder: JobFolder, tmp_path: Path) -> None:
    source = tmp_path / "a.jpg"
    whole = jpeg_with_place(source)
    kept = keep_file(folder, source, "stub", clean=True)
    copy = attachment_path(folder, kept.sha256, kept.kind).read_bytes()
    assert PLACE in source.read_bytes() == whole and PLACE not in copy and kept.cleaned


def test_what_is_no_plain_file_is_refused_with_a_remedy(folder: JobFolder, tmp_path: Path) -> None:
    plain = tmp_path / "a.txt"
    plain.write_text("12 mbar")
    (tmp_path / "link").symlink_to(plain)
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "empty").touch()
    for name, word in (
        ("link", "link"),
        ("pipe", "plain file"),
        (".", "plain file"),
        ("empty", "empty"),
        ("none", "cannot be read"),
    ):
        with pytest.raises(NotRecordable, match=word):
            keep_file(folder, tmp_path / name, "label")
    for label in ("", " \n ", "x" * 201, "a\x1b[2Jb"):
        with pytest.raises(NotRecordable, match="label"):
            keep_file(folder, plain, label)
    with pytest.raises(NotRecordable, match="metadata"):
        keep_file(folder, plain, "label", clean=True)
    assert not (folder.path / "attachments").exists()


def test_too_large_a_file_or_too_many_are_refused(
    folder: JobFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    large = tmp_path / "large"
    with large.open("wb") as file:
        file.truncate(MAX_FILE_BYTES + 1)
    with pytest.raises(NotRecordable, match="25 MB"):
        keep_file(folder, large, "label")
    monkeypatch.setattr("steplatch.runner.record.attachments.MAX_JOB_BYTES", 10)
    for number, text in enumerate(("12345", "67890", "x")):
        (tmp_path / "small").write_text(text)
        if number < 2:
            keep_file(folder, tmp_path / "small", "label")
        else:
            with pytest.raises(NotRecordable, match="keep more"):
                keep_file(folder, tmp_path / "small", "label")


def test_a_full_disk_says_so_and_a_later_try_mends_the_cut_copy(
    folder: JobFolder, tmp_path: Path
) -> None:
    source = tmp_path / "a.txt"
    source.write_text("time;mbar\n" * 50)
    for call in range(1, 30):
        disk = FailingDisk(call, Fault.FULL)
        try:
            keep_file(folder, source, "log", disk=disk)
        except JournalFailed as error:
            assert "space" in str(error) or error.remedy
            continue
        break
    kept = keep_file(folder, source, "log")
    assert check_attachment(folder, kept.to_json()) is None
