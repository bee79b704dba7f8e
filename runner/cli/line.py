"""What each command does: parse nothing, decide nothing, call the room that knows."""

import argparse
import json
import os
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from ..record import (
    BadSideFile,
    DataFolder,
    HeldByAnother,
    JournalBroken,
    JournalFailed,
    NotRecordable,
    RecordError,
    find_data_folder,
    make_data_folder,
    open_to_others,
)
from . import exits

LESSON_START = "2026-03-02T09:00:00+00:00"
"""When a hands-free lesson begins in its own time: fixed, so that it is the same every run."""

SAY_AFTER_S = 1.0
"""How long a command may be silent before it says how far it is."""


def guarded(command: Callable[[argparse.Namespace], int]) -> Callable[[argparse.Namespace], int]:
    """Turn the errors that a user can meet into one message and their exit code."""

    def run(args: argparse.Namespace) -> int:
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
    from ..jobs.store import BrokenJob, NoSuchJob
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


def fail(code: int, error: object) -> int:
    """Say what went wrong on standard error; returns ``code``."""
    print(f"steplatch: {error}", file=sys.stderr)
    return code


def data_folder(args: argparse.Namespace, own: Path | None = None) -> DataFolder:
    """The data folder, made when it is not there; its warnings go to standard error."""
    data = find_data_folder(own or args.data, os.environ)
    for warning in make_data_folder(data):
        print(f"note: {warning}", file=sys.stderr)
    return data


def data_to_read(args: argparse.Namespace) -> DataFolder:
    """The data folder of a command that only reads: nothing is made, the warnings are the same."""
    data = find_data_folder(args.data, os.environ)
    for warning in open_to_others(data):
        print(f"note: {warning}", file=sys.stderr)
    return data


@guarded
def practise(args: argparse.Namespace) -> int:
    """A practice job: by hand, or a lesson that plays itself."""
    from ..simulator.faults import FAULTS, UnknownFaultError

    if args.list_faults:
        for fault in FAULTS.values():
            print(f"{fault.name:24} {fault.line}")
            print(f"{'':24} teaches: {fault.teaches}")
        return exits.OK
    from . import practise as play

    wrong = misused(args)
    if wrong:
        return fail(exits.USAGE, wrong)
    try:
        if args.hands_free:
            return play.hands_free(args, data_folder(args, args.out), _start())
        return play.by_hand(args, data_folder(args, args.out))
    except UnknownFaultError as error:
        return fail(exits.USAGE, error)


def misused(args: argparse.Namespace) -> str:
    """What is wrong with the options of ``practise`` together; '' when nothing is."""
    if args.exercise and args.hands_free:
        return "--exercise is for a person: leave out --hands-free"
    if args.exercise and (args.fault or args.seed is not None):
        return "--exercise brings its own faults and seed: leave out --fault and --seed"
    if args.speed is not None and args.hands_free:
        return "--speed is for a person: a lesson that plays itself jumps"
    if args.speed is not None and not 1 <= args.speed <= 3600:
        return f"--speed {args.speed:g} is outside 1 to 3600: 1 is real time, 60 a minute a second"
    return ""


def _start() -> datetime:
    return datetime.fromisoformat(LESSON_START)


@guarded
def run(args: argparse.Namespace) -> int:
    """A real job."""
    if args.vehicle is None:
        from .choosing import run_led

        return run_led(args)
    from ..jobs.bundle import PROCEDURES
    from . import guided_job as real

    procedure = args.procedure or PROCEDURES / "clean-above.yaml"
    return real.run(args, procedure, data_folder(args))


@guarded
def resume(args: argparse.Namespace) -> int:
    """Come back to a job."""
    from . import guided_job as real

    return real.resume(args, data_folder(args))


@guarded
def limits(args: argparse.Namespace) -> int:
    """Every worked limit with its working."""
    from steplatch.safety.limits.worked import to_json, work_limits

    from ..workshop.files import load_fluid, load_gun, load_vehicle, load_workshop

    beside = args.vehicle.parent
    vehicle, _ = load_vehicle(args.vehicle)
    gun, _ = load_gun(args.gun or beside / "gun.yaml")
    fluid, _ = load_fluid(args.fluid or beside / "fluid.yaml")
    workshop, _ = load_workshop(args.workshop or beside / "workshop.yaml")
    worked = work_limits(vehicle, fluid, workshop, gun)
    if args.json:
        print_json(to_json(worked))
        return exits.OK
    print(f"{vehicle.label}, {workshop.label}")
    for limit in worked.all():
        print(f"\n{limit.name}: {limit.bound.value} {limit.whole()} {limit.unit.seen}")
        for line in limit.lines:
            print(f"    {line}")
        print(f"    source: {limit.source}")
        print(f"    holds for: {limit.validity}")
        for assumption in limit.assumptions:
            print(f"    assumed: {assumption}")
    if worked.dose_extended is None:
        print(f"\nno extended limit: {worked.no_extended_because}")
    return exits.OK


@guarded
def matrix(args: argparse.Namespace) -> int:
    """Print the cause-and-effect table from the tables that decide."""
    from steplatch.safety.verify.matrix import cause_rows, effect_rows, interlock_rows, render

    table = {"interlocks": interlock_rows, "causes": cause_rows, "effects": effect_rows}[args.view]
    print(render(table(), args.form), end="")
    return exits.OK


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
            print(f"\r{what}: {done} of {of}", end="", file=sys.stderr, flush=True)

    return say


def print_json(value: dict[str, Any]) -> None:
    """One JSON object on standard output."""
    print(json.dumps(value, ensure_ascii=False, indent=2))


def _in(module: str, name: str) -> Callable[[argparse.Namespace], int]:
    """A command of another module of this room, imported when it is called."""

    def command(args: argparse.Namespace) -> int:
        from importlib import import_module

        called: Callable[[argparse.Namespace], int] = getattr(
            import_module(f"steplatch.runner.cli.{module}"), name
        )
        return called(args)

    return guarded(command)


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "start page": _in("page", "start_page"),
    "practise": practise,
    "practice": practise,
    "run": run,
    "make": _in("make", "make"),
    "resume": resume,
    "continue": resume,
    "audit": _in("seal", "audit"),
    "key": _in("seal", "key"),
    "seal": _in("seal", "seal"),
    "attach": _in("seal", "attach"),
    "limits": limits,
    "sheet": _in("sheet", "sheet"),
    "jobs": _in("book", "jobs"),
    "check": _in("check", "check"),
    "matrix": matrix,
    "self-test": _in("self_test", "self_test"),
    "compare": _in("measure", "compare"),
    "steady": _in("measure", "steady"),
    "codes": _in("measure", "codes"),
    "dose": _in("measure", "dose"),
    "people": _in("people", "people"),
    "export": _in("book", "export"),
    "customer": _in("customer", "customer"),
    "debrief": _in("debrief", "debrief"),
    "link": _in("link", "link"),
}
