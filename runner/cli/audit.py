"""``steplatch audit``: every decision of a record made again, and its grade."""

from __future__ import annotations

import argparse
import time
from collections import Counter
from typing import TYPE_CHECKING

from . import exits
from .command import JOB, Add, data_to_read, fail, print_json, progress

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ..jobs.auditing import JobAudit

_GRADES = {
    exits.OK: "good",
    **{
        code: exits.MEANINGS[code].removeprefix("audit: ")
        for code in (exits.AUDIT_OLDER, exits.AUDIT_CANNOT, exits.AUDIT_BROKEN)
    },
}
"""From the best to the worst: of several jobs the exit code is that of the worst."""
_COUNTED = {
    exits.OK: "good",
    exits.AUDIT_OLDER: "good under other rules than today's",
    exits.AUDIT_CANNOT: "not to be decided again here",
    exits.AUDIT_BROKEN: "changed or forged",
}


def add_to(add: Add) -> None:
    """``audit``."""
    options = add(
        "audit",
        "check a job's record: chain, texts, and every decision made again",
        "steplatch audit 2026-03-01-abcdefgh",
        audit,
    )
    grades = "; ".join(f"{text} ({code})" for code, text in _GRADES.items())
    options.description = (
        f"{options.description}. Its grades, with their exit codes: {grades}. Of several jobs the "
        "exit code is that of the worst, in this order."
    )
    options.add_argument("job", nargs="*", help=f"{JOB}; several at once")
    options.add_argument("--all", action="store_true", help="every job of the data folder")
    options.add_argument("--json", action="store_true", help="one JSON object")


def audit(args: argparse.Namespace) -> int:
    """Audit one job, several, or all."""
    from ..jobs.auditing import audit_job
    from ..jobs.sealing import key_folder
    from ..jobs.store import find
    from ..record import list_jobs

    data = data_to_read(args)
    if args.all == bool(args.job):
        return fail(exits.USAGE, "name one or more jobs, or say --all")
    folders = list_jobs(data) if args.all else tuple(find(data, name) for name in args.job)
    known = key_folder(data).public_keys()
    audits = (audit_job(folder, known) for folder in folders)
    if len(folders) == 1 and not args.all:
        only = next(audits)
        if args.json:
            print_json(only.to_json())
        else:
            print("\n".join(only.lines()))
        return only.code
    return _many(audits, len(folders), args.json)


def _many(audits: Iterable[JobAudit], count: int, as_json: bool) -> int:
    """Audit one after the other, keeping only what has to be said."""
    begun, lines = time.monotonic(), 0
    say = progress("auditing the jobs") or (lambda done, of: None)
    codes: Counter[int] = Counter()
    plain = []
    for done, one in enumerate(audits, start=1):
        codes[one.code] += 1
        lines += one.result.lines if one.result else 0
        if as_json:
            plain.append(one.to_json())
        elif one.code != exits.OK:
            print(f"{one.job}:")
            print("\n".join(f"  {text}" for text in one.lines()))
        say(done, count)
    seconds = time.monotonic() - begun
    if as_json:
        grades = {said: codes[code] for code, said in _COUNTED.items()}
        print_json({"jobs": plain, "grades": grades, "lines": lines, "seconds": round(seconds, 3)})
    elif not count:
        print("No job lies in the data folder yet.")
    else:
        said = [f"{codes[code]} {words}" for code, words in _COUNTED.items() if codes[code]]
        print(f"{count} jobs, {lines} lines, {seconds:.1f} s: {', '.join(said)}.")
    return next((code for code in reversed(_GRADES) if codes[code]), exits.OK)
