"""The visits of one car over time: how hard its filter flowed when it came and when it went.

Pressures are those worked out for one and the same flow, so that visits can be set beside each
other. Practice knows of practice alone, and what was erased is not known any more.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from steplatch.safety.catalogue import _

from ..assess import told
from ..assess.resistance import COVERAGE
from ..core.job import Job
from ..record import DataFolder
from .last_time import earlier_of_car

WIDEST = 30
"""Letters of the longest bar in text."""


@dataclass(frozen=True, slots=True)
class Pressure:
    """A pressure at the same flow, mbar, with its 95 % half-width."""

    mbar: float
    half_width_mbar: float


@dataclass(frozen=True, slots=True)
class Visit:
    """One visit. ``km`` as read then; a pressure that was not worked out, and a gain that was not
    shown, are None."""

    day: str
    km: float | None
    came: Pressure | None
    went: Pressure | None
    gain_percent: float | None


def visit_of(job: Job, day: str) -> Visit:
    """What one job says of its visit: the last set before the work, the last one after it."""
    verdict, triage = job.log.latest("verdict"), job.log.latest("triage")
    judged = verdict or triage or {}
    gain = told.verdict(verdict)["gain"] if verdict else None
    distance = (job.log.latest("distance") or {}).get("km")
    return Visit(
        day,
        None if distance is None else float(distance),
        _pressure(judged.get("before")),
        _pressure(judged.get("road") or judged.get("after")),
        None if gain is None else float(gain["percent"]),
    )


def _pressure(fitted: dict[str, Any] | None) -> Pressure | None:
    if not fitted:
        return None
    wide = COVERAGE * float(fitted["u_at_reference_mbar"])
    return Pressure(float(fitted["at_reference_mbar"]), wide)


def earlier_visits(
    data: DataFolder, registration: str, practice: bool, before: str = "9999"
) -> list[Visit]:
    """The visits of the car with this registration on days before ``before`` (ISO), oldest first;
    those at which nothing was worked out are left out."""
    found = earlier_of_car(data, registration, practice)
    visits = [visit_of(one.job, one.day) for one in found if one.day < before][::-1]
    return sorted((v for v in visits if v.came or v.went), key=lambda v: v.day)


def driven_words(visits: list[Visit], place: int) -> str:
    """How far the car was driven since the visit before; '' where that is not known."""
    now, then = visits[place].km, visits[place - 1].km if place else None
    return "" if now is None or then is None else _("{now:.0f} km later", now=now - then)


def picture(visits: list[Visit]) -> list[str]:
    """The visits as lines of text with bars; the longest bar is the highest pressure."""
    shown = [p.mbar for v in visits for p in (v.came, v.went) if p is not None]
    most = max(shown, default=0.0)
    out = []
    for place, visit in enumerate(visits):
        driven = driven_words(visits, place)
        gain = (
            ""
            if visit.gain_percent is None
            else _("{gain_percent:.0f} % easier", gain_percent=visit.gain_percent)
        )
        beside = ", ".join(_said(driven, gain))
        out.append(f"{visit.day}{'  ' if beside else ''}{beside}")
        for name, pressure in (("came", visit.came), ("went", visit.went)):
            if pressure is not None:
                bar = "#" * max(1, round(WIDEST * pressure.mbar / most)) if most > 0 else ""
                out.append(f"  {name} {pressure.mbar:4.0f} mbar {bar}")
    return out


def _said(*texts: str) -> Iterable[str]:
    return (text for text in texts if text)
