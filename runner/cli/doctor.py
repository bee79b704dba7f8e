"""``steplatch doctor``: what of this computer and its data folder would be in the way."""

from __future__ import annotations

import argparse
import os
import re
import shutil
import sys
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from importlib import metadata, util
from pathlib import Path
from typing import TYPE_CHECKING, Final

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, print_json

if TYPE_CHECKING:
    from ..record import DataFolder

LEAST_FREE_MB: Final = 200
"""A job with its photographs needs up to some ten megabytes (a design choice, generous)."""
AHEAD: Final = timedelta(minutes=10)
"""How far a record may lie ahead of the clock before one of the two is wrong (a design choice)."""
EXTRAS: Final = (("pdf", "typst", _("sheets as PDF")), ("live", "can", _("readings from the car")))
SMALLEST: Final = (44, 12)


@dataclass(frozen=True, slots=True)
class Found:
    """One thing looked at: ``good``, ``note`` (nothing is in the way) or ``trouble``."""

    state: str
    what: str
    remedy: str = ""


def add_to(add: Add) -> None:
    """``doctor``."""
    options = add(
        "doctor",
        _("look whether files, clock, space, keys and versions are in order"),
        "steplatch doctor",
        doctor,
    )
    options.add_argument("--json", action="store_true", help=_("one JSON object"))


def doctor(args: argparse.Namespace) -> int:
    """Look at everything; writes nothing. FAILED where there is a trouble."""
    from ..record import find_data_folder

    data = find_data_folder(args.data, os.environ)
    found = list(_all(data))
    troubles = sum(one.state == "trouble" for one in found)
    if args.json:
        print_json("doctor", {"troubles": troubles, "found": [asdict(one) for one in found]})
    else:
        for one in found:
            print(f"{_(one.state.upper()):8}{one.what}")
            if one.remedy:
                print(_("        do: {remedy}", remedy=one.remedy))
        print(
            _("No trouble found.") if not troubles else _("{troubles} to mend.", troubles=troubles)
        )
    return exits.FAILED if troubles else exits.OK


def _all(data: DataFolder) -> Iterator[Found]:
    yield from _program()
    yield from _terminal()
    yield from _folder(data)
    if data.path.is_dir():
        yield from _space(data.path)
        yield from _files(data)
        yield from _keys(data)
        yield from _jobs(data)


def _program() -> Iterator[Found]:
    from ..core.version import PROGRAM

    python = ".".join(map(str, sys.version_info[:3]))
    yield Found(
        "good",
        _(
            "{program}, Python {python} on {platform}",
            program=PROGRAM,
            python=python,
            platform=sys.platform,
        ),
    )
    for extra, module, what in EXTRAS:
        if util.find_spec(module) is None:
            add = _("pip install 'steplatch[{extra}]' adds it", extra=extra)
            yield Found(
                "note", _("not installed: extra '{extra}' ({what})", extra=extra, what=what), add
            )
    for name in _needed():
        if not _installed(name):
            yield Found(
                "trouble",
                _("the library {name} is not installed", name=name),
                _("pip install {name}", name=name),
            )


def _needed() -> list[str]:
    """The libraries that the installed program asks for, extras apart; none where it runs from a
    folder that was not installed."""
    try:
        asked = metadata.requires("steplatch") or []
    except metadata.PackageNotFoundError:
        return []
    return [re.split(r"[^\w.-]", text)[0] for text in asked if "extra ==" not in text]


def _installed(name: str) -> bool:
    try:
        metadata.version(name)
    except metadata.PackageNotFoundError:
        return False
    return True


def _terminal() -> Iterator[Found]:
    encoding = (sys.stdout.encoding or "ascii").lower()
    if encoding.replace("-", "") != "utf8":
        yield Found(
            "note",
            _(
                "this terminal takes {encoding}: some letters are shown as others",
                encoding=encoding,
            ),
            _("set a UTF-8 locale, such as LC_ALL=C.UTF-8"),
        )
    if sys.stdout.isatty():
        size = shutil.get_terminal_size()
        if size.columns < SMALLEST[0] or size.lines < SMALLEST[1]:
            yield Found(
                "trouble",
                _(
                    "the terminal has {columns} x {lines} letters",
                    columns=size.columns,
                    lines=size.lines,
                ),
                _(
                    "make it {smallest} x {smallest_2} at least",
                    smallest=SMALLEST[0],
                    smallest_2=SMALLEST[1],
                ),
            )


def _folder(data: DataFolder) -> Iterator[Found]:
    from ..record import open_to_others

    if not data.path.exists():
        yield Found(
            "note",
            _(
                "no data folder yet: {path} (from {came_from})",
                path=data.path,
                came_from=data.came_from,
            ),
        )
        return
    if not data.path.is_dir():
        yield Found(
            "trouble",
            _("{path} is no folder", path=data.path),
            _("move it away, or name another with --data"),
        )
        return
    yield Found(
        "good", _("data folder {path} (from {came_from})", path=data.path, came_from=data.came_from)
    )
    for place in (data.path, data.jobs):
        if place.is_dir() and not os.access(place, os.R_OK | os.W_OK | os.X_OK):
            yield Found(
                "trouble",
                _("{place}: this user may not read and write there", place=place),
                _("give this user read and write permission"),
            )
    for warning in open_to_others(data):
        what, _other, remedy = warning.partition("; close it with: ")
        yield Found("trouble", what, remedy)


def _space(path: Path) -> Iterator[Found]:
    free_mb = shutil.disk_usage(path).free / 1e6
    if free_mb < LEAST_FREE_MB:
        yield Found(
            "trouble",
            _(
                "{free_mb:.0f} MB are free on that disk, {least_free_mb} MB are wanted",
                free_mb=free_mb,
                least_free_mb=LEAST_FREE_MB,
            ),
            _("free some space before the next job"),
        )
    else:
        yield Found("good", _("{free_mb:.0f} GB free", free_mb=free_mb / 1000))


def _files(data: DataFolder) -> Iterator[Found]:
    from ..input.findings import BadFile
    from ..jobs.settings import load_settings
    from ..record import BadSideFile
    from ..record.disk import ASIDE_SUFFIX
    from ..workshop.pins import BOOK_NAME, PinBook

    try:
        load_settings(data)
    except BadFile as error:
        yield Found(
            "trouble", " ".join(str(error).split()), _("mend the line, or move the file away")
        )
    try:
        PinBook(data.path / BOOK_NAME).known()
    except (BadSideFile, OSError) as error:
        yield Found("trouble", " ".join(str(error).split()))
    for path in sorted(data.path.rglob(f"*{ASIDE_SUFFIX}")):
        yield Found(
            "note",
            _("{path} was left when a write was broken off", path=path),
            _("it may be deleted"),
        )


def _keys(data: DataFolder) -> Iterator[Found]:
    from ..jobs.ledgers import key_folder
    from ..record.keys import NoKey

    keys = key_folder(data)
    try:
        known = keys.public_keys()
    except NoKey as error:
        yield Found("trouble", str(error))
        return
    if not keys.is_there():
        yield Found(
            "note", _("no signing key: jobs are not sealed"), _("'steplatch key new' makes one")
        )
    elif keys.private.stat().st_mode & 0o077:
        yield Found(
            "trouble",
            _("{private}: others can read the signing key", private=keys.private),
            _(
                "chmod 600 '{private}'; make a new key if others were at this computer",
                private=keys.private,
            ),
        )
    else:
        yield Found("good", _("signing key; {count} public keys are kept", count=len(known)))


def _jobs(data: DataFolder) -> Iterator[Found]:
    from ..jobs.digest import BROKEN, digest
    from ..record import list_jobs

    rows = [digest(job) for job in list_jobs(data)]
    yield Found("good", _("{count} jobs", count=len(rows)))
    for row in rows:
        if row.state == BROKEN:
            yield Found(
                "trouble",
                _("job {job}: {why_broken}", job=row.job, why_broken=row.why_broken),
                _("'steplatch audit {job}' says more; restore it from a backup", job=row.job),
            )
    last = max((row.last for row in rows), default="")
    if last and datetime.fromisoformat(last.replace("Z", "+00:00")) > datetime.now(UTC) + AHEAD:
        yield Found(
            "trouble",
            _("the clock is behind the record: a job's last line is of {last}", last=last),
            _("set the computer's clock"),
        )
