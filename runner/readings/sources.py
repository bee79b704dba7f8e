"""Reading sets from a file outside a job: a readings file (YAML), or a log (CSV).

A readings file holds the lines as they are typed, by condition::

    raised: 96 2500 40 215 88 shut
    idle: 19 820 9.0 168 86 open
    zero: 0.5 0 x 150 86 x
    units: {pressure: mbar}
    line_name: pressure over the filter, measured
    instrument: workshop tester
    burning: no

All but the lines may be left out, and a condition may hold a list of lines. A log is searched
for steady windows, and the longest level one of each condition is taken.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import VehicleInput

from ..core.reading_set import CONDITIONS, BadReading, Phase, ReadingCondition, ReadingSet
from ..core.typed_set import DEFAULT_UNIT, parse_set
from ..input.findings import BadFile, Finding
from ..input.strict_yaml import Document, load_bytes
from .log_columns import ColumnMap
from .logs import BadLog, ReadingLog, read_log
from .steady import Window, sets_from_windows, steady_windows, taken_notes

_TEXTS: Final = ("line_name", "instrument", "by", "taken_at")
_ORDER: Final[tuple[ReadingCondition, ...]] = ("raised", "idle", "zero")
_KEYS: Final = (*CONDITIONS, "units", "burning", *_TEXTS)


@dataclass(frozen=True, slots=True)
class Taken:
    """The sets that a file gave, and what is odd about it."""

    sets: tuple[ReadingSet, ...]
    notes: tuple[str, ...]


def sets_from_file(
    data: bytes,
    name: str,
    phase: Phase,
    vehicle: VehicleInput,
    columns: ColumnMap | None = None,
) -> Taken:
    """The sets in the bytes of a file. ``.yaml`` and ``.yml`` are readings files, others logs.

    Raises ``BadFile`` with every finding: file, line, column where there is one, remedy.
    """
    if name.lower().endswith((".yaml", ".yml")):
        return _typed(load_bytes(data, name), phase, vehicle)
    log, windows = log_windows(data, name, vehicle, columns)
    sets = sets_from_windows(windows, log, vehicle, phase)
    if not [s for s in sets if s.condition != "zero"]:
        held = "; ".join(w.text() for w in windows) or "none"
        raise BadFile(
            [
                Finding(
                    name, 1, 1, "file",
                    _("no steady window at idle or raised revs (windows found: {held})", held=held),
                    _("Hold the speed within 50 1/min for 30 s, or give the vehicle's idle speed"),
                )
            ]
        )  # fmt: skip
    return Taken(tuple(sets), (*log.notes, *taken_notes(sets, windows, log)))


def log_windows(
    data: bytes, name: str, vehicle: VehicleInput | None, columns: ColumnMap | None = None
) -> tuple[ReadingLog, list[Window]]:
    """A log and its steady windows. Raises ``BadFile`` with every finding."""
    try:
        log = read_log(data, name, columns, cylinders=vehicle.cylinders if vehicle else None)
    except BadLog as bad:
        raise BadFile(
            Finding(name, p.line or 1, 1, p.heading or "file", p.what, p.remedy)
            for p in bad.problems
        ) from None
    return log, steady_windows(log)


def log_lines(log: ReadingLog, windows: list[Window]) -> list[str]:
    """A log's steady windows and notes in plain text, for the screen."""
    out = [
        _(
            "STEADY  {count} windows in {count_2} rows of {name}",
            count=len(windows),
            count_2=len(log.time_s),
            name=log.name,
        )
    ]
    for window in windows:
        drift = window.drift_pa_min / 100
        out.append(
            _("  {text}, drifting {drift:+.1f} mbar a minute", text=window.text(), drift=drift)
        )
    out += [_("  look at: {note}", note=note) for note in log.notes]
    return out


def _typed(document: Document, phase: Phase, vehicle: VehicleInput) -> Taken:
    data = document.data
    if not isinstance(data, Mapping):
        raise BadFile(
            [document.finding((), _("this is not a readings file"), _("Write raised: ..."))]
        )
    findings = [
        document.finding(
            (key,), _("there is no such key"), _("Use {keys}", keys=", ".join(_KEYS)), at_key=True
        )
        for key in data
        if key not in _KEYS
    ]
    units = _units(document, data, findings)
    texts: dict[str, Any] = {}
    for key in _TEXTS:
        if key in data:
            if isinstance(data[key], str):
                texts[key] = data[key]
            else:
                findings.append(
                    document.finding((key,), _("this is no text"), _("Put it in quotes"))
                )
    burning = data.get("burning")
    if burning not in (None, "yes", "no", True, False):
        findings.append(
            document.finding(("burning",), _("this is no answer"), _("Write yes or no"))
        )
    flag = None if burning is None else burning in ("yes", True)
    sets: list[ReadingSet] = []
    for condition in _ORDER:
        given = data.get(condition)
        many = isinstance(given, list)
        lines = given if isinstance(given, list) else [] if given is None else [given]
        for at, line in enumerate(lines):
            path = (condition, at) if many else (condition,)
            if not isinstance(line, str):
                findings.append(
                    document.finding(path, _("this is no line of readings"), _("Type six items"))
                )
                continue
            try:
                sets.append(
                    parse_set(
                        line,
                        condition,
                        phase,
                        units=units,
                        burning=flag,
                        cylinders=vehicle.cylinders,
                        **texts,
                    )
                )
            except BadReading as bad:
                where = _("item {item}: ", item=bad.item) if bad.item else ""
                findings.append(document.finding(path, where + bad.what, bad.remedy))
    if not findings and not [s for s in sets if s.condition != "zero"]:
        findings.append(
            document.finding(
                (), _("no reading with the engine running"), _("Write raised: and idle:")
            )
        )
    if findings:
        raise BadFile(findings)
    return Taken(tuple(sets), ())


def _units(document: Document, data: Mapping[str, Any], findings: list[Finding]) -> dict[str, str]:
    given = data.get("units")
    if given is None:
        return {}
    if not isinstance(given, Mapping):
        findings.append(
            document.finding(("units",), _("this is no mapping"), "Write {pressure: kPa}")
        )
        return {}
    units: dict[str, str] = {}
    for quantity, unit in given.items():
        if quantity not in DEFAULT_UNIT or not isinstance(unit, str):
            findings.append(
                document.finding(
                    ("units", quantity), _("no such quantity, or the unit is no text"),
                    _("Use {default_unit}", default_unit=', '.join(DEFAULT_UNIT)),
                )
            )  # fmt: skip
        else:
            units[quantity] = unit
    return units
