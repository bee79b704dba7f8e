"""Changes to the record in the open: corrections, not-applicable, waivers, notes.

Each has a reason and a name, points at what it changes, and is printed. **A correction changes
the record only.** Where it touches what ``Core`` holds, that becomes unknown or weaker: a
temperature and a rate become unknown, evidence becomes partial, a volume that turns out larger
makes the ledger unknown. It never lowers the ledger and never permits. A choice that decides which
steps come is no matter of the record: its step is gone back to.

**A waiver** lifts one interlock that says of itself that it may be waived, for one act, within
``WAIVER_S``, on the word of another person. It ends by itself, on the safe side.
"""

import re
from dataclasses import replace
from typing import Any, Final

from steplatch.safety import checks
from steplatch.safety.bay import Evidence, FluidIn, Rate, RunOn, Triage, state_of
from steplatch.safety.catalogue import _
from steplatch.safety.checks import ROLE_RANK
from steplatch.safety.interlocks import INTERLOCKS
from steplatch.safety.kernel import Happened, Lapsed
from steplatch.safety.occurrences import Happening

from . import sign_off, signers
from .commands import KEPT_APART, Correct, Depart, Join, NotApplicable, Note, Waive
from .draft import Draft, refuse
from .events import (
    AskAgain,
    Corrected,
    Departed,
    Event,
    Joined,
    MarkedNotApplicable,
    Recorded,
    Waived,
)
from .gun_entry import DOUBTED, counted_dml, parse_gun
from .job import Job
from .plan import Plan
from .reading_set import ReadingSet
from .steps.ask import AskStep
from .steps.hold import pressure
from .steps.kept import parse_kept
from .steps.read import parse
from .steps.spray import parse_seconds
from .steps.temperature import exhaust

LEAST_REASON = 10
MOST_REASON = 400
WAIVER_S = 900
"""How long a waiver stands unused, in seconds (workshop default; common practice, no source): as
long as a look before a start, while who approved it still stands by."""
NOTES = {
    "doubted": _("a first typed set that was doubted"),
    "attachment": _("a file kept with the job"),
    "called": _("a person called to the vehicle"),
    "exercise": _("the exercise that a practice job was set"),
    "practised": _("who practised, how they showed it, and what was set up for them"),
    "text_fault": _("what is wrong with the text of a step, for its author"),
    "vehicle_link": _("a link to the vehicle was begun"),
    "vehicle_log": _("the raw log of a link to the vehicle"),
    "vin": _("the number that the vehicle gave of itself, kept apart"),
    "pressure_proof": _("whether the vehicle's pressure may be used"),
    "differs": _("a typed value and the vehicle's, where they differ"),
    "written_ahead": _("paper for a later step, written in a wait"),
}
MOST_NOTE = 2000
ID = r"[a-z][a-z0-9-]{1,39}"
LEAST_NAME, MOST_NAME = 2, 80
JUDGED = ("verdict", "change", "retained")
"""The judgements that are only made again when what they rest on was corrected."""
NOT_CORRECTED = frozenset({*NOTES, DOUBTED, "triage", *JUDGED, "plateau", "measured"})


def note(draft: Draft, command: Note) -> None:
    """Keep a note. Raises No for a name or a value that is none."""
    if command.name not in NOTES:
        raise refuse("note", name=command.name, names=tuple(NOTES))
    plain = all(isinstance(k, str) and isinstance(v, str) for k, v in command.value.items())
    if not plain or "choice" in command.value:
        raise refuse("note/form")
    if sum(len(k) + len(v) for k, v in command.value.items()) > MOST_NOTE:
        raise refuse("note/long", most=str(MOST_NOTE))
    draft.record(command.name, dict(command.value))


def join(draft: Draft, command: Join) -> None:
    """A person has come and may sign from now on; who was alone says anew who is here. Raises No
    for somebody who is here, and for one of whom not enough is told."""
    log, person = draft.job.log, command.person.strip()
    known = next((p for p in log.people if p["id"] == person), None)
    if known is not None:
        if not log.here or person in log.here:
            raise refuse("join", person=person)
        if command.name or command.role:
            raise refuse("join/other", person=person)
        draft.add(Joined(known, told=False))
    else:
        if not re.fullmatch(ID, person) or person == signers.CUSTOMER:
            raise refuse("join/id", person=person[:40])
        if not LEAST_NAME <= len(command.name.strip()) <= MOST_NAME:
            raise refuse("join/name")
        if command.role not in ROLE_RANK:
            raise refuse("join/role", role=command.role, roles=tuple(ROLE_RANK))
        told = {"id": person, "name": command.name.strip(), "role": command.role,
                "under_18": bool(command.under_18)}  # fmt: skip
        draft.add(Joined(told, told=True))
    core = draft.job.core
    if signers.alone(draft.job) and "crew" not in core.ask_again:
        draft.add(AskAgain((*core.ask_again, "crew"), core.meanwhile))


_WITH_PEOPLE: Final = ("crew", "controls")
"""What is asked anew where somebody has gone: who is here, and who sits at the controls."""


def depart(draft: Draft, command: Depart) -> None:
    """A person has gone: they sign nothing more, and it is asked who is here and who sits at the
    controls. Raises No for who is not here, for who works (the work is handed over first), and for
    the last one."""
    stay = tuple(str(p["id"]) for p in signers.here(draft.job))
    if command.person not in stay:
        raise refuse("depart", person=command.person[:40])
    if command.person == draft.by or len(stay) == 1:
        raise refuse("depart/works", person=command.person)
    draft.add(Departed(command.person, tuple(p for p in stay if p != command.person)))
    core = draft.job.core
    anew = tuple(f for f in _WITH_PEOPLE if f not in core.ask_again and draft.job.bay.knows(f))
    if anew:
        draft.add(AskAgain((*core.ask_again, *anew), core.meanwhile))


def not_applicable(draft: Draft, command: NotApplicable) -> None:
    """Leave the current step as not applicable. Raises No when it may not be left."""
    step = draft.step
    if not step.may_be_left:
        raise refuse("must-be-done", step=step.id)
    reason = _reason(command.reason)
    draft.add(MarkedNotApplicable(step.id, reason, draft.by, procedure=draft.procedure.id))
    draft.done("not_applicable")


def waive(draft: Draft, command: Waive) -> None:
    """Waive one interlock for one use. Raises No when it may not be waived, or not by them."""
    rows = {row.id: row for row in INTERLOCKS}
    row = rows.get(command.interlock)
    if row is None:
        raise refuse("waiver", row=command.interlock)
    if not row.waivable:
        raise refuse("no-waiver", row=row.id)
    reason = _reason(command.reason)
    role, how = sign_off.approver(draft, command)
    until_ms = draft.job.log.aged_ms + WAIVER_S * 1000
    draft.add(Waived(row.id, reason, draft.by, command.person, role, how, until_ms))


def correct(draft: Draft, command: Correct) -> None:
    """Correct one record. Raises No when there is none, or when it is not corrected this way."""
    name, number = command.name, command.number
    if name in NOT_CORRECTED:
        raise refuse("correct/worked", name=name)
    if draft.job.bay.permit is not None:
        raise refuse("correct/act")
    records = draft.job.log.named(name)
    if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number < len(records):
        raise refuse("correct/none", name=name)
    reason = _reason(command.reason)
    record = records[number]
    value = command.value.strip()
    if not value:
        raise refuse("answer/correction")
    now, follows = _corrected(draft, record, number, number == len(records) - 1, value)
    draft.add(Corrected(name, number, record.value, now, reason, draft.by), *follows)
    draft.add(*(Lapsed(check) for check in checks.corrected(name, draft.job.bay)))
    _judge_again(draft)


def decides_steps(plan: Plan, job: Job, name: str) -> bool:
    """Whether ``name`` is a choice that stands and by which steps come or are left out."""
    return name in plan.branches_on and job.core.chose(name)


def _corrected(
    draft: Draft, record: Recorded, number: int, last: bool, value: str
) -> tuple[dict[str, Any], list[Event]]:
    """The record as it should read, and what follows from that for what is known."""
    bay = draft.job.bay
    match record.name:
        case "reading":
            was = ReadingSet.from_json(record.value)
            got = parse(draft, was.condition, was.phase, value)
            got = replace(got, burning=was.burning, taken_at=was.taken_at, by=was.by)
            return got.to_json(), _weaker(draft, was.phase, was.condition)
        case "kept":
            return parse_kept(draft, record.value["condition"], value).to_json(), []
        case "exhaust":
            now, _ = exhaust(draft, value)
            follows: list[Event] = [Lapsed("port"), Lapsed("touch")] if last else []
            if float(now["k"]) < float(record.value["k"]):
                follows += _less_dried(draft, int(record.value["at_ms"]))
            return {**now, "at_ms": record.value["at_ms"]}, follows
        case "trend":
            return {**record.value, "typed": value, **pressure(value)}, []
        case "gun":
            gun = parse_gun(value, draft.job.log.number("reaction_ms") / 1000.0)
            if isinstance(gun, str):
                raise refuse("gun", typed=value)
            now = gun.to_json()
            more = any(
                counted_dml(now, s) > counted_dml(record.value, s)
                for s in _sprayed_with(draft, number)
            )
            lapsed: list[Event] = [Lapsed("rate")] if last and bay.rate is not Rate.UNKNOWN else []
            return now, [*lapsed, *(_more_went_in() if more else [])]
        case "spray":
            parse_seconds(value)
            return {**record.value, "seconds": value}, (
                _more_went_in() if _longer(value, str(record.value["seconds"])) else []
            )
    step = _step_of(draft, record)
    if step.personal and not value.startswith(KEPT_APART):
        raise refuse("personal", name=record.name)
    if last and decides_steps(draft.plan, draft.job, step.name):
        raise refuse("correct/branch", name=record.name, step=step.id)
    if last and step.want and value not in step.want:
        raise refuse("correct/stops", answer=value, step=step.id)
    return step.recorded(value), []


def _weaker(draft: Draft, phase: str, condition: str) -> list[Event]:
    """A corrected reading never counts as full evidence."""
    bay = draft.job.bay
    events: list[Event] = []
    if phase == "before" and bay.before is Evidence.GOOD:
        events.append(Happened(Happening.BEFORE_PARTIAL))
    if phase != "before" and bay.after is Evidence.GOOD:
        events.append(Happened(Happening.AFTER_PARTIAL))
    if condition == "zero" and not bay.zero.unknown:
        events.append(Lapsed("zero"))
    return events


def _more_went_in() -> list[Event]:
    """More went in than was counted: nobody knows how much any more."""
    return [Happened(Happening.OVERDOSED, None)]


def _less_dried(draft: Draft, read_ms: int) -> list[Event]:
    """A colder exhaust in the drying run dried less: the run counts no more, nor what it dried."""
    if read_ms < draft.job.log.timers.get("hold_from", 0):
        return []
    if draft.job.bay.run_on is RunOn.RUNNING:
        return [Lapsed("run_on")]
    return _more_went_in() if draft.job.bay.run_on is RunOn.DONE else []


def _longer(now: str, was: str) -> bool:
    return was in ("", "?") or parse_seconds(now) > parse_seconds(was)


def _sprayed_with(draft: Draft, number: int) -> list[float]:
    """The seconds of the sprays between that measurement of the gun and the next.

    A spray whose seconds nobody knows has made the ledger unknown already; one of a loaded gun
    has none, and counts as the whole load.
    """
    seconds: list[float] = []
    guns = 0
    for record in draft.job.log.named("gun", "spray"):
        if record.name == "gun":
            guns += 1
        elif guns == number + 1 and record.value["seconds"] != "?":
            seconds.append(parse_seconds(str(record.value["seconds"]) or "0"))
    return seconds


def _step_of(draft: Draft, record: Recorded) -> AskStep:
    step = draft.plan.step(*record.key)
    if isinstance(step, AskStep):
        return step
    raise refuse("correct/other", name=record.name)


def _judge_again(draft: Draft) -> None:
    """Judgements rest on what was corrected: they are made again.

    A triage that comes out otherwise is unknown until its step is worked again. Where fluid may
    be in, nobody can go back there: no more fluid goes in, and the job is worked to its end."""
    log, judges = draft.job.log, draft.plan.judges
    if log.latest("triage") is not None:
        result = judges.triage(draft.job)
        draft.record("triage", result)
        stands = draft.job.bay.triage
        if stands is not Triage.UNKNOWN and state_of("triage", result["state"]) is not stands:
            dry = draft.job.bay.fluid_in is FluidIn.NO
            draft.add(Lapsed("triage" if dry else "fluid_check"))
    for name in JUDGED:
        if log.latest(name) is not None:
            draft.record(name, getattr(judges, name)(draft.job))


def _reason(text: str) -> str:
    reason = " ".join(text.split())
    if not LEAST_REASON <= len(reason) <= MOST_REASON:
        raise refuse("reason", least=str(LEAST_REASON), most=str(MOST_REASON), has=str(len(reason)))
    return reason
