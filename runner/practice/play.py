"""Practice jobs: a lesson that plays itself, and a person at the simulated vehicle."""

import argparse
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from runner import exits
from runner.bundle import EXAMPLES, PROCEDURES, Bundle, Sources, load_bundle
from runner.clocks import Clock, RealClock
from runner.console.full_screen import talk_here
from runner.console.guide import Guide, Keeper
from runner.console.talk import LineTalk, has_terminal
from runner.practice.hand import Hand, VehicleClock
from runner.practice.lesson import Lesson, LessonStuck, ScriptTalk, load_lesson
from runner.practice.memory import Memory, remembered
from runner.practice.vehicle import SimulatedVehicle
from runner.record import DataFolder, JobFolder
from runner.session import Session
from runner.store import begin, bundle_of

Confirmed = Callable[[int], None]
"""Told the number of each line that is safe on disk."""


def bundle_for(procedure: str) -> Bundle:
    """The shipped procedure on the invented workshop."""
    return load_bundle(Sources.of_folder(EXAMPLES / "workshop", PROCEDURES / f"{procedure}.yaml"))


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
    confirmed: Confirmed | None = None,
) -> tuple[Session, JobFolder]:
    """Begin a practice job whose vehicle is kept beside the record after each line."""
    memory = Memory(vehicle, clock.start)

    def safe(seq: int) -> None:
        memory(seq)
        if confirmed is not None:
            confirmed(seq)

    session, folder = begin(data, bundle, clock, person, practice=True, confirmed=safe)
    memory.folder = folder.path
    memory(session.writer.head.lines)
    return session, folder


def hands_free(args: argparse.Namespace, data: DataFolder, start: datetime) -> int:
    """Play a whole job from a lesson. Ends with verdict and where everything lies."""
    from runner.real import closing

    lesson = load_lesson(find_lesson(args.lesson))
    faults = tuple(args.fault or lesson.faults)
    seed = lesson.seed if args.seed is None else args.seed
    bundle = bundle_for(lesson.procedure)
    vehicle = SimulatedVehicle(seed, faults, bundle.vehicle)
    clock = VehicleClock(start, vehicle)
    session, folder = begin_at_vehicle(data, bundle, clock, vehicle, lesson.cast.worker)
    guide = guide_of(session, folder, ScriptTalk(lesson, quiet=not args.show), bundle, vehicle)
    print(f"lesson   {lesson.title} ({', '.join(faults)}, seed {seed})")
    try:
        ended = guide.run()
    except LessonStuck as stuck:
        print(f"steplatch: {stuck}")
        return exits.FAILED
    finally:
        session.writer.close()
    closing(LineTalk(), folder, ended)
    print(f"time     {clock.elapsed_s / 60:.0f} min of practice time")
    return exits.OK


def by_hand(args: argparse.Namespace, data: DataFolder) -> int:
    """A person works a practice job. Time at the vehicle jumps; nothing can be hurt."""
    from runner.real import NEEDS_TERMINAL, choose_person, guide_to_end

    if not has_terminal():
        print(f"steplatch: {NEEDS_TERMINAL}")
        return exits.NO_TERMINAL
    lesson = load_lesson(find_lesson(args.lesson))
    faults = tuple(args.fault or lesson.faults)
    seed = lesson.seed if args.seed is None else args.seed
    bundle = bundle_for(lesson.procedure)
    vehicle = SimulatedVehicle(seed, faults, bundle.vehicle)
    talk = talk_here(args.plain)
    talk.say("PRACTICE: a simulated vehicle. Waits jump. The record says practice on every line.")
    person = choose_person(bundle, None, talk)
    clock = VehicleClock(datetime.now().astimezone(), vehicle)
    session, folder = begin_at_vehicle(data, bundle, clock, vehicle, person)
    return guide_to_end(session, folder, talk, hand_of(bundle, vehicle, lesson))


def hand_of(bundle: Bundle, vehicle: SimulatedVehicle, lesson: Lesson | None = None) -> Hand:
    """The hands at the vehicle, with the raised band of the worked limits; with a lesson, what
    its answers say stands on the practice card."""
    told = {} if lesson is None else _told(lesson)
    low, high = bundle.limits.raised_lower.value, bundle.limits.raised_upper.value
    return Hand(vehicle, low, high, told)


def _told(lesson: Lesson) -> dict[str, str]:
    """The practice card of a lesson: its single answers by step."""
    return {key: text for key, text in lesson.answers.items() if isinstance(text, str)}


def _lesson_for(vehicle: SimulatedVehicle) -> Lesson:
    """The shipped lesson with this vehicle's faults, else the good clean: the practice card of a
    job that is come back to."""
    shipped = [load_lesson(path) for path in sorted((EXAMPLES / "lessons").glob("*.yaml"))]
    good = next(lesson for lesson in shipped if lesson.id == "good-clean")
    return next((x for x in shipped if set(x.faults) == set(vehicle.faults)), good)


def guide_of(
    session: Session, folder: JobFolder, talk: ScriptTalk, bundle: Bundle, vehicle: SimulatedVehicle
) -> Guide:
    """The guide of a lesson, with the hands at its vehicle."""
    from runner.real import keeper_for

    keeper = Keeper(keeper_for(session, folder))
    return Guide(session, talk, folder.id, keeper, hand_of(bundle, vehicle))


def rebuilt(folder: JobFolder) -> tuple[Clock, Hand | None, Confirmed | None]:
    """Clock, hands and memory of a job that is come back to; a real job has only a clock.

    The vehicle of a practice job stands as it stood at the last line that was kept: the
    questions after an interruption are answered by looking at it. Raises BrokenJob.
    """
    from runner.record import read

    bundle = bundle_of(folder, list(read(folder.path)))
    kept = remembered(folder, bundle)
    if kept is None:
        return RealClock(), None, None
    clock, vehicle = kept
    return (
        clock,
        hand_of(bundle, vehicle, _lesson_for(vehicle)),
        Memory(vehicle, clock.start, folder.path),
    )


__all__ = ["Lesson", "Session", "begin_at_vehicle", "by_hand", "hands_free", "rebuilt"]
