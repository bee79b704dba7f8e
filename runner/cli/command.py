"""What every command is made of: data folder, errors with their exit codes, numbers and output."""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import re
import sys
from collections.abc import Callable, Iterator
from contextvars import ContextVar
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steplatch.safety.catalogue import _

from ..input.days import NoDay, day_of
from . import exits

if TYPE_CHECKING:
    from ..record import DataFolder, JobFolder

Handler = Callable[[argparse.Namespace], int]
"""What a command does: from its arguments to its exit code."""
Add = Callable[..., argparse.ArgumentParser]
"""Adds a command: name, what it does, an example, the deed, other names; gives its parser."""

JOB = _("a job's id, a part of it that fits only one, or the path of a job's folder")
OUTPUTS: dict[str, int] = dict.fromkeys(
    (
        *(
            "audit",
            "audit-all",
            "book-answers",
            "book-status",
            "check",
            "codes",
            "compare",
            "customer-due",
            "customer-export",
        ),
        *("debrief", "doctor", "dose", "error", "faults", "job-export", "jobs", "key", "limits"),
        *("link", "link-ports", "link-replay", "matrix", "people", "procedure-diff"),
        *("procedure-list", "procedure-show", "progress", "self-test", "steady"),
    ),
    1,
)
"""Every machine-readable output by name, with the number of its schema: it goes up by one with a
change that a reader could trip over."""
_AS_JSON: ContextVar[bool] = ContextVar("as_json", default=False)
SAY_AFTER_S = 1.0
"""How long a command may be silent before it says how far it is."""


def whole(text: str) -> int:
    """A whole number in the digits 0 to 9; for the command line."""
    if not re.fullmatch(r"-?[0-9]{1,12}", text):
        raise argparse.ArgumentTypeError(
            _("{text!r} is no whole number; write it like 4", text=text)
        )
    return int(text)


def number(text: str) -> float:
    """A decimal in the digits 0 to 9 with a point; for the command line."""
    if not re.fullmatch(r"-?[0-9]{1,12}(\.[0-9]{1,12})?", text):
        raise argparse.ArgumentTypeError(_("{text!r} is no number; write it like 16.5", text=text))
    return float(text)


def day(text: str) -> str:
    """A day as people write it, as it is written in a record: 2026-03-31; for the command line."""
    try:
        return day_of(text).isoformat()
    except NoDay as no:
        raise argparse.ArgumentTypeError(str(no)) from None


def guarded(command: Handler) -> Handler:
    """Turn the errors that a user can meet into one message and their exit code."""

    def run(args: argparse.Namespace) -> int:
        _AS_JSON.set(getattr(args, "json", False) is True)
        try:
            return command(args)
        except Exception as error:
            code = error_code(error)
            if code is None:
                raise
            return fail(code, error)

    return run


def error_code(error: Exception) -> int | None:
    """The exit code of an error that a user can meet; None for a mistake of the program.

    Imports only now: a quick command does not wait for rooms that it has no use for.
    """
    from steplatch.safety.limits import ImplausibleInputs, LooserThanWorked

    from ..input.findings import BadFile
    from ..jobs.projection import BrokenJob
    from ..jobs.store import NoSuchJob
    from ..record import (
        BadSideFile,
        HeldByAnother,
        JournalBroken,
        JournalFailed,
        NotRecordable,
        RecordError,
    )
    from ..record.keys import NoKey

    for kinds, code in (
        ((BadFile, LooserThanWorked, ImplausibleInputs), exits.BAD_FILE),
        ((NoSuchJob,), exits.NO_SUCH_JOB),
        ((BrokenJob, JournalBroken), exits.AUDIT_BROKEN),
        ((HeldByAnother,), exits.HELD_BY_ANOTHER),
        ((JournalFailed, NotRecordable, BadSideFile), exits.RECORD_FAILED),
        ((RecordError, NoKey), exits.FAILED),
    ):
        if isinstance(error, kinds):
            return code
    return None


@contextlib.contextmanager
def shown_from(folder: JobFolder) -> Iterator[None]:
    """While a job is shown: what cannot be shown of a record that was changed is said as that.

    Raises BrokenJob with what an audit finds first; any other error as it is, since a record that
    is as it was written can be shown, and a mistake of the program must not look like a forgery.
    """
    try:
        yield
    except Exception as error:
        if error_code(error) is not None or isinstance(error, OSError):
            raise
        from ..jobs.auditing import first_change
        from ..jobs.projection import BrokenJob

        said = first_change(folder)
        if not said:
            raise
        raise BrokenJob(
            _("{path}: it cannot be shown. {said}", path=folder.path, said=said)
        ) from error


def fail(code: int, error: object) -> int:
    """Say what went wrong on standard error, under ``--json`` as one JSON object on standard output
    too; returns ``code``."""
    print(f"steplatch: {error}", file=sys.stderr)
    if _AS_JSON.get():
        print_json("error", error_json(code, error))
    return code


def data_folder(args: argparse.Namespace, own: Path | None = None) -> DataFolder:
    """The data folder, made when it is not there; its warnings go to standard error."""
    from ..record import find_data_folder, make_data_folder

    data = find_data_folder(own or args.data, os.environ)
    for warning in make_data_folder(data):
        print(f"note: {warning}", file=sys.stderr)
    return data


def data_to_read(args: argparse.Namespace) -> DataFolder:
    """The data folder of a command that only reads: nothing is made, the warnings are the same."""
    from ..record import find_data_folder, open_to_others

    data = find_data_folder(args.data, os.environ)
    for warning in open_to_others(data):
        print(f"note: {warning}", file=sys.stderr)
    return data


def left(text: str) -> int:
    """Say that the person has left, and return its code."""
    print(f"\n{text}")
    return exits.STOPPED


def has_terminal() -> bool:
    """Whether a person can answer: input and output are terminals."""
    return os.isatty(0) and os.isatty(1)


def secret(question: str) -> str:
    """One line from the terminal that is not shown. Ctrl-D ends the command, as Ctrl-C does."""
    import getpass

    try:
        return getpass.getpass(question, sys.stdout)
    except EOFError:
        raise KeyboardInterrupt from None


def progress(what: str) -> Callable[[int, int], None] | None:
    """Says how far ``what`` is, once it takes long, where somebody is looking."""
    if not os.isatty(2):
        return None
    import time

    begun = time.monotonic()
    said = begun

    def say(done: int, of: int) -> None:
        nonlocal said
        now = time.monotonic()
        if now - begun < SAY_AFTER_S:
            return
        if done == of:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
        elif now - said > 0.2:
            said = now
            print(
                _("\r{what}: {done} of {of}", what=what, done=done, of=of),
                end="",
                file=sys.stderr,
                flush=True,
            )

    return say


def print_json(output: str, value: dict[str, Any]) -> None:
    """One JSON object on standard output, under its name and the number of its schema."""
    print(json.dumps(headed(output, value), ensure_ascii=False, indent=2))


def headed(output: str, value: dict[str, Any]) -> dict[str, Any]:
    """The value of the machine-readable ``output``, with what it is and which schema it follows
    (``outputs.schema.json`` beside this file)."""
    return {"output": output, "schema": OUTPUTS[output], **value}


def error_json(code: int, error: object) -> dict[str, Any]:
    """An error as a value: exit code with its meaning, words, and where a file is wrong."""
    from ..input.findings import BadFile

    findings = error.findings if isinstance(error, BadFile) else ()
    return {
        "code": code,
        "meaning": exits.MEANINGS[code],
        "message": str(error),
        "findings": [asdict(one) for one in findings],
    }
