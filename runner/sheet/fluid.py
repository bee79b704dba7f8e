"""The dose log: every spray with what the ledger counted, beside the limit it stood under."""

from dataclasses import dataclass

from steplatch.safety.bay import DoseLimits, Tier
from steplatch.safety.catalogue import _, spoken
from steplatch.safety.kernel import Happened, Seen
from steplatch.safety.occurrences import Happening

from ..core.events import LimitsSet, Recorded
from ..core.gun_entry import DOUBTED
from .blocks import TableBlock, TableCell
from .numbers import ml
from .subject import Subject
from .texts import NOT_RECORDED
from .timeline import At
from .typed import plain_text


@dataclass(frozen=True, slots=True)
class Spray:
    """One spray: engine off or running, seconds as typed, counted and ledger in 0.1 mL.

    ``counted`` and ``ledger`` are None when nobody knows; ``limit`` is the one it stood under.
    """

    at: At
    engine_off: bool
    what: str
    seconds: str
    counted: int | None
    ledger: int | None
    limit: int
    tier: str


def sprays(subject: Subject) -> tuple[Spray, ...]:
    """Every spray of the job, oldest first."""
    found: list[Spray] = []
    limits = DoseLimits(0, 0, 0)
    tier = Tier.UNKNOWN
    amount: dict[int, int | None] = {}
    for at in subject.timeline.events:
        event = at.event
        if isinstance(event, LimitsSet):
            limits = DoseLimits(event.strict, event.extended, event.running)
        elif isinstance(event, Seen) and isinstance(event.state, Tier):
            tier = event.state
        elif isinstance(event, Happened):
            amount[at.seq] = event.amount
        elif isinstance(event, Recorded) and event.name == "spray":
            value = event.value
            off = value["act"] == "spray_off"
            if off:
                limit = limits.extended if tier is Tier.EXTENDED else limits.strict
            else:
                limit = limits.running
            found.append(
                Spray(
                    at,
                    off,
                    _said(str(value["what"])),
                    str(value.get("seconds") or ""),
                    amount.get(at.seq),
                    value.get("wet_dml"),
                    limit,
                    tier.value if off else "running",
                )
            )
    return tuple(found)


def _said(what: str) -> str:
    return next((h.said for h in Happening if h.value == what), plain_text(what, 80))


def total(found: tuple[Spray, ...], engine_off: bool) -> int | None:
    """All that was counted with the engine off, or running, in 0.1 mL; None: not known."""
    counted = [s.counted for s in found if s.engine_off is engine_off]
    return None if any(c is None for c in counted) else sum(c or 0 for c in counted)


def dose_table(subject: Subject) -> TableBlock:
    """The dose log against its limits."""
    rows = []
    for spray in sprays(subject):
        rows.append(
            (
                TableCell(subject.timeline.show(spray.at.when)),
                TableCell(_("off") if spray.engine_off else _("idling")),
                TableCell(
                    f"{plain_text(spray.seconds, 40)} s" if spray.seconds else NOT_RECORDED,
                    missing=not spray.seconds,
                ),
                TableCell(ml(spray.counted), missing=spray.counted is None),
                TableCell(ml(spray.ledger), missing=spray.ledger is None),
                TableCell(f"{ml(spray.limit)} ({spoken(spray.tier)})"),
                TableCell(f"{spray.what}; {plain_text(spray.at.actor, 60)}"),
            )
        )
    return TableBlock(
        _(
            "Dose log. Counted: upper rate x (seconds + reaction), or the whole load. Ledger: all "
            "that may still be liquid"
        ),
        (
            _("When"),
            _("Engine"),
            _("Sprayed"),
            _("Counted"),
            _("Ledger after"),
            _("Limit"),
            _("Report, by"),
        ),
        tuple(rows),
        (0.13, 0.08, 0.1, 0.11, 0.12, 0.18, 0.28),
    )


def gun_table(subject: Subject) -> TableBlock:
    """Every measurement of the gun's rate, and every load; sets that were not taken too."""
    rows = []
    for at in subject.timeline.recorded():
        if not isinstance(at.event, Recorded) or at.event.name not in ("gun", DOUBTED):
            continue
        value = at.event.value
        if at.event.name == DOUBTED:
            shots = ", ".join(value["shots_ml"])
            words = _(
                "{shots} mL in {value} s: {value_2:.2f} mL/s, doubted: another set was asked for",
                shots=shots,
                value=value["seconds"],
                value_2=float(value["mean_ml_s"]),
            )
        elif value.get("basis") == "loaded":
            words = _("loaded {value:.1f} mL into the empty gun", value=float(value["volume_ml"]))
        else:
            shots = ", ".join(value["shots_ml"])
            both = _(" with the set before") if "first_set" in value else ""
            words = _(
                "{shots} mL in {value} s: {value_2:.2f} mL/s{both}, counted as {value_3:.2f} "
                "mL/s; reaction {value_4:.1f} s",
                shots=shots,
                value=value["seconds"],
                value_2=float(value["mean_ml_s"]),
                both=both,
                value_3=float(value["upper_ml_s"]),
                value_4=float(value["reaction_ms"]) / 1000,
            )
        rows.append(
            (
                TableCell(subject.timeline.show(at.when)),
                TableCell(words),
                TableCell(plain_text(at.actor, 60)),
            )
        )
    return TableBlock(
        _("Gun"), (_("When"), _("Rate or load"), _("By")), tuple(rows), (0.16, 0.62, 0.22)
    )
