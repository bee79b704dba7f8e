"""``steplatch audit``: every decision of a record made again, and its grade."""

from __future__ import annotations

import argparse
import time
from collections import Counter
from functools import partial
from typing import TYPE_CHECKING

from steplatch.safety.catalogue import _

from . import exits
from .command import JOB, Add, data_to_read, fail, print_json, progress

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ..jobs.auditing import JobAudit
    from ..record import Anchor, DataFolder, JobFolder
    from ..record.keys import PublicKey
    from ..record.ledger import Ledger

_GRADES = {
    exits.OK: "good",
    **{
        code: exits.MEANINGS[code].removeprefix("audit: ")
        for code in (
            exits.AUDIT_OLDER,
            exits.AUDIT_UNSEALED,
            exits.AUDIT_BESIDE,
            exits.AUDIT_UNLISTED,
            exits.AUDIT_UNKNOWN_KEY,
            exits.AUDIT_CANNOT,
            exits.AUDIT_BROKEN,
        )
    },
}
"""From the best to the worst: of several jobs the exit code is that of the worst."""
_COUNTED = {
    exits.OK: "good",
    exits.AUDIT_OLDER: _("good under other rules than today's"),
    exits.AUDIT_UNSEALED: _("good but not sealed"),
    exits.AUDIT_BESIDE: _("good but with a file that is no part of it"),
    exits.AUDIT_UNLISTED: _("good but not in the ledger"),
    exits.AUDIT_UNKNOWN_KEY: _("good but sealed with an unknown key"),
    exits.AUDIT_CANNOT: _("not to be decided again here"),
    exits.AUDIT_BROKEN: _("changed or forged"),
}


def add_to(add: Add) -> None:
    """``audit``."""
    options = add(
        "audit",
        _("check a job's record: chain, texts, and every decision made again"),
        "steplatch audit 2026-03-01-abcdefgh",
        audit,
    )
    grades = "; ".join(f"{text} ({code})" for code, text in _GRADES.items())
    options.description = _(
        "{description}. Its grades, with their exit codes: {grades}. Of several jobs the "
        "exit code is that of the worst, in this order.",
        description=options.description,
        grades=grades,
    )
    options.add_argument("job", nargs="*", help=_("{job}; several at once", job=JOB))
    options.add_argument("--all", action="store_true", help=_("every job of the data folder"))
    options.add_argument(
        "--printed",
        nargs="+",
        metavar=_("HEAD"),
        help=_("of one job, the count of lines and the eight groups that a customer's sheet bears"),
    )
    options.add_argument("--json", action="store_true", help=_("one JSON object"))


def audit(args: argparse.Namespace) -> int:
    """Audit one job, several, or all."""
    from ..jobs.ledgers import key_folder, of_the_whole
    from ..jobs.store import find
    from ..record import NotRecordable, list_jobs
    from ..record.ledger import read_ledger
    from ..system.over_cores import over_cores

    data = data_to_read(args)
    if args.all == bool(args.job):
        return fail(exits.USAGE, _("name one or more jobs, or say --all"))
    folders = list_jobs(data) if args.all else tuple(find(data, name) for name in args.job)
    if args.printed and len(args.job) != 1:
        return fail(exits.USAGE, _("a printed head is that of one job: name that job alone"))
    try:
        printed = _printed(args.printed) if args.printed else None
    except NotRecordable as wrong:
        return fail(exits.USAGE, wrong)
    known = key_folder(data).public_keys()
    ledger = read_ledger(data, known)

    audits = over_cores(partial(_audited, data, known, ledger, printed), folders)
    if len(folders) == 1 and not args.all:
        only = next(audits)
        if args.json:
            print_json("audit", only.to_json())
        else:
            print("\n".join(only.lines()))
        return only.code
    there = frozenset(folder.id for folder in folders)
    whole = of_the_whole(data, ledger, known, there) if args.all else ()
    return _many(audits, len(folders), args.json, whole)


def _printed(words: list[str]) -> Anchor:
    """The head on a sheet, as typed: the count, then the groups. Raises NotRecordable."""
    from ..record import read_anchor

    count, *groups = words
    return read_anchor(int(count) if count.isascii() and count.isdigit() else 0, "".join(groups))


def _audited(
    data: DataFolder,
    known: tuple[PublicKey, ...],
    ledger: Ledger | None,
    printed: Anchor | None,
    folder: JobFolder,
) -> JobAudit:
    """One job audited, against the ledger where it lies in the data folder."""
    from ..jobs.auditing import audit_job
    from ..jobs.ledgers import data_of
    from ..record.ledger import Ledger

    here = data_of(folder) is not None and folder.path.parent.samefile(data.jobs)
    return audit_job(folder, known or None, (ledger or Ledger()) if here else None, printed)


def _many(
    audits: Iterable[JobAudit], count: int, as_json: bool, whole: tuple[str, ...] = ()
) -> int:
    """Audit one after the other, keeping only what has to be said; ``whole`` is what the ledger
    says of the data folder as one."""
    begun, lines = time.monotonic(), 0
    say = progress(_("auditing the jobs")) or (lambda done, of: None)
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
        took = {"lines": lines, "seconds": round(seconds, 3)}
        print_json("audit-all", {"jobs": plain, "grades": grades, "ledger": list(whole), **took})
        return exits.AUDIT_BROKEN if whole else _worst(codes)
    for text in whole:
        print(text)
    if not count:
        print(_("No job lies in the data folder yet."))
    else:
        said = [f"{codes[code]} {words}" for code, words in _COUNTED.items() if codes[code]]
        print(
            _(
                "{count} jobs, {lines} lines, {seconds:.1f} s: {said}.",
                count=count,
                lines=lines,
                seconds=seconds,
                said=", ".join(said),
            )
        )
    return exits.AUDIT_BROKEN if whole else _worst(codes)


def _worst(codes: Counter[int]) -> int:
    from ..jobs.auditing import WORST_FIRST

    return next((grade.value for grade in WORST_FIRST if codes[grade.value]), exits.OK)
