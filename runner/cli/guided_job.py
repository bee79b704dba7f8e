"""A job with a person at the terminal: a real one, or one that is come back to."""

import argparse
import contextlib
import os
from collections.abc import Callable
from datetime import date, datetime
from functools import partial
from pathlib import Path
from typing import Protocol

from steplatch.safety.catalogue import _

from ..core.commands import KEPT_APART
from ..input.shelf import PROCEDURES
from ..jobs.bundle import Bundle, Sources, load_bundle
from ..jobs.session import Session
from ..jobs.store import begin, job_of, personal_of
from ..record import DataFolder, JobFolder
from ..record.attachments import keep_file
from ..record.clocks import RealClock
from ..record.personal import (
    PersonalField,
    change_personal,
    commit_personal,
    create_personal,
    load_personal,
)
from ..screen.context import Context, Keeper, Leave
from ..screen.doubts import doubts_of
from ..screen.everywhere import carry_out
from ..screen.expected import ranges_of
from ..screen.first_look import LookFiles, first_look_of
from ..screen.guide import guide
from ..screen.recall import REGISTRATION, Recall
from ..screen.talk import (
    NOBODY,
    WHO,
    WHO_STAYS,
    WHO_WORKS,
    Choice,
    Gone,
    Prompt,
    Stopped,
    Talk,
)
from ..screen.terminal.full_screen import FullScreen, talk_here
from ..screen.terminal.plain_lines import PlainLines
from ..simulator.hand import Hand
from ..workshop.fluid_sheet import sheet_lines
from ..workshop.roster import admit, pin_book
from ..workshop.usual import unusual
from . import exits
from .closing import closing
from .command import fail
from .competent import lacks_at_work, not_competent

NEEDS_TERMINAL = _(
    "a person is needed here, but input or output is no terminal. Run it in a terminal, or play "
    "a lesson with: steplatch practise --hands-free"
)


class GoesWith(Protocol):
    """What is there while a job is guided: a link to its vehicle."""

    def join(self, on: Context, folder: JobFolder, bundle: Bundle) -> None:
        """Go with the job from now on."""

    def leave(self, talk: Talk) -> None:
        """Leave it: nothing is asked of the vehicle from then on."""


def run(args: argparse.Namespace, data: DataFolder) -> int:
    """Begin a real job on the files that the command line names, and guide it."""
    beside = args.vehicle.parent

    def path(name: str) -> Path:
        given: Path | None = getattr(args, name)
        return given or beside / f"{name}.yaml"

    admit(path("people"), data)
    bundle = load_bundle(
        Sources(
            args.procedure or PROCEDURES / "clean-above.yaml",
            args.vehicle,
            path("gun"),
            path("fluid"),
            path("workshop"),
            path("people"),
        )
    )
    talk = talk_here(args.plain)
    person = choose_person(bundle, args.person, talk)
    here = who_is_here(bundle, person, args.beside, talk)
    return begin_and_guide(data, bundle, person, talk, here, live_of(args), args.look_only)


def live_of(args: argparse.Namespace) -> GoesWith | None:
    """The link to a real vehicle that the options ask for; None without one."""
    if not args.live:
        return None
    from ..live.own_identifiers import load_own
    from .live_job import RealLive, by_adapter, by_logger
    from .measure import columns_of

    if args.live.lower().endswith(".csv"):
        return RealLive(by_logger(Path(args.live), columns_of(args.columns)))
    own = load_own(args.identifiers)
    return RealLive(by_adapter(args.live, args.interface, args.slow_bus, args.wide, own), own)


def begin_and_guide(
    data: DataFolder,
    bundle: Bundle,
    person: str,
    talk: PlainLines | FullScreen,
    here: tuple[str, ...],
    live: GoesWith | None = None,
    look_only: bool = False,
) -> int:
    """Open a real job on a bundle, and guide it; not with rules that fail their self-test."""
    from ..jobs.self_tests import wrong_before_a_job
    from .approving import not_approved

    today = datetime.now().astimezone().date()
    if refused := not_competent(data, bundle, person, here, today):
        return fail(exits.FAILED, refused)
    digest = bundle.hashes()[f"procedure:{bundle.main.id}"]
    if refused := not_approved(data, bundle.main.id, digest):
        return fail(exits.BAD_FILE, refused)
    if wrong := wrong_before_a_job(data):
        said = "; ".join(map(str, wrong))
        return fail(exits.UNSAFE, _("the rules at work fail their self-test: {said}", said=said))
    if not confirmed_unusual(bundle, talk):
        return fail(exits.BAD_FILE, _("a number in a file is not what was meant: mend the file"))
    session, folder = begin(data, bundle, RealClock(), person, practice=False, here=here)
    return guide_to_end(session, folder, bundle, talk, None, live, look_only)


class Asks(Protocol):
    """What asks one question before the job: any talk, or the desk of ``runner.screen``."""

    def say(self, text: str = "", style: str = "") -> None:
        """Show text."""

    def ask(self, prompt: Prompt) -> str:
        """Ask; returns the words as typed, or the value of a choice."""


def confirmed_unusual(bundle: Bundle, talk: Asks) -> bool:
    """Have each filed number outside its usual band typed again, before a job rests on it.

    False where another number is typed than stands in the file. Raises KeyboardInterrupt as
    ``choose_person`` does.
    """
    for odd in unusual(bundle.vehicle, bundle.gun, bundle.fluid, bundle.workshop):
        talk.say(_("UNUSUAL  {said}. Limits rest on it.", said=odd.said), "caution")
        text = _("Look it up once more, and type the number with its unit; s to stop.")
        if not odd.typed_again(asked_at_start(talk, Prompt("unusual", "line", text))):
            return False
    return True


def choose_person(bundle: Bundle, given: str | None, talk: Asks) -> str:
    """Who does the work: the option, else asked. Unknown names are refused with the list.

    Nothing has begun yet: stop, leave and a lost terminal end the program (KeyboardInterrupt).
    """
    known = [p.id for p in bundle.people]
    question = Prompt(
        WHO,
        "choice",
        _("{who_works} Type the number; s to stop.", who_works=WHO_WORKS),
        _listed(bundle, known),
    )
    while given not in known:
        if given is not None:
            talk.say(_("'{given}' is not on the list.", given=given[:20]))
        typed = asked_at_start(talk, question)
        given = picked(typed, known) or typed
    return given


def who_is_here(
    bundle: Bundle, person: str, given: list[str] | None, talk: Asks
) -> tuple[str, ...]:
    """Who is here until the end, by id, whoever works first: the option, else asked once.

    Only they count as present; whoever comes later joins. Raises KeyboardInterrupt as above.
    """
    others = [p.id for p in bundle.people if p.id != person]
    if given is not None:
        for name in given:
            if name not in (person, *others):
                talk.say(
                    _(
                        "'{name}' is not on the list: have them join when the job is open.",
                        name=name[:20],
                    )
                )
        return (person, *(name for name in dict.fromkeys(given) if name in others))
    question = Prompt(WHO, "line", WHO_STAYS, _listed(bundle, others))
    while others:
        typed = asked_at_start(talk, question).replace(",", " ").split()
        if [word.lower() for word in typed] == [NOBODY]:
            break
        found = [picked(word, others) or word for word in typed]
        if found and all(name in others for name in found):
            return (person, *dict.fromkeys(found))
        said = " ".join(typed)[:30]
        talk.say(
            _("'{said}' is not on the list.", said=said) if said else _("Enter alone is no answer.")
        )
    return (person,)


def _listed(bundle: Bundle, ids: list[str]) -> tuple[Choice, ...]:
    return tuple(Choice(p.id, f"{p.id} ({p.role.value})") for p in bundle.people if p.id in ids)


def asked_at_start(talk: Asks, question: Prompt) -> str:
    """What was typed before a job has begun. Raises KeyboardInterrupt where the person stops."""
    try:
        typed = talk.ask(question)
    except (Stopped, Gone):
        raise KeyboardInterrupt from None
    if typed.lower() in ("s", "stop", "leave"):
        raise KeyboardInterrupt
    return typed


def picked(typed: str, ids: list[str]) -> str | None:
    """The id that a number of the list stands for; None for anything else."""
    if typed.isascii() and typed.isdigit() and 1 <= int(typed) <= len(ids):
        return ids[int(typed) - 1]
    return None


def guide_to_end(
    session: Session,
    folder: JobFolder,
    bundle: Bundle,
    talk: PlainLines | FullScreen,
    hand: Hand | None,
    live: GoesWith | None = None,
    look_only: bool = False,
) -> int:
    """Guide until the job ends, the person leaves, or the terminal is gone; with ``live``, the
    vehicle reports meanwhile. ``look_only``: ask after the first look whether to go on."""
    on = Context(
        session,
        talk,
        folder.id,
        Keeper(keeper_for(session, folder)),
        hand,
        carry_out,
        doubts_of(bundle.vehicle, bundle.workshop),
        None if hand else pin_book(_data_of(folder)),
        ranges_of(bundle.vehicle, bundle.workshop),
        sheet_lines(bundle.fluid, date.fromisoformat(folder.id[:10])),
        recall_of(session, folder),
        first_look_of(LookFiles(bundle.vehicle, bundle.fluid, bundle.workshop, bundle.gun)),
        look_only,
        currency=bundle.workshop.currency or "",
        keep_file=lambda path, label, page: keep_file(folder, path, label, page=page),
        lacks=None if hand else partial(lacks_at_work, _data_of(folder), bundle),
    )
    with talk.keyboard.listening():
        try:
            if live is not None:
                live.join(on, folder, bundle)
            ended = guide(on)
        except Leave:
            talk.close()
            talk.say(_("Left. Come back with: steplatch resume {id}", id=folder.id))
            return exits.LEFT_OPEN
        except Gone:
            _let_go_of_the_terminal()
            return exits.LEFT_OPEN
        finally:
            if live is not None:
                live.leave(talk)
            session.writer.close()
            talk.close()
        code = exits.OK
        # The job has ended: what is said of it may be broken off, and closed by coming back.
        with contextlib.suppress(Stopped, Gone):
            code = closing(talk, folder, ended, session.person)
            if hand is not None:
                _debrief(talk, folder)
    return code


def recall_of(session: Session, folder: JobFolder) -> Recall:
    """What earlier jobs know of the car and the work, once the registration is known."""
    recall = Recall(_data_of(folder), session.job.log.practice, folder.id)
    recall.arrives(personal_of(folder).get(REGISTRATION, ""))
    return recall


def _debrief(talk: Talk, folder: JobFolder) -> None:
    """At the end of a practice job worked by hand: its debrief. Nothing for a real job."""
    from ..training.memory import kept_of

    if not job_of(folder).log.practice or kept_of(folder) is None:
        return
    from ..training.debrief import debrief_of
    from ..training.debrief_words import debrief_lines

    for text in ("", *debrief_lines(debrief_of(folder), talk.width)):
        talk.say(text)


def _let_go_of_the_terminal() -> None:
    """What is still to be written goes nowhere, so that the end code is not lost to it."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for descriptor in (1, 2):
        os.dup2(nowhere, descriptor)


def _data_of(folder: JobFolder) -> DataFolder:
    return DataFolder(folder.path.parent.parent, _("the job's"))


def keeper_for(session: Session, folder: JobFolder) -> Callable[[str, str], str]:
    """A function that keeps a personal value apart and returns its salted hash for the journal."""

    def keep(name: str, value: str) -> str:
        field = PersonalField(name)
        if field is PersonalField.VIN_TAIL:
            value = value.upper()  # a vehicle number has no small letters (ISO 3779)
        lock = session.writer.lock
        if load_personal(folder.path) is None:
            personal = create_personal(lock, {field: value}, staged=True)
        else:
            personal = change_personal(lock, field, value, staged=True)
        session.settle = partial(commit_personal, lock)
        return f"{KEPT_APART}{personal.bindings()[field]}"

    return keep
