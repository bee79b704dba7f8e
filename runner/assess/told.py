"""Judgements as people read them: a recorded outcome with its sentences put beside it.

``triage`` and ``verdict`` take an outcome as a record holds it and give it back with its numbers
as floats and, under further keys, every sentence, from the tables and ``words`` of today. The
screen, the sheet, the debrief and the exports all read these.
"""

import re
from collections.abc import Iterable, Mapping
from typing import Any, Final

from steplatch.safety.catalogue import _

from ..input.resolution import revived
from . import words
from .codes import MAKERS_DIFFER, Code, describe_all
from .customer import customer_text
from .inputs import LONGEST_MIN, REFERENCE_TEXT, WATCH_S
from .resistance import COVERAGE, way
from .tables import load_table

Plain = Mapping[str, Any]

TITLES: Final = {
    "go": "go",
    "go_with_warning": _("go, with a warning in writing first"),
    "dont": "don't",
    "nothing_to_clean": _("nothing to clean"),
}
FALLING: Final = "falling"


def triage(plain: Plain) -> dict[str, Any]:
    """A triage with ``title``, its reasons (``text``, ``until``, ``source``) and codes in words."""
    out: dict[str, Any] = _parts(plain, ("before",))
    out["title"] = TITLES[out["decision"]] if "decision" in out else out.get("state", "")
    out["reasons"] = [reason(one) for one in plain.get("reasons") or ()]
    out["codes"] = [
        f"{c.code}: {c.meaning}. {c.ask} {MAKERS_DIFFER}"
        for c in describe_all(plain.get("codes") or ())
        if c.effect != "note" or c.listed
    ]
    if out.get("expected"):
        out["expected"]["text"] = words.expected(out["expected"]["high_percent"])
    return out


def reason(plain: Plain) -> dict[str, Any]:
    """One reason of a triage: ``id``, ``effect``, ``text``, ``until``, ``source``."""
    effect, found = plain["effect"], plain.get("finding")
    if found:
        return {
            "id": found["id"],
            "effect": effect,
            "text": _finding(found) + ".",
            "until": _UNTIL.get(found["id"], _READ_AGAIN) if effect == "dont" else "",
            "source": _SOURCE.get(found["id"], _("bands of likeness; common practice")),
        }
    row = next((r for r in load_table("triage")["rows"] if r["id"] == plain["row"]), None)
    said = row or {
        "reason": words.spaced(plain["row"]),
        "until": "",
        "source": _("not in the table"),
    }
    return {
        "id": plain["row"],
        "effect": effect,
        "text": said["reason"],
        "until": said["until"],
        "source": said["source"],
    }


_READ_AGAIN: Final = _("it is put right and read again")
_UNTIL: Final = {"no_line": _("it is read again")}
_SOURCE: Final = {"no_line": _("fit of the readings")}


def verdict(plain: Plain) -> dict[str, Any]:
    """A verdict with its title, reasons, advice, limits, gain and the customer's sentences."""
    out: dict[str, Any] = _parts(plain, ("before", "after", "road"))
    table = load_table("verdict")
    row = next((r for r in table["rows"] if r["id"] == plain["row"]), None)
    answers: Plain = plain.get("answers") or {}
    findings = [(f["kind"], _finding(f)) for f in plain.get("findings") or ()]
    gains = out.pop("gains", {})
    gain = gains.get(plain.get("counts", ""))
    missing = words.not_measured(plain.get("not_measured") or ())
    codes = describe_all(list(plain.get("codes") or ()))
    out |= {
        "id": plain["state"],
        "title": table["titles"].get(plain["state"], words.spaced(plain["state"])),
        "reasons": _reasons(plain, row, answers, findings),
        "look_at": [text for kind, text in findings if kind == "flag"],
        "corrected": [text for kind, text in findings if kind == "corrected"],
        "advice": [*(row["advice"] if row else ()), *_come_back(codes)],
        "to_do": [*(row["to_do"] if row else ()), *_self_made(codes)],
        "limits": _limits(out["clean"]),
        "gain": gain,
        "not_measured": list(missing),
        "one_hose": answers.get("one_hose") == "yes",
    }
    out["customer"] = list(
        customer_text(
            plain["state"],
            gain,
            answers.get("root_cause", "unknown"),
            plain["return_days"],
            plain["return_km"],
            missing,
        )
    )
    return out


_UNITS: Final = {"percent": "%", "k": "K", "g_s": "g/s"}
BUDGET_HEADS: Final = (
    _("source of uncertainty"),
    "u(x)",
    _("unit"),
    _("sensitivity, % a unit"),
    _("contribution, %"),
    _("share"),
)
"""Heads of an uncertainty budget, in the form of JCGM 100:2008 (GUM), Table H.1."""


def budget_rows(gain: Plain) -> list[tuple[str, ...]]:
    """The budget of a gain (as ``verdict`` gives it), a row a source, the largest first."""
    rows = sorted(gain.get("budget") or (), key=lambda row: -row["contribution_percent"])
    return [
        (
            words.TERMS.get(row["id"], words.spaced(row["id"])),
            f"{row['u_in_unit']:.3g}",
            _UNITS.get(row["unit"], row["unit"]),
            f"{row['sensitivity_in_unit']:.2f}",
            f"{row['contribution_percent']:.1f}",
            f"{100 * row['part_share']:.1f} %",
        )
        for row in rows
    ]


def _gain(gain: Plain) -> str:
    """A gain in words."""
    shown = way(gain["ratio_share"], gain["u_log_ratio_share"])
    return words.gain(shown, gain["percent"], gain["low_percent"], gain["high_percent"])


def budget_sum(gain: Plain) -> str:
    """What the budget adds up to, and the interval that follows."""
    u = 100 * gain["u_log_ratio_share"]
    return _(
        "Together (root of the sum of squares) {u:.1f} % of the ratio of resistances, "
        "{gain:.3f}; times {coverage} for 95 %: {coverage_2:.0f} %, so a gain of "
        "{gain_2:.0f} to {gain_3:.0f} %. Every term by judgement (type B), but the spread of "
        "a log; limits of error are taken as normal.",
        u=u,
        gain=gain["ratio_share"],
        coverage=COVERAGE,
        coverage_2=COVERAGE * u,
        gain_2=gain["low_percent"],
        gain_3=gain["high_percent"],
    )


def row_source(row: str) -> str:
    """Where a row of the verdict's table comes from."""
    return next((str(r["source"]) for r in load_table("verdict")["rows"] if r["id"] == row), "")


def _parts(plain: Plain, phases: Iterable[str]) -> dict[str, Any]:
    """The outcome with floats, and the words of its fits, its band and its ash."""
    out: dict[str, Any] = revived(plain)
    for phase in phases:
        one = out.get(phase)
        if one:
            points = [_Point(p) for p in one["points"]]
            one["basis"] = words.basis(points)
            one["notes"] = list(words.notes(points, one["zero_read"]))
    clean = out.get("clean")
    if clean:
        clean["basis"] = words.clean_basis(clean["known"])
        clean["source"] = words.CLEAN_SOURCE
    ash = out.get("ash")
    if ash:
        ash["text"] = words.ash(ash["distance_km"], ash["low_g"], ash["high_g"], ash["said"])
    return out


class _Point:
    """A point of a recorded fit, for ``words``."""

    def __init__(self, plain: Plain) -> None:
        self.condition: str = plain["condition"]
        self.basis: str = plain["basis"]
        self.exhaust: str = plain["exhaust"]
        self.air_g_s: float = plain["air_g_s"]


def _finding(plain: Plain) -> str:
    return words.finding(plain["kind"], plain["id"], revived(plain.get("given") or {}))


def _reasons(
    plain: Plain, row: Plain | None, answers: Plain, findings: Iterable[tuple[str, str]]
) -> list[str]:
    out = [row["reason"] if row else words.spaced(plain["row"])]
    out += [text for kind, text in findings if kind == "refused"]
    if plain["facts"].get("road") == "drier":
        out.append(words.DRIER)
    if answers.get("one_hose") == "yes":
        out.append(words.ONE_HOSE)
    soot = answers.get("soot_model", "unknown")
    if soot not in ("unknown", "not_shown"):
        out.append(
            _(
                "modelled soot mass is {spaced}: a model's opinion, not proof",
                spaced=words.spaced(soot),
            )
        )
    return out


def _come_back(codes: Iterable[Code]) -> list[str]:
    """For the customer: the codes that a good clean does not keep away."""
    back = [c.code for c in codes if c.expect_back]
    return (
        [_("may come back until its cause is mended: {back}", back=", ".join(back))] if back else []
    )


def _self_made(codes: Iterable[Code]) -> list[str]:
    """For the workshop: the codes that its own work can set."""
    own = [c.code for c in codes if c.self_inflicted]
    return (
        [_("the work itself can set these, mark them apart: {own}", own=", ".join(own))]
        if own
        else []
    )


def _limits(clean: Plain) -> list[dict[str, Any]]:
    rows = (
        (_("flows as expected up to"), "today_high_mbar", clean["source"]),
        (_("leak or damage below"), "damage_below_mbar", clean["basis"]),
    )
    return [
        {"name": name, "value": clean[key], "unit": _("mbar at reference"), "source": source}
        for name, key, source in rows
    ]


def trend(plain: Plain) -> str:
    """What to tell the person who waits for the pressure to level, in one short line."""
    got = revived(plain)
    if got["state"] == "levelled" and got.get("level_mbar") is not None:
        if got["why"] == "about_now":
            return _(
                "levels within these two minutes at about {got:.0f} mbar", got=got["level_mbar"]
            )
        return _("levelled at about {got:.0f} mbar", got=got["level_mbar"])
    ahead = _forecast(got)
    if got["state"] == FALLING:
        return _("still falling{ahead}", ahead=ahead)
    return _("not shown to be level: {trend_why}{ahead}", trend_why=trend_why(plain), ahead=ahead)


def _forecast(got: Plain) -> str:
    """When it is level as likely as not, and with nine chances in ten; '' where it is by now."""
    if not got.get("to_go_min") or not got.get("to_go_high_min"):
        return ""
    likely, late = (max(1, round(got[key])) for key in ("to_go_min", "to_go_high_min"))
    if late > LONGEST_MIN:
        return (
            _(", level in about {likely} min, or much later", likely=likely)
            if likely <= LONGEST_MIN
            else ""
        )
    return _(", level in about {likely} min (nine in ten: within {late})", likely=likely, late=late)


def trend_why(plain: Plain) -> str:
    """Why a fall of pressure is judged as it is."""
    got = revived(plain)
    return words.no_level(
        got["why"],
        watched_s=got["watched_s"] or 0.0,
        wanted_s=WATCH_S,
        chance_level_percent=100 * (got["chance_level_share"] or 0.0),
    )


def triage_lines(told: Plain) -> list[str]:
    """A triage (as ``triage`` gives it) in plain text, for the screen."""
    out = [_("TRIAGE  {told}", told=told["title"])]
    for one in told["reasons"]:
        until = _(" Not until {one}.", one=one["until"]) if one["until"] else ""
        out.append(f"  {one['text']}{until} ({one['source']})")
    fitted, clean = told.get("before"), told["clean"]
    if fitted:
        out.append(
            _(
                "  now {with_half} at {reference_text}; a clean one of this size: about "
                "{clean:.0f} to {clean_2:.0f}; used, in mid-cycle: up to {clean_3:.0f}",
                with_half=_with_half(fitted),
                reference_text=REFERENCE_TEXT,
                clean=clean["new_low_mbar"],
                clean_2=clean["new_high_mbar"],
                clean_3=clean["today_high_mbar"],
            )
        )
    for key in ("expected", "ash"):
        if told.get(key):
            out.append(f"  {told[key]['text']}")
    return out + [f"  {text}" for text in told["codes"]]


def verdict_lines(told: Plain) -> list[str]:
    """A verdict (as ``verdict`` gives it) in plain text, for the screen."""
    out = [_("VERDICT  {told}", told=told["title"])]
    gain, clean = told["gain"], told["clean"]
    if gain is not None:
        unless = _(", if what stands under 'look at' is explained") if told["look_at"] else ""
        text = _gain(gain)
        out.append(
            _("  {text}, for the same flow and warmth, 95 %{unless}", text=text, unless=unless)
        )
    for phase in ("before", "after", "road"):
        one = told.get(phase)
        if one:
            out.append(
                _(
                    "  {phase:<7}{with_half} at {reference_text}; zero {one:+.1f}",
                    phase=_(phase),
                    with_half=_with_half(one),
                    reference_text=REFERENCE_TEXT,
                    one=one["offset_mbar"],
                )
            )
    out.append(
        _(
            "  A clean one of this size: about {clean:.0f} to {clean_2:.0f} mbar there; "
            "used, in mid-cycle: up to {clean_3:.0f}",
            clean=clean["new_low_mbar"],
            clean_2=clean["new_high_mbar"],
            clean_3=clean["today_high_mbar"],
        )
    )
    for heading, key in (
        (_("because"), "reasons"),
        (_("look at"), "look_at"),
        (_("corrected"), "corrected"),
        (_("not measured"), "not_measured"),
        (_("next"), "advice"),
        (_("to do"), "to_do"),
    ):
        out += [f"  {heading}: {text}" for text in told[key]]
    if told.get("ash"):
        out.append(_("  ash: {text}", text=told["ash"]["text"]))
    for limit in told["limits"]:
        out.append(
            _(
                "  limit: {name} {value:.3g} {unit} ({source})",
                name=limit["name"],
                value=limit["value"],
                unit=limit["unit"],
                source=limit["source"],
            )
        )
    if told["return_days"]:
        out.append(
            _(
                "  come back within {told} days or {told_2} km, whichever is first",
                told=told["return_days"],
                told_2=told["return_km"],
            )
        )
    return out


def change(plain: Plain) -> dict[str, Any]:
    """What changed since a kept set, with its title, reasons, advice and what to look at."""
    out: dict[str, Any] = _parts(plain, ("before", "after"))
    row = load_table("change")[plain["state"]]
    findings = [(f["kind"], two_days(_finding(f))) for f in plain.get("findings") or ()]
    gain = out.pop("gains", {}).get("after")
    said = [row["reason"], *(text for kind, text in findings if kind == "refused")]
    if gain is not None:
        text = _gain(gain)
        driven = out.get("distance_km")
        since = "" if driven is None else _(", {km} later", km=words.km(driven))
        said.insert(
            0,
            _(
                "{text} than in the kept set{since}; for the same flow and warmth, 95 %",
                text=text,
                since=since,
            ),
        )
    return out | {
        "title": row["title"],
        "kind": row["kind"],
        "reasons": said,
        "look_at": [text for kind, text in findings if kind == "flag"],
        "corrected": [text for kind, text in findings if kind == "corrected"],
        "advice": list(row["advice"]),
    }


def two_days(text: str) -> str:
    """A finding on before and after, as it is said of two days."""
    return re.sub(r"\bafter\b", "today", re.sub(r"\bbefore\b", "then", text))


def change_lines(told: Plain) -> list[str]:
    """What changed (as ``change`` gives it) in plain text, for the screen."""
    out = [_("SINCE THEN  {told}", told=told["title"])]
    for phase, said in (("before", _("then")), ("after", _("today"))):
        if one := told.get(phase):
            out.append(
                _(
                    "  {said:<7}{with_half} at {reference_text}; zero {one:+.1f}",
                    said=said,
                    with_half=_with_half(one),
                    reference_text=REFERENCE_TEXT,
                    one=one["offset_mbar"],
                )
            )
    clean = told["clean"]
    out.append(
        _("  used, in mid-cycle: up to {clean:.0f} mbar there", clean=clean["today_high_mbar"])
    )
    for heading, key in ((_("because"), "reasons"), (_("look at"), "look_at"),
                         (_("corrected"), "corrected"), (_("next"), "advice")):  # fmt: skip
        out += [f"  {heading}: {text}" for text in told[key]]
    return out


def retained(plain: Plain) -> dict[str, Any]:
    """A retained volume with its ``title`` and what it says."""
    got: dict[str, Any] = revived(plain)
    return got | {
        "title": words.RETAINED[plain["state"]],
        "said": [] if got["retained_ml"] is None else [
            f"Of three pours the smallest held {got['retained_ml']:.0f} mL; they differ by "
            f"{got['spread_ml']:.0f} mL."
        ],
    }  # fmt: skip


def retained_lines(told: Plain) -> list[str]:
    """A retained volume (as ``retained`` gives it) in plain text, for the screen."""
    return [_("RETAINED  {told}", told=told["title"]), *(f"  {text}" for text in told["said"])]


def lines(what: str, plain: Plain) -> list[str]:
    """A recorded judgement in plain text, for the screen."""
    match what:
        case "triage":
            return triage_lines(triage(plain))
        case "change":
            return change_lines(change(plain))
        case "retained":
            return retained_lines(retained(plain))
    return verdict_lines(verdict(plain))


def _with_half(one: Plain) -> str:
    half = COVERAGE * one["u_at_reference_mbar"]
    return f"{one['at_reference_mbar']:.0f} mbar +/- {half:.0f}"
