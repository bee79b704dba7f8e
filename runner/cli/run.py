"""``steplatch run`` and ``resume``: a real job begun, and any job come back to."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from steplatch.safety.catalogue import _

from . import exits, practise
from .command import JOB, Add, data_folder, fail, has_terminal, left
from .link import IDENTIFIERS
from .measure import COLUMNS

if TYPE_CHECKING:
    from ..core.job import Job
    from ..record import JobFolder

FIRST = _("Begin one: steplatch practise at a simulated vehicle, or steplatch run")


def add_to(add: Add) -> None:
    """``look``, ``run`` and ``resume``."""
    _begins(
        add(
            "look",
            _("codes, oil and one raised set: whether to clean, before anybody quotes"),
            "steplatch look --vehicle my-van.yaml --as technician-1",
            run,
        ),
        look_only=True,
    )
    _begins(
        add(
            "run",
            _("guide a real job, readings typed by you"),
            "steplatch run procedures/clean-above.yaml --vehicle my-van.yaml --as technician-1",
            run,
        ),
        look_only=False,
    )
    options = add("resume", _("come back to a job"), "steplatch resume", resume, "continue")
    options.add_argument("job", nargs="?", help=_("{job}; default the last", job=JOB))
    options.add_argument("--as", dest="person", metavar=_("PERSON"), help=_("who does the work"))
    options.add_argument("--plain", action="store_true", help=_("plain lines: nothing is drawn"))
    _live(options)


def _begins(options: argparse.ArgumentParser, look_only: bool) -> None:
    """What a command that begins a real job takes."""
    options.set_defaults(look_only=look_only)
    options.add_argument(
        "procedure",
        nargs="?",
        metavar=_("NAME_OR_FILE"),
        help=_("which job; asked for when left out"),
    )
    options.add_argument(
        "--vehicle", type=Path, metavar=_("FILE"), help=_("asked for when left out")
    )
    for name in ("gun", "fluid", "workshop", "people"):
        options.add_argument(
            f"--{name}", type=Path, metavar=_("FILE"), help=_("default: beside the vehicle")
        )
    options.add_argument("--as", dest="person", metavar=_("PERSON"), help=_("who does the work"))
    options.add_argument(
        "--with",
        dest="beside",
        metavar=_("PERSON"),
        nargs="*",
        help=_("who else stays to the end (no name: alone); asked for when left out"),
    )
    options.add_argument("--plain", action="store_true", help=_("plain lines: nothing is drawn"))
    _live(options)


def _live(options: argparse.ArgumentParser) -> None:
    options.add_argument(
        "--live",
        metavar=_("NAME"),
        help=_(
            "read the vehicle meanwhile: an adapter (COM5, /dev/ttyACM0, can0), or the growing "
            "file of a logger (drive.csv)"
        ),
    )
    options.add_argument("--columns", type=Path, metavar=_("FILE"), help=COLUMNS)
    options.add_argument("--identifiers", type=Path, metavar=_("FILE"), help=IDENTIFIERS)
    options.add_argument("--interface", default="slcan", choices=("slcan", "gs_usb", "socketcan"))
    options.add_argument(
        "--slow-bus",
        action="store_true",
        help=_("250 kbit/s: only if you know; it disturbs others"),
    )
    options.add_argument("--wide", action="store_true", help=_("29-bit identifiers"))


def run(args: argparse.Namespace) -> int:
    """A real job: what the command line does not name is chosen with the person."""
    from ..screen.desk import Left
    from ..screen.terminal.full_screen import talk_here
    from . import choosing, guided_job
    from .finding import procedure_path

    if not has_terminal():
        needed = choosing.NEEDS_TERMINAL if args.vehicle is None else guided_job.NEEDS_TERMINAL
        return fail(exits.NO_TERMINAL, needed)
    data = data_folder(args)
    if args.procedure:
        args.procedure = procedure_path(args.procedure, data)
    if args.vehicle is not None:
        return guided_job.run(args, data)
    try:
        chosen = choosing.chosen_or_practice(args, data)
    except Left:
        return left(_("Left. No job was begun."))
    if chosen is None:
        return practise.begin_one(args)
    talk, live = talk_here(args.plain), guided_job.live_of(args)
    return guided_job.begin_and_guide(
        data, chosen.bundle, chosen.person, talk, chosen.here, live, args.look_only
    )


def resume(args: argparse.Namespace) -> int:
    """Come back to a real job, or to a practice job (whose vehicle is rebuilt)."""
    from ..jobs.store import find, job_of, take_up
    from ..jobs.store import resume as resume_job
    from ..record import list_jobs
    from ..record.seal import is_sealed
    from ..screen.terminal.full_screen import talk_here
    from . import guided_job, practice_job

    data = data_folder(args)
    if not has_terminal():
        return fail(exits.NO_TERMINAL, guided_job.NEEDS_TERMINAL)
    if not list_jobs(data):
        return fail(
            exits.NO_SUCH_JOB, _("no job lies in {path} yet. {first}", path=data.path, first=FIRST)
        )
    folder = find(data, args.job)
    if is_sealed(folder):
        return _ended(args, folder, job_of(folder))
    taken = take_up(folder)
    if taken.job.core.ended:
        taken.writer.close()
        return _ended(args, folder, taken.job)
    talk = talk_here(args.plain)
    try:
        clock, hand, confirmed = practice_job.rebuilt(folder, talk, taken.lines)
    except BaseException:
        taken.writer.close()
        raise
    person = args.person or taken.lines[-1].envelope.actor
    session, bundle, findings = resume_job(folder, clock, person, "restarted", confirmed, taken)
    for finding in findings:
        talk.say(f"note: {finding}")
    if args.person:
        guided_job.choose_person(bundle, args.person, talk)
    live = guided_job.live_of(args) if hand is None else None
    return guided_job.guide_to_end(session, folder, bundle, talk, hand, live)


def _ended(args: argparse.Namespace, folder: JobFolder, job: Job) -> int:
    """Close a job that has ended, as far as it is not."""
    from ..screen.terminal.full_screen import talk_here
    from .closing import close_job

    print(_("This job has ended: {ended}. No line is added to it.", ended=job.core.ended))
    return close_job(talk_here(args.plain), folder, job, args.person or "")
