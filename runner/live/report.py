"""What a surveyed vehicle gives and what it does not, as lines for a person."""

from collections.abc import Sequence

from steplatch.safety.catalogue import _

from . import rules
from .own_identifiers import OwnRow
from .survey import Car
from .table import table, units
from .witness import SPEED, Witness, quality
from .words import ids, words


def gives(car: Car, witness: Witness, own: Sequence[OwnRow] = ()) -> list[dict[str, str | int]]:
    """One row for each channel that matters here: id, quality, value in thousandths, refresh.

    The quality is "none" where the vehicle does not have it, "not_proven" for the pressure.
    """
    rows: list[dict[str, str | int]] = []
    listed = {f.channel for pid in car.pids if pid in table() for f in table()[pid].fields}
    listed |= {row.channel for row in own}
    for channel in (c for c in units() if c in ids("gives")):
        good = quality(witness, channel, witness.now_ms) if channel in listed else "none"
        if channel == "delta_pa" and good == "good":
            good = "not_proven"
        row: dict[str, str | int] = {"channel": channel, "quality": good}
        track = witness.tracks.get(channel)
        if track is not None and good != "none":
            row["milli"] = track.milli
            if track.refresh_ms is not None:
                row["refresh_ms"] = track.refresh_ms
        rows.append(row)
    return rows


def lines(car: Car, witness: Witness, own: Sequence[OwnRow] = ()) -> list[str]:
    """The same in plain words, with what else is known of the vehicle."""
    out = ["", _("THIS VEHICLE GIVES")]
    for row in gives(car, witness, own):
        channel, good = str(row["channel"]), str(row["quality"])
        name = words("gives", channel)
        if good == "none":
            out.append(_("  no   {name}: {words}", name=name, words=words("lacks", channel)))
            continue
        value = _value(int(row["milli"]), units()[channel]) if "milli" in row else ""
        doubt = "" if good == "good" else f", {words('quality', good)}"
        every = _(", renewed every {row} ms", row=row["refresh_ms"]) if "refresh_ms" in row else ""
        out.append(
            _(
                "  yes  {name}: {value}{doubt}{every}",
                name=name,
                value=value,
                doubt=doubt,
                every=every,
            )
        )
    out += own_lines(own, witness)
    out += ["", *_sag(witness), *_codes(car)]
    out.append(
        _(
            "  Asked by {value}, {part}, up to {together} values at a time. Other control "
            "units that answer: {count}.",
            value=car.dialect.value,
            part="alone" if car.physical else "through all",
            together=car.together,
            count=len(car.others),
        )
    )
    if car.name:
        out.append(_("  It calls itself {name!r}.", name=car.name))
    out.append(
        _(
            "  Chassis number: {part}.",
            part="given, kept apart from the log" if car.vin else "not given",
        )
    )
    return out


def own_lines(own: Sequence[OwnRow], witness: Witness) -> list[str]:
    """What a user has brought, as it comes: shown and not used, but for the pressure's own line."""
    out = []
    for row in own:
        track = witness.tracks.get(row.channel)
        if row.feeds is not None:
            continue
        if track is None:
            out.append(_("  no   {name} ({id}, yours): no answer yet", name=row.name, id=row.id))
            continue
        value = _value(track.milli, row.field.unit)
        doubt = _("shown, not used") if track.good else _("outside its range")
        out.append(
            _(
                "  yes  {name} ({id}, yours): {value}, {doubt}",
                name=row.name,
                id=row.id,
                value=value,
                doubt=doubt,
            )
        )
    return out


def _value(milli: int, unit: str) -> str:
    if unit == "0/1":
        return "yes" if milli else "no"
    number = f"{milli / 1000:.5g}"
    return number if unit == "1" else f"{number} {unit}"


def _sag(witness: Witness) -> list[str]:
    track = witness.tracks.get(SPEED)
    refresh = track.refresh_ms if track else None
    if refresh is None:
        text = _("not measured yet: let it idle for some seconds")
    elif refresh > rules.SAG_REFRESH_MS:
        text = _(
            "{refresh} ms, too slow to help the ear while fluid goes in: ears only", refresh=refresh
        )
    else:
        text = _("{refresh} ms, fast enough to help the ear while fluid goes in", refresh=refresh)
    return [_("  Engine speed renewed every: {text}.", text=text)]


def _codes(car: Car) -> list[str]:
    out = []
    for name, codes in (
        ("stored", car.stored),
        ("pending", car.pending),
        ("permanent", car.permanent),
    ):
        given = ", ".join(code.text for code in codes or ()) or "none"
        out.append(
            _("  Codes, {name}: {given}.", name=name, given="not given" if codes is None else given)
        )
    return out
