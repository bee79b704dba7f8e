"""Practice jobs: a lesson that plays itself, and a person at the simulated vehicle."""

import argparse
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from steplatch.safety.catalogue import _

from ..core.commands import Note
from ..input.findings import BadFile
from ..input.shelf import PROCEDURES
from ..jobs.bundle import EXAMPLES, Bundle, Sources, load_bundle
from ..jobs.ledgers import tell
from ..jobs.session import Session
from ..jobs.store import begin, bundle_of
from ..record import DataFolder, JobFolder, JournalLine
from ..record.clocks import Clock, RealClock
from ..record.ledger import PRACTICE, Entry
from ..screen.context import Context, Keeper
from ..screen.everywhere import carry_out
from ..screen.guide import NoProgress, guide
from ..screen.talk import Choice, Prompt, Talk
from ..screen.terminal.full_screen import talk_here
from ..screen.terminal.plain_lines import PlainLines
from ..simulator.faults import DRAWN, draw_faults
from ..simulator.hand import Hand, VehicleClock
from ..simulator.vehicle import SimulatedVehicle
from ..training.card import PracticeCard
from ..training.exercise import Exercise, load_exercise, wrong_places
from ..training.lesson import Lesson, LessonStuck, Script, load_lesson
from ..training.memory import About, Memory, remembered
from ..training.pace import PacedHand, PacedVehicleClock
from ..training.practised import NOTE, setup_sha256
from ..training.progress import SetFault, open_set, progress_of
from ..workshop.pins import Accepted
from ..workshop.roster import admit, pin_book
from . import exits
from .closing import closing
from .command import fail, has_terminal
from .finding import main_procedures
from .guided_job import (
    NEEDS_TERMINAL,
    Asks,
    asked_at_start,
    choose_person,
    guide_to_end,
    keeper_for,
    picked,
)

Confirmed = Callable[[int], None]
"""Told the number of each line that is safe on disk."""
SEEDS = 1_000_000
MOST_RETURNS = 6
"""How often a lesson may come to one place of its job; those that are shipped never come back."""
FIRST_LESSON = "good-clean"
LIVE_SPEED = 60.0
"""With a link waits pass instead of jumping, at first so many times as fast as real time."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What a practice job is played with. ``changed`` says what was given instead of the lesson's
    own; ``note`` is what the record says of an exercise."""

    lesson: Lesson
    faults: tuple[str, ...]
    seed: int
    bundle: Bundle
    vehicle: SimulatedVehicle
    changed: str = ""
    exercise: Exercise | None = None
    exercise_text: str = ""
    note: Note | None = None
    set_sha256: str = ""

    def about(self, plays_itself: bool, speed: float = 0.0) -> About:
        """What is kept beside the record."""
        return About(self.lesson.id, self.exercise_text, plays_itself, speed)


def setting_of(args: argparse.Namespace, due: SetFault | None = None) -> Setting:
    """Lesson or exercise, faults, seed, files and vehicle, as the options say; ``due`` is what was
    set for the person.

    Raises BadFile, UnknownFaultError.
    """
    exercise_file: Path | None = getattr(args, "exercise", None)
    people: Path | None = getattr(args, "people", None)
    if exercise_file is not None:
        return _exercised(exercise_file, people)
    lesson = lesson_of(args.lesson, getattr(args, "procedure", None))
    given = tuple(args.fault or ()) if due is None else (due.fault,)
    seed = args.seed if due is None else due.seed
    if seed is None:
        seed = secrets.randbelow(SEEDS) if DRAWN in given else lesson.seed
    taken = tuple(name for name in given if name != DRAWN)
    if DRAWN in given:
        taken += draw_faults(seed)
    faults = taken or lesson.faults
    changed = " and ".join(
        option for option, value in (("--fault", given), ("--seed", args.seed is not None)) if value
    )
    bundle = bundle_for(getattr(args, "procedure", None) or lesson.procedure, people)
    vehicle = SimulatedVehicle(seed, faults, bundle.vehicle)
    return Setting(
        lesson, faults, seed, bundle, vehicle, changed, set_sha256=due.sha256 if due else ""
    )


def _exercised(path: Path, people: Path | None) -> Setting:
    exercise, document = load_exercise(path)
    lesson = exercise.on_card(load_lesson(find_lesson(exercise.card)))
    bundle = bundle_for(exercise.procedure, people)
    wrong = wrong_places(exercise, document, bundle.plan)
    if wrong:
        raise BadFile(wrong)
    faults = exercise.drawn(exercise.seed)
    note = Note(
        "exercise",
        {
            "id": exercise.id,
            "title": exercise.title,
            "set_by": exercise.set_by,
            "sha256": document.sha256_of_bytes,
        },
    )
    return Setting(
        lesson,
        faults,
        exercise.seed,
        bundle,
        SimulatedVehicle(exercise.seed, faults, bundle.vehicle),
        exercise=exercise,
        exercise_text=path.read_text(encoding="utf-8"),
        note=note,
    )


def bundle_for(procedure: str, people: Path | None = None) -> Bundle:
    """A shipped procedure by its name, or any by its path, on the invented workshop; with one's own
    people where they are named."""
    path = Path(procedure)
    if path.suffix not in (".yaml", ".yml"):
        path = PROCEDURES / f"{procedure}.yaml"
    sources = Sources.of_practice(path)
    return load_bundle(replace(sources, people=people) if people is not None else sources)


def lesson_of(name: str | None, procedure: str | None) -> Lesson:
    """The lesson of this name; without one the first of the procedure, else the good clean, whose
    answers then stand on the practice card. Raises BadFile."""
    if name:
        return load_lesson(find_lesson(name))
    good = load_lesson(find_lesson(FIRST_LESSON))
    if not procedure:
        return good
    lessons = (load_lesson(path) for path in sorted((EXAMPLES / "lessons").glob("*.yaml")))
    own = Path(procedure).parent / "lessons" / Path(procedure).name
    if Path(procedure).suffix and own.is_file():
        return load_lesson(own)
    return next((one for one in lessons if one.procedure == procedure), good)


def find_lesson(name: str) -> Path:
    """A lesson file by path or by the name of a shipped one."""
    path = Path(name)
    return path if path.suffix in (".yaml", ".yml") else EXAMPLES / "lessons" / f"{name}.yaml"


def begin_at_vehicle(
    data: DataFolder,
    bundle: Bundle,
    clock: VehicleClock,
    vehicle: SimulatedVehicle,
    person: str,
    about: About | None = None,
    confirmed: Confirmed | None = None,
) -> tuple[Session, JobFolder]:
    """Begin a practice job whose vehicle is kept beside the record after each line."""
    memory = Memory(vehicle, clock.start, about or About())

    def safe(seq: int) -> None:
        memory(seq)
        if confirmed is not None:
            confirmed(seq)

    session, folder = begin(data, bundle, clock, person, practice=True, confirmed=safe)
    memory.folder = folder.path
    memory(session.writer.head.lines)
    return session, folder


def hands_free(args: argparse.Namespace, data: DataFolder, start: datetime) -> int:
    """Play a whole job from a lesson. Ends with verdict and where everything lies.

    Fails when the lesson gets stuck, or ends otherwise than it says.
    """
    setting = setting_of(args)
    lesson, vehicle = setting.lesson, setting.vehicle
    clock = VehicleClock(start, vehicle)
    about = setting.about(plays_itself=True)
    session, folder = begin_at_vehicle(
        data, setting.bundle, clock, vehicle, lesson.cast.worker, about
    )
    talk = Script(lesson, quiet=not args.show)
    on = context_of(session, folder, talk, setting.bundle, vehicle)
    print(
        _(
            "lesson   {title} ({faults}, seed {seed})",
            title=lesson.title,
            faults=", ".join(setting.faults),
            seed=setting.seed,
        )
    )
    live = None
    if args.live:
        from .live_job import PracticeLive

        print(_("link     values come in real time: this takes some ten minutes"))
        live = PracticeLive(vehicle, on.hand, setting.seed, args.link_fault, waits=True)
    try:
        if live is not None:
            live.join(on, folder, setting.bundle)
        ended = guide(on)
    except (LessonStuck, NoProgress) as stuck:
        print(f"steplatch: {stuck}")
        return exits.FAILED
    finally:
        if live is not None:
            live.leave(talk)
        session.writer.close()
    code = closing(PlainLines(), folder, ended)
    print(_("time     {elapsed_s:.0f} min of practice time", elapsed_s=clock.elapsed_s / 60))
    print(_("debrief  steplatch debrief {id}", id=folder.id))
    return code or compared(setting, session, ended)


def compared(setting: Setting, session: Session, ended: str) -> int:
    """Whether the job ended as its lesson says, as an exit code; says both where it did not.

    A job with other faults or another seed than the lesson's is not compared, and says so.
    """
    if setting.changed:
        print(
            _(
                "not compared with the end that the lesson says: {changed} was given",
                changed=setting.changed,
            )
        )
        return exits.OK
    expected = setting.lesson.expected
    verdict = str((session.job.log.latest("verdict") or {}).get("state", "none"))
    if ended == expected.ended and verdict in expected.verdicts:
        return exits.OK
    print(_("steplatch: lesson '{id}' did not end as it says.", id=setting.lesson.id))
    print(
        _(
            "  it says   {ended}, verdict {verdicts}",
            ended=expected.ended,
            verdicts=" or ".join(expected.verdicts),
        )
    )
    print(_("  it ended  {ended}, verdict {verdict}", ended=ended, verdict=verdict))
    return exits.FAILED


def by_hand(args: argparse.Namespace, data: DataFolder) -> int:
    """A person works a practice job. Time at the vehicle jumps, or passes at ``--speed``; nothing
    can be hurt."""
    if not has_terminal():
        return fail(exits.NO_TERMINAL, NEEDS_TERMINAL)
    talk = talk_here(args.plain)
    if getattr(args, "procedure", None) == "":
        args.procedure = choose_procedure(talk, data)
    due = None
    if args.people is not None:
        admit(args.people, data)
        if args.set and (due := due_for(data, args.person)) is None:
            return fail(
                exits.USAGE,
                _("nothing is set for {person} that has no job yet", person=args.person),
            )
    setting = setting_of(args, due)
    speed: float | None = getattr(args, "speed", None)
    if args.live and speed is None:
        speed = LIVE_SPEED
    for text in opening_lines(setting.exercise, speed, due):
        talk.say(text)
    person = choose_person(setting.bundle, args.person, talk)
    how = shown_by_pin(data, person, talk) if args.people is not None else ""
    start = datetime.now().astimezone()
    clock = VehicleClock(start, setting.vehicle)
    hand = hand_of(setting.bundle, setting.vehicle, setting.lesson)
    if speed is not None:
        clock, hand = paced(clock, hand, speed, talk)
    live = None
    if args.live:
        from .live_job import LivesOn, PracticeLive

        live = PracticeLive(setting.vehicle, hand, setting.seed, args.link_fault)
        assert speed is not None
        clock = LivesOn(start, setting.vehicle, speed, talk)
    about = setting.about(plays_itself=False, speed=speed or 0.0)
    session, folder = begin_at_vehicle(data, setting.bundle, clock, setting.vehicle, person, about)
    if setting.note is not None:
        session.submit(setting.note)
    if how:
        as_oneself(data, session, folder, practised_note(setting, person, how))
    return guide_to_end(session, folder, setting.bundle, talk, hand, live)


def choose_procedure(talk: Asks, data: DataFolder) -> str:
    """The name of a shipped main procedure, or the path of an own one, chosen from a list."""
    choices = tuple(
        Choice(p.id if path.parent == PROCEDURES else str(path), said)
        for path, p, said in main_procedures(data)
    )
    names = [choice.value for choice in choices]
    while True:
        typed = asked_at_start(talk, Prompt("procedure", "choice", _("Which job?"), choices))
        if name := picked(typed, names) or (typed if typed in names else ""):
            return name


def paced(
    clock: VehicleClock, hand: Hand, speed: float, talk: Talk
) -> tuple[PacedVehicleClock, PacedHand]:
    """Clock and hands of a practice job whose waits pass ``speed`` times as fast as real time."""
    return PacedVehicleClock(clock.start, hand.vehicle, speed, talk), PacedHand(hand, speed, talk)


def due_for(data: DataFolder, person: str) -> SetFault | None:
    """The next fault that a supervisor set for this person. Raises BadSideFile, JournalFailed."""
    return open_set(progress_of(data, person, datetime.now().astimezone().date()).sets)


def shown_by_pin(data: DataFolder, person: str, talk: Asks) -> str:
    """How somebody showed who practises: ``pin``, or ``name`` where none is set. A wrong PIN is
    asked for again. Raises KeyboardInterrupt where the person stops."""
    book = pin_book(data)
    if not book.has_pin(person):
        talk.say(
            _(
                "No PIN of {person} is set: this practice will not count as anybody's own.",
                person=person,
            )
        )
        return "name"
    while True:
        text = _(
            "{person}: type your PIN to practise as yourself; it is not shown. s to stop.",
            person=person,
        )
        outcome = book.check(person, asked_at_start(talk, Prompt("pin", "secret", text)))
        if isinstance(outcome, Accepted):
            return "pin"
        talk.say(outcome.words)


def practised_note(setting: Setting, person: str, how: str) -> Note:
    """What the record says of who practised, and of what was set up for them."""
    digest = setup_sha256(
        setting.faults, setting.seed, setting.lesson.id, setting.exercise_text, setting.set_sha256
    )
    value = {"person": person, "how": how, "setup_sha256": digest, "set": setting.set_sha256}
    return Note(NOTE, {name: text for name, text in value.items() if text})


def as_oneself(data: DataFolder, session: Session, folder: JobFolder, said: Note) -> None:
    """Name who practises, in the ledger of practice first: a journal that names somebody and is
    not known there was not begun here. Raises JournalFailed."""
    head = session.writer.head
    entry = Entry("begun", folder.id, session.person, head.lines, head.sha256)
    tell(data, entry, folder=PRACTICE)
    session.submit(said)


def opening_lines(
    exercise: Exercise | None, speed: float | None, due: SetFault | None = None
) -> list[str]:
    """What a practice job by hand says before anything else."""
    waits = _("Waits jump.")
    if speed is not None:
        waits = _(
            "Waits pass {speed:g} times as fast as real time; bursts are counted by you.",
            speed=speed,
        )
    lines = [
        _(
            "PRACTICE: a simulated vehicle. {waits} The record says practice on every line.",
            waits=waits,
        )
    ]
    if due is not None:
        lines.append(
            _(
                "SET: by {by}, to be found by {until}. Say what is wrong with it.",
                by=due.by,
                until=due.until,
            )
        )
        lines.append(_("What is wrong with this vehicle is said in the debrief."))
    if exercise is not None:
        lines.append(
            _("EXERCISE: {title}, set by {set_by}.", title=exercise.title, set_by=exercise.set_by)
        )
        lines += exercise.told.splitlines()
        lines.append(_("What is wrong with this vehicle is said in the debrief."))
    return lines


def hand_of(bundle: Bundle, vehicle: SimulatedVehicle, lesson: Lesson | None = None) -> Hand:
    """The hands at the vehicle, with the raised band of the worked limits and the practice card:
    what the vehicle shows, and with a lesson what its answers say."""
    told = {} if lesson is None else _told(lesson)
    slips = {} if lesson is None else {str(act): slip for act, slip in lesson.slips.items()}
    low, high = bundle.limits.raised_lower.value, bundle.limits.raised_upper.value
    return Hand(vehicle, low, high, PracticeCard(vehicle, told), slips)


def _told(lesson: Lesson) -> dict[str, str]:
    """The practice card of a lesson: its single answers by step."""
    return {key: text for key, text in lesson.answers.items() if isinstance(text, str)}


def card_of(about: About) -> Lesson:
    """The lesson whose answers stand on the practice card of a job that is come back to.

    A lesson that is no longer there, or a job of an earlier program: the good clean's.
    """
    from ..input.strict_yaml import load_text, validate

    try:
        if about.exercise:
            exercise = validate(load_text(about.exercise, _("the job's exercise")), Exercise)
            return exercise.on_card(load_lesson(find_lesson(exercise.card)))
        return load_lesson(find_lesson(about.lesson))
    except BadFile:
        return load_lesson(find_lesson("good-clean"))


def context_of(
    session: Session, folder: JobFolder, talk: Script, bundle: Bundle, vehicle: SimulatedVehicle
) -> Context:
    """What guides a lesson, with the hands at its vehicle."""
    keeper = Keeper(keeper_for(session, folder))
    hand = hand_of(bundle, vehicle, talk.lesson)
    return Context(session, talk, folder.id, keeper, hand, carry_out, most_returns=MOST_RETURNS)


def rebuilt(
    folder: JobFolder, talk: Talk | None = None, lines: Sequence[JournalLine] = ()
) -> tuple[Clock, Hand | None, Confirmed | None]:
    """Clock, hands and memory of a job that is come back to; a real job has only a clock.

    The vehicle of a practice job stands as it stood at the last line that was kept: the
    questions after an interruption are answered by looking at it. Waits pass at the speed that
    the job was begun with, where there is a ``talk`` to show them. Raises BrokenJob.
    """
    from ..record import read

    bundle = bundle_of(folder, lines or list(read(folder.path)))
    kept = remembered(folder, bundle)
    if kept is None:
        return RealClock(), None, None
    clock, memory = kept
    card = card_of(memory.about).model_copy(update={"slips": {}})
    hand = hand_of(bundle, memory.vehicle, card)
    if talk is not None and memory.about.speed:
        clock, hand = paced(clock, hand, memory.about.speed, talk)
        talk.say(
            _(
                "PRACTICE: waits pass {speed:g} times as fast, as it was begun.",
                speed=memory.about.speed,
            )
        )
    return clock, hand, memory
