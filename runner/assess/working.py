"""The working behind a verdict, in plain text: what was read, what was fitted, which row decided.

With the lines of the verdict itself it lets a reader check every step from the page alone.
"""

from collections.abc import Mapping, Sequence
from typing import Any

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
            f"  ratio of resistances {verdict.gain.ratio_share:.3f}, standard uncertainty of its "
            f"logarithm {verdict.gain.u_log_ratio_share:.3f}"
        )
    row = next(row for row in verdict_rows() if row.id == verdict.row)
    named = ", ".join(f"{name} {value}" for name, value in verdict.facts.items())
    out.append(f"  facts: {named}")
    asked = ", ".join(f"{n} {' or '.join(v)}" for n, v in row.when.items()) or "no row before it"
    source = told.row_source(row.id)
    out.append(f"  decided by the first row that fits: {row.id} ({asked}); source: {source}")
    return out


def budget_lines(told_verdict: Mapping[str, Any]) -> list[str]:
    """The uncertainty budget of the gain that counts, as a table. Never raises."""
    out = ["UNCERTAINTY BUDGET of the ratio of resistances, after JCGM 100:2008 (GUM), Table H.1"]
    gain = told_verdict.get("gain")
    if not gain:
        return [*out, "  no gain was worked out, so there is no budget"]
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
    zero = "zero read" if one.zero_read else "zero not read, taken as about 0"
    out = [
        f"  {one.phase}: pressure = {one.offset_mbar:+.1f} (+/- "
        f"{COVERAGE * one.u_offset_mbar:.1f}) + {one.at_reference_mbar:.1f} (+/- "
        f"{COVERAGE * one.u_at_reference_mbar:.1f}) x share of viscosity x flow; share 1 is "
        f"{REFERENCE_TEXT}; {zero}; flow from {one.basis}"
    ]
    out += [
        f"    {p.condition}: share {p.flow_share:.3f}, {_how(p.condition, one)} "
        f"{p.pressure_mbar:.1f}, line "
        f"{p.fitted_mbar:.1f}, left over {p.residual_mbar:+.1f}"
        for p in one.points
    ]
    out.append(
        f"    points {spaced(one.agreement)}: chi-square {one.chi_square_share:.2f} with "
        f"{one.degrees_of_freedom} to spare"
    )
    out += [f"    {note}" for note in one.notes]
    return out


def _how(condition: str, one: Resistance) -> str:
    return "taken as" if condition == "zero" and not one.zero_read else "read"
