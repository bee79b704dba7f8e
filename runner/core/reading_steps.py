"""Steps that measure: reading sets, their evidence, and the exhaust at the filter inlet.

Here numbers become classes (``Port``, ``Zero``, evidence); ``Core`` never sees a number.
"""

from typing import Any

from steplatch.safety.bay import Act, Burning, Engine, Port, Zero
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import Granted, Happened, Seen, permit
from steplatch.safety.occurrences import Happening

from ..input.quantities import BadQuantity, parse_quantity
from ..input.resolution import taken
from .engine import Draft, No, refuse
from .job import Event, Recorded
from .procedure import ReadStep, TemperatureStep
from .reading_set import BadReading, Condition, Phase, ReadingSet
from .typed_set import parse_set

H = Happening
_BURNING = {Burning.YES: True, Burning.NO: False}


def begin(draft: Draft, step: ReadStep, begun: Event) -> None:
    """Set the first mark of a reading step, or raise No with every reason."""
    act = Act.READ_BEFORE if step.phase == "before" else Act.READ_AFTER
    refusals = permit(draft.job.bay, Ask(act), draft.job.core.limits)
    if step.condition == "zero":
        refusals += permit(draft.job.bay, Ask(Act.READ_ZERO), draft.job.core.limits)
        act = Act.READ_ZERO
    _check_engine(draft, step)
    unique = {r.interlock: r for r in refusals}
    if unique:
        raise No(*unique.values())
    draft.add(begun, Granted(act))


def _check_engine(draft: Draft, step: ReadStep) -> None:
    want = Engine.RAISED if step.condition == "raised" else Engine.IDLING
    if step.condition != "zero" and draft.job.bay.engine is not want:
        raise refuse(
            "reading-condition", condition=step.condition, engine=draft.job.bay.engine.value
        )


def parse(draft: Draft, condition: Condition, phase: Phase, value: str) -> ReadingSet:
    """One typed set under its condition. Raises No when it cannot be read."""
    at = draft.job.log.last
    try:
        return parse_set(
            value,
            condition,
            phase,
            line_name=str((draft.job.log.latest("line_name") or {}).get("text", "")),
            burning=_BURNING.get(draft.job.bay.burning),
            cylinders=_cylinders(draft),
            taken_at=at.utc if at else "",
            by=draft.by,
        )
    except BadReading:
        raise refuse(
            "reading", typed=value, condition=condition, phase=phase, **_counted(draft)
        ) from None


def answer(draft: Draft, step: ReadStep, value: str) -> None:
    """Record a set and what it is worth as evidence. Raises No when the engine has left the
    condition since the set was begun."""
    _check_engine(draft, step)
    got = parse(draft, step.condition, step.phase, value)
    draft.add(Recorded("reading", got.to_json(), step.id))
    if step.condition == "zero":
        draft.add(Happened(H.ZERO_GOOD if _zero_in_band(draft, got) else H.ZERO_OUT))
        act = Act.READ_BEFORE if step.phase == "before" else Act.READ_AFTER
        if permit(draft.job.bay, Ask(act), draft.job.core.limits) == ():
            draft.add(Granted(act), Happened(_evidence(draft, step.phase)))
    else:
        draft.add(Happened(H.BEFORE_PARTIAL if step.phase == "before" else H.AFTER_PARTIAL))
        ceiling = draft.job.log.number("rev_ceiling_rpm")
        if got.speed_rpm is not None and got.speed_rpm > ceiling:
            draft.add(Happened(H.OVER_CEILING))
            return
    draft.done(step.id, value)


def _counted(draft: Draft) -> dict[str, str]:
    cylinders = _cylinders(draft)
    return {} if cylinders is None else {"cylinders": str(cylinders)}


def _cylinders(draft: Draft) -> int | None:
    """How many cylinders, for air in mg/stroke; None in a job recorded before they were kept."""
    numbers = draft.job.log.numbers
    return int(numbers["cylinders"]) if "cylinders" in numbers else None


def _zero_in_band(draft: Draft, got: ReadingSet) -> bool:
    log = draft.job.log
    if got.pressure_pa is None:
        return False
    return log.number("zero_low_pa") <= got.pressure_pa <= log.number("zero_high_pa")


def _evidence(draft: Draft, phase: str) -> Happening:
    """Whether the phase's three sets are there, with pressure, warm, zero in band."""
    latest: dict[str, ReadingSet] = {}
    for plain in draft.job.log.readings(phase):
        got = ReadingSet.from_json(plain)
        latest[got.condition] = got
    full = (
        set(latest) == {"raised", "idle", "zero"}
        and all(s.pressure_pa is not None for s in latest.values())
        and draft.job.bay.zero is Zero.GOOD
    )
    if phase == "before":
        return H.BEFORE_GOOD if full else H.BEFORE_PARTIAL
    return H.AFTER_GOOD if full else H.AFTER_PARTIAL


def exhaust(draft: Draft, value: str) -> tuple[dict[str, Any], Port]:
    """The exhaust at the filter inlet as typed, and its class. Raises No."""
    typed = value if has_unit(value) else f"{value} degC"
    try:
        quantity = parse_quantity(typed, "temperature")
    except BadQuantity:
        raise refuse("number", typed=typed, quantity="temperature") from None
    log = draft.job.log
    recorded = taken("temperature", quantity.si_value)
    if float(recorded["k"]) <= log.number("port_cool_k"):
        port = Port.COOL
    elif float(recorded["k"]) <= log.number("port_warm_k"):
        port = Port.WARM
    else:
        port = Port.HOT
    return {
        "typed": value,
        **recorded,
        "at_ms": log.aged_ms,
        "class": port.value,
    }, port


def temperature(draft: Draft, step: TemperatureStep, value: str) -> None:
    """Record the exhaust temperature; the step is done when its class is one that is wanted."""
    plain, port = exhaust(draft, value)
    draft.add(Recorded("exhaust", plain, step.id), Seen("port", port))
    if port.value in step.want:
        draft.done(step.id, value)


def pressure(value: str) -> dict[str, str]:
    """A pressure as typed (mbar when it has no unit), as it is recorded. Raises No."""
    typed = value if has_unit(value) else f"{value} mbar"
    try:
        return taken("pressure", parse_quantity(typed, "pressure").si_value)
    except BadQuantity:
        raise refuse("number", typed=typed, quantity="pressure") from None


def has_unit(value: str) -> bool:
    """Whether what was typed has more than a number in it."""
    return any(letter.isalpha() or letter == "°" for letter in value)
