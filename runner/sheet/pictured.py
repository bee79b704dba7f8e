"""What was measured, as pictures: resistance beside the limit, fitted lines, fall of pressure."""

from typing import Any

from steplatch.safety.catalogue import _

from ..assess.inputs import REFERENCE_EXHAUST_KG_S, REFERENCE_TEXT
from ..assess.resistance import COVERAGE
from ..core.events import Begun, Recorded
from ..core.reading_set import PHASES
from .blocks import (
    BarPlot,
    FlowLine,
    FlowPlot,
    Paragraph,
    Picture,
    ResistanceBar,
    SheetBlock,
    TrendPlot,
)
from .measured import expected_limit
from .numbers import no_minus_zero, number
from .texts import PHASE
from .timeline import Timeline

_REFERENCE_G_S = REFERENCE_EXHAUST_KG_S * 1000
LEAST_SPAN_MBAR = 1.0
STEP_MBAR = 1.0
"""Step in which most instruments show the pressure."""
"""A level is not drawn when its half-width is larger than this and than the readings' own
span: such a curve would show more than is known (a design choice)."""
_MINUTES = _("minutes since the first reading")
_SHOWN = _("pressure shown, mbar")
_NO_LINE = _(
    "No picture: the pressure for the same flow could not be worked out from the readings."
)


def bars(verdict: dict[str, Any]) -> SheetBlock:
    """The customer's picture: resistance before and after beside the limit."""
    names = (
        ("before", _("When you came")),
        ("after", _("After the work")),
        ("road", _("After the drive")),
    )
    found = tuple(
        ResistanceBar(
            label,
            float(verdict[phase]["at_reference_mbar"]),
            COVERAGE * float(verdict[phase]["u_at_reference_mbar"]),
        )
        for phase, label in names
        if verdict.get(phase)
    )
    if not found:
        return Paragraph(_NO_LINE, "missing")
    limit = expected_limit(verdict)
    said = "; ".join(f"{b.label}: {b.value:.0f} ± {b.half_width:.0f} mbar" for b in found)
    edge = (
        _(" Flows as expected: up to {limit:.0f} mbar.", limit=limit)
        if limit is not None
        else _(" No limit applies.")
    )
    return Picture(
        "bars",
        _("Pressure that the same exhaust flow needs (less is easier)"),
        _(
            "{said}, each with its 95 % range, at {reference_text}.{edge}",
            said=said,
            reference_text=REFERENCE_TEXT,
            edge=edge,
        ),
        BarPlot(
            found,
            limit,
            _("expected: up to {limit:.0f} mbar", limit=limit) if limit else "",
            "mbar",
        ),
        short=True,
    )


def flow_picture(verdict: dict[str, Any]) -> SheetBlock:
    """Pressure over flow with every fitted line, its 95 % band, and the limits."""
    lines = tuple(
        FlowLine(
            PHASE[phase],
            tuple(
                (float(p["flow_share"]) * _REFERENCE_G_S, float(p["pressure_mbar"]))
                for p in one["points"]
            ),
            float(one["offset_mbar"]),
            float(one["at_reference_mbar"]) / _REFERENCE_G_S,
            float(one["u_offset_mbar"]),
            float(one["u_at_reference_mbar"]) / _REFERENCE_G_S,
            float(one["correlation_share"]),
        )
        for phase, one in ((p, verdict.get(p)) for p in PHASES)
        if one
    )
    if not lines:
        return Paragraph(_NO_LINE, "missing")
    clean = verdict.get("clean") or {}
    limits = []
    high, low = expected_limit(verdict), number(clean.get("damage_below_mbar"))
    if high is not None:
        limits.append(
            (
                _(
                    "expected up to ({high:.0f} mbar at {reference_g_s:.0f} g/s)",
                    high=high,
                    reference_g_s=_REFERENCE_G_S,
                ),
                high / _REFERENCE_G_S,
            )
        )
        if low is not None:
            limits.append(
                (_("leak or damage below ({low:.0f} mbar)", low=low), low / _REFERENCE_G_S)
            )
    said = " ".join(
        _(
            "{label}: {slope:.0f} ± {coverage:.0f} mbar at {reference_g_s:.0f} g/s, offset "
            "{no_minus_zero:+.1f} mbar, {count} points.",
            label=line.label.capitalize(),
            slope=line.slope * _REFERENCE_G_S,
            coverage=COVERAGE * line.u_slope * _REFERENCE_G_S,
            reference_g_s=_REFERENCE_G_S,
            no_minus_zero=no_minus_zero(line.offset, 1),
            count=len(line.points),
        )
        for line in lines
    )
    edges = " ".join(_("Limit: {label}.", label=label) for label, _other in limits) or _(
        "No limit applies."
    )
    return Picture(
        "flow",
        _("Pressure over exhaust flow, with the fitted lines and their 95 % bands"),
        f"{said} {edges}",
        FlowPlot(
            lines,
            tuple(limits),
            _("exhaust flow as at 200 °C and 1013 mbar, g/s"),
            _("pressure shown, mbar"),
            COVERAGE,
        ),
    )


def trend_picture(timeline: Timeline) -> SheetBlock:
    """The pressure while the filter dried, the fall to expect, the level it leads to.

    Only the last hold is weighed: an earlier one that was broken off belongs to another drying.
    """
    from ..assess.forecast import forecast
    from ..assess.plateau import SEEN_TO_FALL

    earlier, points = holds(timeline)
    if not points:
        return Paragraph(_("No picture: no pressure was noted while the filter dried."), "missing")
    zero = (earlier or points)[0][0]
    shown, before = (
        tuple(((s - zero) / 60, p / 100) for s, p in some) for some in (points, earlier)
    )
    said = _(
        "{count} readings in {shown:.1f} min, from {shown_2:.1f} to {shown_3:.1f} mbar.",
        count=len(points),
        shown=shown[-1][0] - shown[0][0],
        shown_2=shown[0][1],
        shown_3=shown[-1][1],
    )
    if before:
        said += _(" Before them {count} readings of a hold that was broken off.", count=len(before))
    try:
        fall = forecast(points, STEP_MBAR)
    except ValueError:
        plot = TrendPlot(shown, before, None, None, (), _MINUTES, _SHOWN)
        return _trend_of(_("{said} No level from so few.", said=said), plot)
    curve = tuple(
        (shown[0][0] + fall.end_s * k / 3600, fall.pressure_mbar(fall.end_s * k / 60))
        for k in range(61)
    )
    level, half = fall.level_mbar, COVERAGE * fall.u_level_mbar
    every = [p for _, p in (*shown, *before)]
    unseen = max(p for _, p in shown) - level < SEEN_TO_FALL * STEP_MBAR
    if unseen or half > max(max(every) - min(every), LEAST_SPAN_MBAR):
        plot = TrendPlot(shown, before, None, None, (), _MINUTES, _SHOWN)
        why = _("no fall was seen") if unseen else _("it says less than the readings themselves")
        return _trend_of(
            _(
                "{said} No level, {level:.1f} ± {half:.1f} mbar: {why}.",
                said=said,
                level=level,
                half=half,
                why=why,
            ),
            plot,
        )
    return _trend_of(
        _(
            "{said} The plausible falls, weighed by them, lead to {level:.1f} ± {half:.1f} mbar.",
            said=said,
            level=level,
            half=half,
        ),
        TrendPlot(shown, before, level, half, curve, _MINUTES, _SHOWN),
    )


def _trend_of(words: str, plot: TrendPlot) -> Picture:
    return Picture("trend", _("Pressure noted while the filter dried"), words, plot)


_Noted = tuple[tuple[float, float], ...]


def holds(timeline: Timeline) -> tuple[_Noted, _Noted]:
    """(s, Pa) noted in holds that were broken off, and in the last one."""
    noted = timeline.records("trend")
    if not noted or not isinstance(noted[-1].event, Recorded):
        return (), ()
    step = noted[-1].event.step
    begun = [at.seq for at in timeline.of(Begun) if getattr(at.event, "step", "") == step]
    since = begun[-1] if begun else 0
    parts: tuple[dict[float, float], dict[float, float]] = ({}, {})
    for at in noted:
        if isinstance(at.event, Recorded):
            seconds = float(at.event.value["at_ms"]) / 1000
            parts[at.seq >= since][seconds] = float(at.event.value["pa"])
    earlier, last = (tuple(sorted(part.items())) for part in parts)
    return earlier, last
