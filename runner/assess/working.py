"""The working behind a verdict, in plain text: what was read, what was fitted, which row decided.

With the lines of the verdict itself it lets a reader check every step from the page alone.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from steplatch.safety.catalogue import _

from ..core.reading_set import ReadingSet
from ..core.typed_set import echo
from . import told
from .inputs import REFERENCE_TEXT
from .judge import Verdict, verdict_rows
from .resistance import COVERAGE, Resistance
from .words import spaced


def readings_lines(sets: Sequence[ReadingSet]) -> list[str]:
    """Each set in one line, every value with its unit and an equivalent. Never raises."""
    return [
        "READINGS",
        *(f"  {one.phase} {one.condition}: {'; '.join(echo(one))}" for one in sets),
    ]


def working_lines(verdict: Verdict) -> list[str]:
    """The fit of each phase and the row that decided. Pressures mbar, 95 % uncertainties.

    Never raises. The fit: ``runner.assess.line_fit``; the rows: ``verdict.yaml``.
    """
    out = ["WORKING"]
    for one in (verdict.before, verdict.after, verdict.road):
        if one is not None:
            out += _fit_lines(one)
    if verdict.gain is not None:
        out.append(
            _(
                "  ratio of resistances {ratio_share:.3f}, standard uncertainty of its "
                "logarithm {u_log_ratio_share:.3f}",
                ratio_share=verdict.gain.ratio_share,
                u_log_ratio_share=verdict.gain.u_log_ratio_share,
            )
        )
    row = next(row for row in verdict_rows() if row.id == verdict.row)
    named = ", ".join(f"{name} {value}" for name, value in verdict.facts.items())
    out.append(f"  facts: {named}")
    asked = ", ".join(f"{n} {' or '.join(v)}" for n, v in row.when.items()) or _("no row before it")
    source = told.row_source(row.id)
    out.append(
        _(
            "  decided by the first row that fits: {id} ({asked}); source: {source}",
            id=row.id,
            asked=asked,
            source=source,
        )
    )
    return out


def budget_lines(told_verdict: Mapping[str, Any]) -> list[str]:
    """The uncertainty budget of the gain that counts, as a table. Never raises."""
    out = [
        _("UNCERTAINTY BUDGET of the ratio of resistances, after JCGM 100:2008 (GUM), Table H.1")
    ]
    gain = told_verdict.get("gain")
    if not gain:
        return [*out, _("  no gain was worked out, so there is no budget")]
    rows = [told.BUDGET_HEADS, *told.budget_rows(gain)]
    widths = [max(len(row[at]) for row in rows) for at in range(len(told.BUDGET_HEADS))]
    for row in rows:
        named, *rest = (
            text.ljust(wide) if at in (0, 2) else text.rjust(wide)
            for at, (text, wide) in enumerate(zip(row, widths, strict=True))
        )
        out.append("  ".join(["", named, *rest]).rstrip())
    return [*out, f"  {told.budget_sum(gain)}"]


def _fit_lines(one: Resistance) -> list[str]:
    zero = _("zero read") if one.zero_read else _("zero not read, taken as about 0")
    out = [
        _(
            "  {phase}: pressure = {offset_mbar:+.1f} (+/- {coverage:.1f}) + "
            "{at_reference_mbar:.1f} (+/- {coverage_2:.1f}) x share of viscosity x flow; "
            "share 1 is {reference_text}; {zero}; flow from {basis}",
            phase=one.phase,
            offset_mbar=one.offset_mbar,
            coverage=COVERAGE * one.u_offset_mbar,
            at_reference_mbar=one.at_reference_mbar,
            coverage_2=COVERAGE * one.u_at_reference_mbar,
            reference_text=REFERENCE_TEXT,
            zero=zero,
            basis=one.basis,
        )
    ]
    out += [
        _(
            "    {condition}: share {flow_share:.3f}, {how} {pressure_mbar:.1f}, line "
            "{fitted_mbar:.1f}, left over {residual_mbar:+.1f}",
            condition=p.condition,
            flow_share=p.flow_share,
            how=_how(p.condition, one),
            pressure_mbar=p.pressure_mbar,
            fitted_mbar=p.fitted_mbar,
            residual_mbar=p.residual_mbar,
        )
        for p in one.points
    ]
    out.append(
        _(
            "    points {spaced}: chi-square {chi_square_share:.2f} with "
            "{degrees_of_freedom} to spare",
            spaced=spaced(one.agreement),
            chi_square_share=one.chi_square_share,
            degrees_of_freedom=one.degrees_of_freedom,
        )
    )
    out += [f"    {note}" for note in one.notes]
    return out


def _how(condition: str, one: Resistance) -> str:
    return _("taken as") if condition == "zero" and not one.zero_read else "read"
