"""What was measured, as tables and pictures: reading sets, fitted lines, the fall of pressure."""

from typing import Any

from steplatch.safety.catalogue import _, spoken

from ..assess import told
from ..assess.inputs import BANDS, REFERENCE_TEXT
from ..assess.words import spaced
from ..core.events import Recorded
from ..core.reading_set import PHASES, ReadingSet
from .blocks import (
    Paragraph,
    SheetBlock,
    TableBlock,
    TableCell,
)
from .numbers import (
    celsius,
    grams_per_second,
    mbar,
    no_minus_zero,
    number,
    speed,
    with_spread,
)
from .texts import CONDITION, MISSING, NOT_SHOWN, PHASE
from .timeline import At, Timeline
from .typed import plain_text

ORDER = ("raised", "idle", "zero")
"""The order in which the sets are taken: raised, idle, stop, zero."""
FLOW_ESTIMATED = (_("manifold pressure"), _("engine speed only"))
"""What a flow rests on where the vehicle does not show its air flow."""
_SHOWN = _("pressure shown, mbar")

Sets = dict[tuple[str, str], ReadingSet]


def read_sets(timeline: Timeline, before_seq: int | None = None) -> Sets:
    """The last set of every (phase, condition); a later one replaces an earlier one."""
    return {(one.phase, one.condition): one for _, one in every_set(timeline, before_seq)}


def every_set(timeline: Timeline, before_seq: int | None = None) -> list[tuple[At, ReadingSet]]:
    """Every set that was typed, oldest first. Raises ``BadReading`` for what no journal holds."""
    return [
        (at, ReadingSet.from_json(at.event.value))
        for at in timeline.records("reading", before_seq)
        if isinstance(at.event, Recorded)
    ]


def set_words(one: ReadingSet | None, phase: str = "before") -> TableCell:
    """A set as a customer reads it: pressure, with speed and air flow."""
    if one is None:
        return TableCell(MISSING if phase != "road" else _("not taken"), missing=True)
    if one.pressure_pa is None:
        return TableCell(NOT_SHOWN, missing=True)
    if one.condition == "zero":
        return TableCell(mbar(one.pressure_pa, sign=True))
    beside = [
        words
        for words in (
            None if one.speed_rpm is None else speed(one.speed_rpm),
            None
            if one.air_kg_s is None
            else _("{grams_per_second} air", grams_per_second=grams_per_second(one.air_kg_s)),
        )
        if words
    ]
    at = _(" at {beside}", beside=", ".join(beside)) if beside else ""
    return TableCell(f"{mbar(one.pressure_pa)}{at}")


def sets_table(timeline: Timeline, phases: tuple[str, ...] = PHASES) -> TableBlock:
    """Every set in full: as typed, and normalised. Sets never taken show as missing."""
    rows: list[tuple[TableCell, ...]] = []
    taken = every_set(timeline)
    last: dict[tuple[str, str], int] = {(s.phase, s.condition): at.seq for at, s in taken}
    for phase in phases:
        for condition in ORDER:
            mine = [(at, s) for at, s in taken if (s.phase, s.condition) == (phase, condition)]
            for at, one in mine:
                rows.append(_set_row(timeline, at, one, at.seq != last[(phase, condition)]))
            if not mine and (phase != "road" or any(s.phase == "road" for _, s in taken)):
                missing = TableCell(MISSING, missing=True)
                rows.append((TableCell(f"{PHASE[phase]}, {spoken(condition)}"), *[missing] * 8))
    return TableBlock(
        _("Readings: as typed, and normalised"),
        (
            _("Set"),
            _("As typed"),
            _("Pressure"),
            _("Speed"),
            _("Air"),
            _("Exhaust"),
            _("Coolant"),
            _("Recirculation, regeneration"),
            _("When, by"),
        ),
        tuple(rows),
        (0.13, 0.175, 0.1, 0.11, 0.085, 0.085, 0.085, 0.12, 0.11),
    )


def line_names(timeline: Timeline) -> str:
    """The name of the pressure line as shown, and whether it stayed the same."""
    names = dict.fromkeys(plain_text(s.line_name, 80) for _, s in every_set(timeline))
    asked = timeline.latest("line_name") or {}
    names.setdefault(plain_text(asked.get("text", ""), 80))
    names.pop("", None)
    if not names:
        return _("Name of the pressure line: not recorded.")
    said = ", ".join(f"“{name}”" for name in names)
    same = _("the same in every set") if len(names) == 1 else _("NOT the same in every set")
    return _("Name of the pressure line as shown: {said}, {same}.", said=said, same=same)


def _set_row(timeline: Timeline, at: At, one: ReadingSet, replaced: bool) -> tuple[TableCell, ...]:
    flag = {None: _("flag not shown"), True: _("burning"), False: _("not burning")}[one.burning]
    beside = [one.recirculation or _("not shown"), flag]
    if one.spread_pa is not None:
        beside.append(_("spread {mbar}", mbar=mbar(one.spread_pa)))
    if one.held_s is not None and one.held_s < BANDS.held_s:
        beside.append(_("EARLY, held for {held_s:.0f} s", held_s=one.held_s))
    name = f"{PHASE[one.phase]}, {spoken(one.condition)}"
    if replaced:
        name += _(" (replaced by a later set)")

    def shown(value: float | None, words: str) -> TableCell:
        return TableCell(_("not shown"), missing=True) if value is None else TableCell(words)

    return (
        TableCell(name, strong=not replaced),
        TableCell(plain_text(one.typed, 160) or _("from a log")),
        shown(one.pressure_pa, mbar(one.pressure_pa or 0.0)),
        shown(one.speed_rpm, speed(one.speed_rpm or 0.0)),
        shown(one.air_kg_s, grams_per_second(one.air_kg_s or 0.0)),
        shown(one.exhaust_k, celsius(one.exhaust_k or 0.0)),
        shown(one.coolant_k, celsius(one.coolant_k or 0.0)),
        TableCell("; ".join(beside)),
        TableCell(f"{timeline.show(at.when)}, {plain_text(at.actor, 60)}"),
    )


def lines_table(verdict: dict[str, Any]) -> TableBlock:
    """The fitted line of each phase: resistance, sensor offset, agreement, basis."""
    rows = []
    for phase in PHASES:
        one = verdict.get(phase)
        if not one:
            rows.append((TableCell(PHASE[phase]), *[TableCell(MISSING, missing=True)] * 4))
            continue
        free = number(one.get("offset_from_flow_mbar"))
        rows.append(
            (
                TableCell(PHASE[phase], strong=True),
                TableCell(with_spread(one["at_reference_mbar"], one["u_at_reference_mbar"])),
                TableCell(f"{with_spread(one['offset_mbar'], one['u_offset_mbar'])}"),
                TableCell(
                    _("not worked") if free is None else f"{no_minus_zero(free, 1):+.1f} mbar"
                ),
                TableCell(_fit_words(one)),
            )
        )
    return TableBlock(
        _(
            "Fitted lines: pressure = offset + resistance x flow. Resistance as the pressure "
            "at {reference_text}; ± is the 95 % half-width",
            reference_text=REFERENCE_TEXT,
        ),
        (_("Phase"), _("Resistance"), _("Sensor offset"), _("Offset by the flow points"), _("Fit")),
        tuple(rows),
        (0.13, 0.15, 0.15, 0.15, 0.42),
    )


def budget_table(verdict: dict[str, Any]) -> tuple[SheetBlock, ...]:
    """The uncertainty budget of the gain that counts; nothing where none stands in the record."""
    gain = verdict.get("gain") or {}
    if not gain.get("budget"):
        return ()
    rows = tuple(tuple(TableCell(text) for text in row) for row in told.budget_rows(gain))
    return (
        TableBlock(
            _(
                "Uncertainty budget of the ratio of resistances, after JCGM 100:2008 (GUM), "
                "Table H.1"
            ),
            told.BUDGET_HEADS,
            rows,
            (0.46, 0.1, 0.08, 0.13, 0.13, 0.1),
            (1, 3, 4, 5),
        ),
        Paragraph(told.budget_sum(gain)),
    )


def _fit_words(one: dict[str, Any]) -> str:
    """How a line was fitted, each thing said once."""
    said = [_("points {spaced}", spaced=spaced(one["agreement"]))]
    said += [] if one.get("zero_read", True) else [_("zero not read")]
    said += [one["basis"], *(part for note in one.get("notes") or () for part in note.split("; "))]
    return "; ".join(dict.fromkeys(said))


def estimated(judged: dict[str, Any]) -> bool:
    """Whether a flow was not shown by the vehicle but estimated from the engine's speed."""
    found = (judged.get(phase) for phase in PHASES)
    return any(one.get("basis") in FLOW_ESTIMATED for one in found if one)


def expected_limit(verdict: dict[str, Any]) -> float | None:
    """The limit of "flows as expected", mbar; None where the band does not apply.

    It does not for a sensor with one hose, which reads everything behind the filter too.
    """
    if verdict.get("one_hose") or (verdict.get("facts") or {}).get("one_hose") == "yes":
        return None
    return number((verdict.get("clean") or {}).get("today_high_mbar"))


def conditions_words(sets: Sets) -> str:
    """Whether before and after were taken alike, in one sentence with the numbers."""
    taken = {phase for phase, condition in sets if condition != "zero"}
    if "after" not in taken:
        return (
            _("Taken before the work only: there is nothing to compare with.")
            if "before" in taken
            else _("No readings were taken with the engine running.")
        )
    said = []
    for condition in ("raised", "idle"):
        one, two = sets.get(("before", condition)), sets.get(("after", condition))
        if one is None or two is None:
            which = _("not taken") if one is two is None else _("not both taken")
            said.append(f"{CONDITION[condition]}: {which}")
            continue
        parts = [
            _("{name} {show} and {show_2}", name=name, show=show(a), show_2=show(b))
            for name, a, b, show in (
                (_("speed"), one.speed_rpm, two.speed_rpm, speed),
                (_("coolant"), one.coolant_k, two.coolant_k, celsius),
                (_("exhaust"), one.exhaust_k, two.exhaust_k, celsius),
            )
            if a is not None and b is not None
        ]
        said.append(f"{CONDITION[condition]}: {', '.join(parts) or _('nothing else was shown')}")
    return _("Taken before and after at ") + "; ".join(said) + "."
