"""The visits of this car, for the technical pages: pressures at the same flow, gain, distance."""

from steplatch.safety.catalogue import _

from ..assess.inputs import REFERENCE_TEXT
from ..assess.resistance import COVERAGE
from ..jobs.visits import Visit, driven_words, visit_of
from .blocks import BarPlot, Picture, ResistanceBar, Section, TableBlock, TableCell
from .numbers import with_spread
from .subject import Subject
from .texts import MISSING


def section(subject: Subject) -> tuple[Section, ...]:
    """One section where the car was here before, today's visit with it; none for a new car."""
    if not subject.record.visits:
        return ()
    today = visit_of(subject.record.job, subject.record.job_id[:10])
    every = [*subject.record.visits, today]
    rows = tuple(_row(every, place) for place in range(len(every)))
    heads = (
        _("Day"),
        _("Distance"),
        _("Since the last"),
        _("When it came"),
        _("When it went"),
        _("Gain"),
    )
    table = TableBlock(
        _("At the same flow: {reference_text}", reference_text=REFERENCE_TEXT),
        heads,
        rows,
        (0.15, 0.15, 0.16, 0.2, 0.2, 0.14),
    )
    bars = tuple(
        ResistanceBar(f"{visit.day} {name}", found.mbar, found.half_width_mbar)
        for visit in every
        for name, found in (("came", visit.came), ("went", visit.went))
        if found is not None
    )
    said = "; ".join(f"{bar.label}: {bar.value:.0f} ± {bar.half_width:.0f} mbar" for bar in bars)
    shown = Picture(
        "visits", _("Pressure at the same flow, visit by visit"), said,
        BarPlot(bars, None, "", "mbar"), short=True,
    )  # fmt: skip
    return (Section("t-visits", _("Visits of this car"), (table, *((shown,) if bars else ()))),)


def _row(visits: list[Visit], place: int) -> tuple[TableCell, ...]:
    visit = visits[place]
    pressures = (
        TableCell(with_spread(p.mbar, p.half_width_mbar / COVERAGE))
        if p is not None
        else TableCell(MISSING, missing=True)
        for p in (visit.came, visit.went)
    )
    gain = visit.gain_percent
    return (
        TableCell(visit.day),
        TableCell(f"{visit.km:.0f} km") if visit.km is not None else TableCell("", missing=True),
        TableCell(driven_words(visits, place)),
        *pressures,
        TableCell("" if gain is None else _("{gain:.0f} % easier", gain=gain)),
    )
