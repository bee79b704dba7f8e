"""``steplatch self-test``: show that every interlock row and trip at work here still bites."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, data_folder, fail, print_json

if TYPE_CHECKING:
    from steplatch.safety.verify.self_test import SelfTest


def add_to(add: Add) -> None:
    """``self-test``."""
    options = add(
        "self-test",
        _("show that every interlock row and trip still refuses what it must"),
        "steplatch self-test --table",
        self_test,
    )
    options.add_argument("--table", action="store_true", help=_("list every row"))
    options.add_argument("--json", action="store_true", help=_("one JSON object"))


def self_test(args: argparse.Namespace) -> int:
    """Try every row and trip, say what was found, and keep a line of it in the data folder.

    The exit code is UNSAFE when something is wrong, else RECORD_FAILED when the line was not kept.
    """
    from steplatch.safety.verify.self_test import run_self_test

    from ..jobs.self_tests import keep, line_of
    from ..record.faults import JournalFailed

    data = data_folder(args)
    tried = run_self_test()
    line = line_of(tried)
    if not args.json:
        print("\n".join(lines_of(tried, args.table)))
    try:
        keep(data, line)
    except JournalFailed as error:
        return fail(exits.UNSAFE if tried.findings else exits.RECORD_FAILED, error)
    if args.json:
        print_json("self-test", {**line, "rows": [_row_json(row) for row in table(tried)]})
    return exits.UNSAFE if tried.findings else exits.OK


def table(tried: SelfTest) -> list[dict[str, str]]:
    """One row an interlock: how often it was driven to refuse, and what is wrong with it."""
    wrong = {found.row for found in tried.findings}
    return [
        {
            "interlock": row.row,
            "acts": str(row.acts),
            "refused alone": str(row.alone),
            "unknown": str(row.unknown),
            "stale": str(row.stale),
            "monitors": str(len(row.monitors)),
            "result": "FAULT" if row.row in wrong else "OK",
        }
        for row in tried.rows
    ]


def _row_json(row: dict[str, str]) -> dict[str, Any]:
    return {name: int(text) if text.isdigit() else text for name, text in row.items()}


def lines_of(tried: SelfTest, whole: bool) -> list[str]:
    """The outcome in words; ``whole`` adds the table."""
    from steplatch.safety.verify.matrix import render

    from ..core.version import PROGRAM
    from ..jobs.fingerprint import rules_sha256

    rows = tried.rows
    counted = _(
        "{count} interlock rows for {rows} pairs of row and act",
        count=len(rows),
        rows=sum(row.acts for row in rows),
    )
    lines = [
        _(
            "self-test of {program}, rules {rules_sha256}",
            program=PROGRAM,
            rules_sha256=rules_sha256()[:16],
        ),
        f"  {counted}",
        _(
            "  {rows} states in which one row alone refuses; mended, the act is permitted",
            rows=sum(row.alone for row in rows),
        ),
        _(
            "  {rows} unknown and {rows_2} stale facts: refused",
            rows=sum(row.unknown for row in rows),
            rows_2=sum(row.stale for row in rows),
        ),
        _(
            "  {latched} trips latch and outlast their cause; {reset} have a reset, which "
            "starts nothing",
            latched=tried.latched,
            reset=tried.reset,
        ),
        "  "
        + _(
            "{rows} times a monitor was asked, under every belief about its facts",
            rows=sum(len(row.monitors) for row in rows),
        ),
    ]
    if whole:
        lines += ["", *render([dict(row) for row in table(tried)], "text").splitlines(), ""]
    if not tried.findings:
        return [
            *lines,
            _(
                "OK: every row and trip does what it is written to do. It tests the rules,"
                " not the people or the vehicle."
            ),
        ]
    lines += [_("FAULT  {found}", found=found) for found in tried.findings]
    return [
        *lines,
        _(
            "{count} faults: do not work a job with this program. Install it anew; if that "
            "does not mend it, tell who looks after it.",
            count=len(tried.findings),
        ),
    ]
