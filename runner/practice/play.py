"""Practice jobs: a lesson that plays itself, and a person at the simulated vehicle."""

import argparse
import json
from datetime import datetime
from pathlib import Path

from runner import exits
from runner.bundle import EXAMPLES, PROCEDURES, Bundle, Sources, load_bundle
from runner.clocks import Clock, RealClock
from runner.console.guide import Guide, Keeper
from runner.console.talk import LineTalk, has_terminal
from runner.practice.hand import Hand, VehicleClock
from runner.practice.lesson import Lesson, LessonStuck, ScriptTalk, load_lesson
from runner.practice.vehicle import SimulatedVehicle
from runner.record import DataFolder, JobFolder
from runner.session import Session
from runner.store import begin

SEED_FILE = "practice.json"


def bundle_for(procedure: str) -> Bundle:
    """The shipped procedure on the invented workshop."""
    return load_bundle(Sources.of_folder(EXAMPLES / "workshop", PROCEDURES / f"{procedure}.yaml"))


def find_lesson(name: str) -> Path:
    """A lesson file by path or by the name of a shipped one."""
    path = Path(name)
    return path if path.suffix in (".yaml", ".yml") else EXAMPLES / "lessons" / f"{name}.yaml"


def hands_free(args: argparse.Namespace, data: DataFolder, start: datetime) -> int:
    """Play a whole job from a lesson. Ends with verdict and where everything lies."""
    from runner.real import closing, keeper_for

    lesson = load_lesson(find_lesson(args.lesson))
    faults = tuple(args.fault or lesson.faults)
    seed = lesson.seed if args.seed is None else args.seed
    bundle = bundle_for(lesson.procedure)
    vehicle = SimulatedVehicle(seed, faults, bundle.vehicle)
    clock = VehicleClock(start, vehicle)
    talk = ScriptTalk(lesson, quiet=not args.show)
    session, folder = begin(data, bundle, clock, lesson.cast.worker, practice=True)
    hand = hand_of(bundle, vehicle)
    guide = Guide(session, talk, folder.id, Keeper(keeper_for(session, folder)), hand)
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
    talk = LineTalk()
    talk.say("PRACTICE: a simulated vehicle. Waits jump. The record says practice on every line.")
    person = choose_person(bundle, None, talk)
    clock = VehicleClock(datetime.now().astimezone(), vehicle)
    session, folder = begin(data, bundle, clock, person, practice=True)
    remember(folder, seed, faults, clock)
    return guide_to_end(session, folder, talk, hand_of(bundle, vehicle))


def hand_of(bundle: Bundle, vehicle: SimulatedVehicle) -> Hand:
    """The hands at the vehicle, with the raised band of the worked limits."""
    return Hand(vehicle, bundle.limits.raised_lower.value, bundle.limits.raised_upper.value)


def remember(folder: JobFolder, seed: int, faults: tuple[str, ...], clock: VehicleClock) -> None:
    """Keep what the vehicle was made from, so that the practice job can be resumed."""
    path = folder.path / SEED_FILE
    path.write_text(
        json.dumps({"seed": seed, "faults": list(faults), "start": clock.start.isoformat()}),
        encoding="utf-8",
    )


def rebuilt(folder: JobFolder) -> tuple[Clock, Hand | None]:
    """Clock and hands for a job that is come back to; a real job has no hands.

    The vehicle of a practice job is made anew from its seed and stands as it came in, engine
    off: the questions after an interruption are answered by looking at it.
    """
    from runner.record import read
    from runner.store import bundle_of

    path = folder.path / SEED_FILE
    if not path.exists():
        return RealClock(), None
    kept = json.loads(path.read_text(encoding="utf-8"))
    bundle = bundle_of(folder, list(read(folder.path)))
    vehicle = SimulatedVehicle(kept["seed"], tuple(kept["faults"]), bundle.vehicle)
    return VehicleClock(datetime.now().astimezone(), vehicle), hand_of(bundle, vehicle)


__all__ = ["Lesson", "Session", "by_hand", "hands_free", "rebuilt"]
