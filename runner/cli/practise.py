"""``steplatch practise``: a practice job at a simulated vehicle."""

import argparse
from datetime import datetime
from pathlib import Path

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, data_folder, data_to_read, fail, number, print_json, whole

LESSON_START = "2026-03-02T09:00:00+00:00"
"""When a hands-free lesson begins in its own time: fixed, so that it is the same every run."""


def add_to(add: Add) -> None:
    """``practise``."""
    _options(
        add(
            "practise",
            _("work a practice job at a simulated vehicle"),
            "steplatch practise --hands-free",
            practise,
            "practice",
        )
    )


def _options(options: argparse.ArgumentParser) -> None:
    options.add_argument("--hands-free", action="store_true", help=_("play a lesson by itself"))
    options.add_argument(
        "--lesson", metavar=_("NAME_OR_FILE"), help=_("default: the procedure's first")
    )
    options.add_argument(
        "--procedure",
        nargs="?",
        const="",
        metavar=_("NAME_OR_FILE"),
        help=_(
            "which job to practise, by name or a file of your own; without a name: asked by title"
        ),
    )
    options.add_argument(
        "--fault",
        action="append",
        metavar=_("NAME"),
        help=_("instead of the lesson's; drawn: any one"),
    )
    options.add_argument("--list-faults", action="store_true", help=_("list the faults and end"))
    options.add_argument("--json", action="store_true", help=_("the list as one JSON object"))
    options.add_argument("--seed", type=whole, metavar="N", help=_("instead of the lesson's"))
    options.add_argument(
        "--exercise", type=Path, metavar=_("FILE"), help=_("an exercise that somebody has set")
    )
    options.add_argument(
        "--speed", type=number, metavar="N", help=_("waits pass N times as fast; default they jump")
    )
    options.add_argument(
        "--live", action="store_true", help=_("with a link to the simulated vehicle")
    )
    options.add_argument(
        "--link-fault",
        action="append",
        default=[],
        metavar=_("NAME"),
        help=_("what is wrong with the link; steplatch link --list-faults"),
    )
    options.add_argument(
        "--people",
        type=Path,
        metavar=_("FILE"),
        help=_("your own people: then the record is somebody's"),
    )
    options.add_argument("--as", dest="person", metavar=_("PERSON"), help=_("who practises"))
    options.add_argument(
        "--set", action="store_true", help=_("the next fault that was set for this person to find")
    )
    options.add_argument("--out", type=Path, metavar=_("DIR"), help=_("data folder for this job"))
    options.add_argument("--show", action="store_true", help=_("print every screen of a lesson"))
    options.add_argument("--plain", action="store_true", help=_("plain lines: nothing is drawn"))


def begin_one(args: argparse.Namespace) -> int:
    """A practice job with no option given, for a command that leads to one."""
    alone = argparse.ArgumentParser()
    _options(alone)
    words = ["--plain"] if args.plain else []
    return practise(alone.parse_args(words, argparse.Namespace(data=args.data)))


def practise(args: argparse.Namespace) -> int:
    """A practice job: by hand, or a lesson that plays itself."""
    from ..simulator.faults import FAULTS, UnknownFaultError

    if args.list_faults and args.json:
        faults = [
            {"name": one.name, "line": one.line, "teaches": one.teaches} for one in FAULTS.values()
        ]
        print_json("faults", {"faults": faults})
        return exits.OK
    if args.list_faults:
        for fault in FAULTS.values():
            print(f"{fault.name:24} {fault.line}")
            print(f"{'':24} teaches: {fault.teaches}")
        return exits.OK
    from ..input.shelf import PROCEDURES
    from . import practice_job
    from .finding import procedure_path

    wrong = misused(args)
    if wrong:
        return fail(exits.USAGE, wrong)
    data = data_folder(args, args.out)
    if args.procedure:
        path = procedure_path(args.procedure, data_to_read(args))
        args.procedure = path.stem if path.parent == PROCEDURES else str(path)
    try:
        if args.hands_free:
            return practice_job.hands_free(args, data, datetime.fromisoformat(LESSON_START))
        return practice_job.by_hand(args, data)
    except UnknownFaultError as error:
        return fail(exits.USAGE, error)


def misused(args: argparse.Namespace) -> str:
    """What is wrong with the options of ``practise`` together; '' when nothing is."""
    if args.exercise and args.hands_free:
        return _("--exercise is for a person: leave out --hands-free")
    if args.exercise and (args.fault or args.seed is not None):
        return _("--exercise brings its own faults and seed: leave out --fault and --seed")
    if (args.people or args.person or args.set) and args.hands_free:
        return _("--people, --as and --set are for a person: leave out --hands-free")
    if args.set and (args.people is None or args.person is None):
        return _("--set needs --people and --as: it was set for one of your own people")
    if args.set and (args.exercise or args.fault or args.lesson or args.seed is not None):
        return _("--set brings its own fault: leave out --exercise, --lesson, --fault and --seed")
    if args.speed is not None and args.hands_free:
        return _("--speed is for a person: a lesson that plays itself jumps")
    if args.link_fault and not args.live:
        return _("--link-fault needs --live")
    if args.link_fault:
        from ..live.practice_ecu import LINK_FAULTS

        if unknown := sorted(set(args.link_fault) - set(LINK_FAULTS)):
            return _("no such fault of the link: {unknown}", unknown=", ".join(unknown))
    if args.speed is not None and not 1 <= args.speed <= 3600:
        return _(
            "--speed {speed:g} is outside 1 to 3600: 1 is real time, 60 a minute a second",
            speed=args.speed,
        )
    return ""
