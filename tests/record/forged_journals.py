"""Journals made to look right by somebody who can write all files of a job."""

import hashlib
from pathlib import Path

from steplatch.runner.record import FindingKind, Verification
from steplatch.runner.record.head import Head, encode_head

from tests.record.sample_jobs import JOB, put_lines


def kinds_of(found: Verification) -> set[FindingKind]:
    """The kinds of finding in a verification."""
    return {item.kind for item in found.findings}


def rechained(lines: list[bytes], job: str = JOB) -> tuple[list[bytes], bytes]:
    """Make the chain fit again, as a forger would; returns the lines and a fitting head."""
    prev, out = "0" * 64, []
    for raw in lines:
        raw = b'{"prev":"' + prev.encode() + raw[raw.index(b'","') :]
        out.append(raw)
        prev = hashlib.sha256(raw).hexdigest()
    return out, encode_head(Head(job, len(out), prev))


def forge(folder: Path, lines: list[bytes], job: str = JOB) -> None:
    """Put these lines and a head that fits them into a job's folder."""
    forged, head = rechained(lines, job)
    put_lines(folder, forged)
    (folder / "head").write_bytes(head)
