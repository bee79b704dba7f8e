"""``steplatch link``: which adapters there are, what a vehicle gives, and a raw log of it.

It reads and nothing else.
"""

import argparse
import sys
import time
from pathlib import Path
from typing import Any

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, fail, number, print_json, whole
from .measure import COLUMNS, columns_of

IDENTIFIERS = _(
    "the maker's identifiers that you bring, YAML, each with its origin: shown and not used, but "
    "for a pressure with a zero and a check of your own gauge"
)
WATCH_S = 10.0
"""How long a vehicle is watched when nothing is recorded: long enough to measure its refresh."""


def add_to(add: Add) -> None:
    """``link``."""
    command = add(
        "link",
        _("read a vehicle through an adapter, and nothing but read"),
        "steplatch link --adapter COM5 --record drive.raw",
        link,
    )
    where = command.add_mutually_exclusive_group()
    where.add_argument("--adapter", metavar=_("NAME"), help=_("COM5, /dev/ttyACM0, can0"))
    where.add_argument("--practice", action="store_true", help=_("a practice vehicle instead"))
    where.add_argument("--replay", type=Path, metavar=_("FILE"), help=_("decode a raw log again"))
    where.add_argument(
        "--follow", type=Path, metavar=_("CSV"), help=_("the growing file of a logger")
    )
    command.add_argument("--columns", type=Path, metavar=_("FILE"), help=COLUMNS)
    command.add_argument("--identifiers", type=Path, metavar=_("FILE"), help=IDENTIFIERS)
    command.add_argument("--interface", default="slcan", choices=("slcan", "gs_usb", "socketcan"))
    command.add_argument(
        "--slow-bus",
        action="store_true",
        help=_("250 kbit/s: only if you know; it disturbs others"),
    )
    command.add_argument("--wide", action="store_true", help=_("29-bit identifiers"))
    command.add_argument("--record", type=Path, metavar=_("FILE"), help=_("keep a raw log"))
    command.add_argument(
        "--seconds", type=number, metavar="N", help=_("default 10; with --record: on")
    )
    command.add_argument(
        "--per-second", type=whole, default=10, metavar="N", help=_("questions, 1-10")
    )
    command.add_argument("--link-fault", action="append", default=[], metavar=_("NAME"))
    command.add_argument(
        "--list-faults", action="store_true", help=_("list the faults of the link")
    )
    command.add_argument("--json", action="store_true", help=_("one JSON object"))


def link(args: argparse.Namespace) -> int:
    """Run the command; returns its exit code."""
    if args.list_faults:
        return _faults()
    if args.replay:
        return _replay(args)
    if not 1 <= args.per_second <= 10:
        print(_("steplatch: --per-second is 1 to 10"), file=sys.stderr)
        return exits.USAGE
    if args.follow:
        return _watch(args, None)
    if args.practice or args.link_fault:
        from ..live.practice_ecu import LINK_FAULTS
        from ..live.practice_link import PracticeVehicle

        unknown = sorted(set(args.link_fault) - set(LINK_FAULTS))
        if unknown:
            print(
                _("steplatch: no such fault: {unknown}", unknown=", ".join(unknown)),
                file=sys.stderr,
            )
            return exits.USAGE
        width = "29" if args.wide else "11"
        with PracticeVehicle(link_faults=args.link_fault, addressing=width) as vehicle:
            vehicle.act("ignition", True)
            vehicle.act("start")
            return _watch(args, vehicle.channel)
    if args.adapter:
        return _watch(args, args.adapter)
    return _adapters(args)


def _adapters(args: argparse.Namespace) -> int:
    from ..live.adapter import PortLost, serial_ports
    from ..live.words import words

    try:
        ports = serial_ports()
    except PortLost as lost:
        return fail(exits.FAILED, words("link", lost.sign.value))
    if args.json:
        print_json("link-ports", {"ports": [{"name": name, "is": text} for name, text in ports]})
        return exits.OK
    print(_("Serial ports of this computer (nothing was opened or sent):"))
    for name, text in ports:
        print(f"  {name}  {text}")
    if not ports:
        print(_("  none"))
    print(
        _(
            "\n"
            "An adapter with slcan text or candle firmware, and a lead to the diagnostic "
            "socket, is\n"
            "what this reads through:  steplatch link --adapter NAME\n"
            "No adapter? Everything works by typing, or:  steplatch link --practice"
        )
    )
    return exits.OK


def _faults() -> int:
    from ..live.practice_ecu import LINK_FAULTS

    for name, text in LINK_FAULTS.items():
        print(f"{name:16} {text}")
    return exits.OK


def _source(args: argparse.Namespace, channel: str | None, begin: float, log: Any) -> Any:
    from ..live.adapter import BITRATES, CanAdapter
    from ..live.connection import Connection
    from ..live.frames import Addressing
    from ..live.growing_csv import GrowingCsv
    from ..live.own_identifiers import load_own

    def clock_ms() -> int:
        return int((time.monotonic() - begin) * 1000)

    if channel is None:
        return GrowingCsv(args.follow, clock_ms, columns_of(args.columns), log)
    width = Addressing.BITS_29 if args.wide else Addressing.BITS_11
    rate = BITRATES[1] if args.slow_bus else BITRATES[0]
    return Connection(
        lambda: CanAdapter(channel, width, args.interface, rate),
        clock_ms,
        width,
        log,
        1000 // args.per_second,
        load_own(args.identifiers),
    )


def _watch(args: argparse.Namespace, channel: str | None) -> int:
    from ..input.findings import BadFile, Finding
    from ..live.connection import Need
    from ..live.frames import Addressing
    from ..live.link import LinkState
    from ..live.raw_log import RawLog
    from ..live.words import words

    width = Addressing.BITS_29 if args.wide and channel else Addressing.BITS_11
    try:
        log = RawLog(args.record, width) if args.record else None
    except OSError as error:
        what = _("it cannot be written ({strerror})", strerror=error.strerror)
        raise BadFile(
            [Finding(str(args.record), 1, 1, "file", what, _("Choose a name that is free"))]
        ) from error
    begin = time.monotonic()
    seconds = args.seconds or (float("inf") if args.record else WATCH_S)
    told: list[Any] = []
    said = None
    awake_from = None
    source = _source(args, channel, begin, log)
    try:
        while True:
            now = time.monotonic()
            if channel is not None:
                source.messages.put(Need())
            told += _show(source.step(), args.json)
            if channel is None:
                time.sleep(0.05)
            if source.link.cause is not said:
                said = source.link.cause
                if not args.json:
                    print(words("link", said.value), flush=True)
                    if why := getattr(source, "problem", ""):
                        print(why, flush=True)
            if source.link.state is LinkState.AWAKE and awake_from is None:
                awake_from = now
            waited = 2 * WATCH_S if awake_from is None else seconds
            if now - (awake_from or begin) >= waited and not (args.record and not args.seconds):
                break
    except KeyboardInterrupt:
        pass
    car, witness, own = getattr(source, "car", None), source.witness, getattr(source, "own", ())
    cause = source.link.cause
    more, digest = source.close()
    told += _show(more, args.json)
    return _report(args, car, witness, own, cause, told, digest)


def _show(happenings: list[Any], quiet: bool) -> list[Any]:
    from ..live.words import words

    for happening in happenings:
        if not quiet:
            numbers = " ".join(f"{name}={value}" for name, value in happening.numbers)
            at = happening.at_ms / 1000
            print(f"{at:8.1f} s  {words('happening', happening.what)} {numbers}".rstrip())
    return happenings


def _report(
    args: argparse.Namespace,
    car: Any,
    witness: Any,
    own: Any,
    cause: Any,
    told: list[Any],
    digest: Any,
) -> int:
    from dataclasses import asdict

    from ..live.report import gives, lines
    from ..live.words import words

    rows = gives(car, witness, own) if car else []
    if args.json:
        print_json(
            "link",
            {
                "cause": cause.value,
                "gives": rows,
                "happenings": [h.plain() for h in told],
                "raw_log": asdict(digest) if digest else None,
            },
        )
    else:
        for text in lines(car, witness, own) if car else []:
            print(text)
        if digest:
            print(
                _(
                    "\n{record}: {size} bytes, SHA-256 {sha256}",
                    record=args.record,
                    size=digest.size,
                    sha256=digest.sha256,
                )
            )
        print("\n" + words("link", "left"))
    return exits.OK if car or args.follow else exits.FAILED


def _replay(args: argparse.Namespace) -> int:
    from dataclasses import asdict

    from ..input.findings import BadFile, Finding
    from ..live.raw_log import BadRawLog, replay

    try:
        again = replay(args.replay.read_bytes())
    except (OSError, BadRawLog) as error:
        line = error.line if isinstance(error, BadRawLog) else 1
        raise BadFile(
            [Finding(str(args.replay), line, 1, "file", str(error), _("Check the file"))]
        ) from error
    if args.json:
        print_json(
            "link-replay",
            {
                "raw_log": asdict(again.digest),
                "same_table": again.same_table,
                "whole": again.whole,
                "happenings": [h.plain() for h in again.happenings],
            },
        )
        return exits.OK
    _show(list(again.happenings), False)
    print(f"SHA-256 {again.digest.sha256}")
    print(
        _("decoded with the table it was made with")
        if again.same_table
        else _("another table today")
    )
    print("whole" if again.whole else _("it was cut: what was written last is missing"))
    return exits.OK
