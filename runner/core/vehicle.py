"""What the vehicle itself reports, as the job takes it: written down, a contradiction, a trip.

It sets no fact and answers no permit (``safety.measured``). A channel that a person has looked at
and found wrong is set aside: what rests on it says nothing from then on; all stays in the record.
"""

import re
from typing import Final

from steplatch.safety.bay import Act, Burning, Engine
from steplatch.safety.effects import MEASURED
from steplatch.safety.kernel import Lapsed, MeasuredHappening
from steplatch.safety.measured import RESTS_ON, STATES
from steplatch.safety.occurrences import Happening

from .commands import SetAside, VehicleReport
from .draft import Draft, refuse
from .events import AskAgain, ChannelSetAside, MeasuredNow, Moved

FORMS: Final = frozenset({"fact", "trip", "alarm", "channel"})
MOST_NUMBERS: Final = 8
_ID = re.compile(r"[a-z][a-z0-9_:]{0,39}")
_TRIPS: Final = {what.value: what for what in MEASURED}
_CHANNEL: Final = {fact: channel for channel, facts in RESTS_ON.items() for fact in facts}
_STOPPED: Final = (Engine.STOPPED,)
_ASKED_BEFORE: Final = frozenset(
    {Act.READ_ZERO, Act.READ_BEFORE, Act.READ_AFTER, Act.RESET, Act.HAND_OVER, Act.ABANDON}
)
"""Acts that change nothing at the vehicle and rest on what was known when they were asked for: what
the vehicle reports meanwhile ends the permit, and the step is begun again."""
_RUNNING: Final = (Engine.IDLING, Engine.RAISED, Engine.ROAD)


def vehicle_report(draft: Draft, command: VehicleReport) -> None:
    """Write it down, and let it contradict or trip. Raises No for what no link reports."""
    if not _well_formed(command):
        raise refuse("vehicle")
    draft.record("measured", {"form": command.form, "what": command.what, **command.numbers,
                              "link": command.link, "from_ms": command.from_ms,
                              "at_ms": command.at_ms})  # fmt: skip
    aside = draft.job.core.set_aside
    if command.form == "fact" and command.what in STATES:
        if _CHANNEL[command.what] not in aside:
            draft.add(MeasuredNow(command.what, command.numbers["is"]))
        if command.what == "burning" and command.numbers["is"] == "yes":
            _burns(draft)
    if command.form == "trip" and command.what in _TRIPS and "speed_rpm" not in aside:
        _happened(draft, _TRIPS[command.what])


def set_aside(draft: Draft, command: SetAside) -> None:
    """A person has looked, and the vehicle's value is wrong. Raises No where nothing rests on it,
    or where it is set aside already."""
    if command.channel not in RESTS_ON or command.channel in draft.job.core.set_aside:
        raise refuse("set-aside", channel=command.channel)
    draft.add(ChannelSetAside(command.channel, draft.by))


def forget_measured(draft: Draft) -> None:
    """Nobody has measured meanwhile: all that was measured is unknown."""
    measured = draft.job.core.measured
    draft.add(
        *(MeasuredNow(fact, "unknown") for fact in STATES if getattr(measured, fact) != "unknown")
    )


def _well_formed(command: VehicleReport) -> bool:
    numbers = command.numbers
    plain = all(
        isinstance(k, str) and isinstance(v, str | int) and not isinstance(v, bool)
        for k, v in numbers.items()
    )
    at, since = command.at_ms, command.from_ms
    whole = all(isinstance(n, int) and not isinstance(n, bool) for n in (at, since))
    named = command.form in FORMS and bool(_ID.fullmatch(str(command.what)))
    reserved = {"form", "what", "link", "from_ms", "at_ms", "choice"}
    if not (plain and whole and named) or len(numbers) > MOST_NUMBERS or reserved & set(numbers):
        return False
    if command.form == "fact" and command.what in STATES:
        return numbers.get("is") in STATES[command.what]
    return 0 <= since <= at


def _burns(draft: Draft) -> None:
    """It was said to burn no soot: that is asked again, and nothing is assumed."""
    if draft.job.bay.among("burning", (Burning.NO,)):
        draft.add(Lapsed("burning"))


def _happened(draft: Draft, what: Happening) -> None:
    """What a person has said already is no news."""
    bay = draft.job.bay
    if what is Happening.STALLED and bay.among("engine", _STOPPED):
        return
    if what is Happening.SELF_STARTED and bay.among("engine", _RUNNING):
        return
    draft.add(MeasuredHappening(what))
    if draft.job.bay.permit in _ASKED_BEFORE:
        draft.lapse_permit()
        draft.add(Moved(draft.step.id, draft.procedure.id, "again"))
    core = draft.job.core
    unasked = not draft.job.bay.knows("engine") and "engine" not in core.ask_again
    if unasked and draft.job.bay.permit is None and not draft.job.bay.trips:
        draft.add(AskAgain((*core.ask_again, "engine"), core.meanwhile))
