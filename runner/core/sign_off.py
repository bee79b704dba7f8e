"""Signatures: who may sign which point, with what meaning, and what the signature covers.

Who did the work never counts as who checked it. A signature covers one point and lists the
steps that it covers. What is out of the ordinary about one stands in it as an exception:
recorded and printed, never hidden.
"""

from dataclasses import dataclass

from steplatch.safety.catalogue import _
from steplatch.safety.checks import CHECKS, at_least

from .commands import Sign, Waive
from .draft import Draft, refuse
from .events import Signed
from .signers import CUSTOMER, alone, needed, standing, who_could

MAX_COVERED = 9
REMOTE = ("telephone", "message")
BY_CUSTOMER = ("paper", *REMOTE)
HOWS = ("pin", "name", "practice", *BY_CUSTOMER)
"""How a signature was given: name and PIN, name alone, or in a practice job. A customer's stands on
the printed page, or is a yes by telephone or message, which is no signature and says so."""

NO_PIN = "no_pin"
TOLD = "told"
AT_ONCE = "at_once"
AT_ONCE_MS = 10_000
"""Two people who really look do not sign within this time (common practice, no source): reading
four lines back aloud takes longer."""
OWN_WORK = "own_work"
ALONE = "alone"
NOT_SIGNED = "not_signed"
EXCEPTIONS = {
    NO_PIN: _("signed by name, without a PIN"),
    TOLD: _("role as told when they came; in no file of people"),
    AT_ONCE: _("two people signed within seconds of each other"),
    OWN_WORK: _("signed by the one who did the work"),
    ALONE: _("signed alone"),
    NOT_SIGNED: _("a yes by telephone or message, written down by who worked: not a signature"),
}
"""What is out of the ordinary about a signature, by id, with the words that people read."""
_CHECKS = ("checked", "released")


@dataclass(frozen=True, slots=True)
class Signer:
    """Who signs: id, role on the roster, and how it was given (one of ``HOWS``)."""

    person: str
    role: str
    how: str


def signer(draft: Draft, command: Sign) -> Signer:
    """Who signs the current step. Raises No while it is not begun, and for somebody unknown."""
    if not draft.job.core.begun:
        raise refuse("two-marks")
    return Signer(command.person, _role(draft, command.person), _how(draft, command))


def stands(draft: Draft, one: Signer) -> str:
    """How the signature counts: other, same or witness. Raises No where it does not."""
    step = draft.step
    who = standing(draft.job, step, one.person, one.role)
    if who in ("checker-is-doer", "role"):
        case, able = who_could(draft.job, step)
        least = needed(step)
        raise refuse(f"{who}/{case}", needed=least, person=one.person, role=one.role, able=able)
    return who


def approver(draft: Draft, command: Waive) -> tuple[str, str]:
    """Role and way of signing of who approves a waiver: another person, technician or above.

    Raises No when it is the one who asks, one who worked on the job, or one below.
    """
    role = _role(draft, command.person)
    if command.person == draft.by:
        raise refuse("checker-is-doer/waiver")
    _check_other(draft, command.person)
    _check_role(CHECKS["waiver"].role, role, command.person)
    return role, _how(draft, command)


def signed(draft: Draft, one: Signer, meaning: str, who: str) -> Signed:
    """The signature of the current step, with what it covers and what is out of the ordinary."""
    log = draft.job.log
    covers = tuple("/".join(mark.key) for mark in log.marks[-MAX_COVERED:])
    exceptions = []
    if one.how == "name" and one.role != CUSTOMER:
        exceptions.append(NO_PIN)
    if one.person in log.told:
        exceptions.append(TOLD)
    if meaning in _CHECKS and who == "same" and one.person in log.doers:
        exceptions.append(OWN_WORK)
    if meaning in _CHECKS and alone(draft.job):
        exceptions.append(ALONE)
    if one.how in REMOTE:
        exceptions.append(NOT_SIGNED)
    last = log.last_signed
    if last is not None and last[0] != one.person and log.aged_ms - last[1] < AT_ONCE_MS:
        exceptions.append(AT_ONCE)
    return Signed(
        draft.step.id,
        one.person,
        one.role,
        meaning,
        who,
        covers,
        one.how,
        tuple(exceptions),
        procedure=draft.procedure.id,
    )


def _how(draft: Draft, command: Sign | Waive) -> str:
    if command.how not in HOWS:
        raise refuse("sign/how", how=command.how, hows=HOWS)
    if command.how in BY_CUSTOMER:
        if command.person != CUSTOMER:
            raise refuse("sign/customer")
        return command.how
    if draft.job.log.practice:
        return "practice"
    if command.how == "practice":
        raise refuse("sign/practice")
    return command.how


def _role(draft: Draft, person: str) -> str:
    if person == CUSTOMER:
        return CUSTOMER
    for known in draft.job.log.people:
        if known["id"] == person:
            return str(known["role"])
    names = tuple(str(p["id"]) for p in draft.job.log.people)
    raise refuse("person", person=person, people=names)


def _check_other(draft: Draft, person: str) -> None:
    if person in draft.job.log.doers:
        raise refuse("checker-is-doer")


def _check_role(needed: str, role: str, person: str) -> None:
    if not at_least(role, needed):
        raise refuse("role", needed=needed, person=person, role=role)
