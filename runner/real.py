"""A job with a person at the terminal: a real one, or one that is come back to."""

import argparse
from collections.abc import Callable
from pathlib import Path

from runner import exits
from runner.bundle import Bundle, Sources, load_bundle
from runner.clocks import RealClock
from runner.console.guide import Guide, Keeper, Leave
from runner.console.talk import Gone, LineTalk, Talk, has_terminal
from runner.practice.hand import Hand
from runner.record import DataFolder, JobFolder
from runner.record.personal import PersonalField, change_personal, create_personal, load_personal
from runner.session import Session
from runner.store import BrokenJob, begin, find
from runner.store import resume as resume_job

NEEDS_TERMINAL = (
    "a person is needed here, but input or output is no terminal. Run it in a terminal, or play "
    "a lesson with: steplatch practise --hands-free"
)


def run(args: argparse.Namespace, procedure: Path, data: DataFolder) -> int:
    """Begin a real job and guide it."""
    if not has_terminal():
        print(f"steplatch: {NEEDS_TERMINAL}")
        return exits.NO_TERMINAL
    beside = args.vehicle.parent

    def path(name: str) -> Path:
        given: Path | None = getattr(args, name)
        return given or beside / f"{name}.yaml"

    bundle = load_bundle(
        Sources(
            procedure, args.vehicle, path("gun"), path("fluid"), path("workshop"), path("people")
        )
    )
    talk = LineTalk()
    person = choose_person(bundle, args.person, talk)
    session, folder = begin(data, bundle, RealClock(), person, practice=False)
    return guide_to_end(session, folder, talk, None)


def resume(args: argparse.Namespace, data: DataFolder) -> int:
    """Come back to a real job, or to a practice job (whose vehicle is rebuilt)."""
    from runner.practice.play import rebuilt

    if not has_terminal():
        print(f"steplatch: {NEEDS_TERMINAL}")
        return exits.NO_TERMINAL
    folder = find(data, args.job)
    clock, hand, confirmed = rebuilt(folder)
    talk = LineTalk()
    session, bundle, findings = resume_job(
        folder, clock, args.person or _last_actor(folder), confirmed=confirmed
    )
    for finding in findings:
        talk.say(f"note: {finding}")
    if session.job.core.ended:
        talk.say(f"This job has ended: {session.job.core.ended}.")
        return exits.OK
    if args.person:
        choose_person(bundle, args.person, talk)
    return guide_to_end(session, folder, talk, hand)


def _last_actor(folder: JobFolder) -> str:
    from runner.record import read

    actor = ""
    for line in read(folder.path):
        actor = line.envelope.actor
    if not actor:
        raise BrokenJob(f"{folder.path}: the job has no line yet; begin a new one")
    return actor


def choose_person(bundle: Bundle, given: str | None, talk: Talk) -> str:
    """Who does the work: the option, else asked. Unknown names are refused with the list."""
    from runner.console.talk import WHO, Prompt

    known = [p.id for p in bundle.people]
    while given not in known:
        if given is not None:
            talk.say(f"'{given}' is not on the list.")
        listed = ", ".join(f"{p.id} ({p.role.value})" for p in bundle.people)
        given = talk.ask(Prompt(WHO, "person", f"Who does the work? {listed}"))
    return given


def guide_to_end(session: Session, folder: JobFolder, talk: Talk, hand: Hand | None) -> int:
    """Guide until the job ends, the person leaves, or the terminal is gone."""
    guide = Guide(session, talk, folder.id, Keeper(keeper_for(session, folder)), hand)
    try:
        ended = guide.run()
    except Leave:
        talk.say(f"Left. Come back with: steplatch resume {folder.id}")
        return exits.LEFT_OPEN
    except Gone:
        return exits.LEFT_OPEN
    finally:
        session.writer.close()
    closing(talk, folder, ended)
    return exits.OK


def closing(talk: Talk, folder: JobFolder, ended: str) -> Path:
    """Write the sheet and say where everything lies."""
    from runner.report import sheet_content, to_html
    from runner.sheet_of import record_of

    record = record_of(folder)
    page = folder.path / "sheet.html"
    page.write_text(to_html(sheet_content(record)), encoding="utf-8")
    verdict = record.job.log.latest("verdict")
    talk.say()
    if verdict is not None:
        for text in verdict["lines"]:
            talk.say(text)
    talk.say(f"JOB      {folder.id}: {ended}")
    talk.say(f"journal  {folder.journal}")
    talk.say(f"sheet    {page}")
    return page


def keeper_for(session: Session, folder: JobFolder) -> Callable[[str, str], str]:
    """A function that keeps a personal value apart and returns its salted hash for the journal."""

    def keep(name: str, value: str) -> str:
        field = PersonalField(name)
        lock = session.writer.lock
        if load_personal(folder.path) is None:
            personal = create_personal(lock, {field: value})
        else:
            personal = change_personal(lock, field, value)
        return f"kept apart, sha256 {personal.bindings()[field]}"

    return keep
