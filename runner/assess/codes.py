"""Trouble codes of the filter and its sensors: format, generic meaning, what follows.

Format after SAE J2012 / ISO 15031-6: a system letter (P, C, B, U), a digit 0 to 3, three
hexadecimal digits, and optionally a failure type byte (``P2453-1C``). Makers' meanings and
sub-codes differ from the generic ones and override them.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal, TypeAlias

from steplatch.safety.catalogue import _

from ..input.findings import shown
from .tables import BadTable, load_table

Effect: TypeAlias = Literal["block", "question", "note"]
Side: TypeAlias = Literal["low", "high", "any"]
Owner: TypeAlias = Literal["standard", "maker", "reserved"]

_FORMAT: Final = re.compile(r"([PCBU])([0-3])([0-9A-F]{3})(?:-([0-9A-F]{2}))?")
_SYSTEM: Final = {"P": "powertrain", "C": "chassis", "B": "body", "U": "network"}

MAKERS_DIFFER: Final = _("Makers' meanings and sub-codes differ: theirs override this one.")


class BadCode(ValueError):  # noqa: N818 - it names the thing refused
    """A text that is not a trouble code: what, and the remedy."""


@dataclass(frozen=True, slots=True)
class Code:
    """One code and what it means here. ``listed`` is False for codes that are not in the table."""

    code: str
    failure_type: str
    system: str
    owner: Owner
    listed: bool
    meaning: str
    effect: Effect
    side: Side
    self_inflicted: bool
    expect_back: bool
    ask: str
    source: str

    @property
    def written(self) -> str:
        """The code as it is written, with its failure type if it has one: ``P2453-1C``."""
        return f"{self.code}-{self.failure_type}" if self.failure_type else self.code


def describe(text: str) -> Code:
    """What a code means. Raises ``BadCode`` when the text is not one.

    The format is strict: O for 0 or I for 1 is refused, never repaired.
    """
    plain = text.strip().upper()
    match = _FORMAT.fullmatch(plain)
    if match is None:
        raise BadCode(
            _(
                "{shown!r} is not a trouble code. Write one letter of P, C, B, U, a digit 0 "
                "to 3 and three of 0 to 9 or A to F, such as P2002.",
                shown=shown(text, 20),
            )
        )
    letter, kind, rest, failure = match.groups()
    code = f"{letter}{kind}{rest}"
    owner = _owner(letter, kind, rest)
    row = _rows().get(code)
    if row is not None:
        return Code(code, failure or "", _SYSTEM[letter], owner, True, *row)
    meaning = {
        "standard": _("a standard code that is not in the list here"),
        "maker": _("the maker's own code, not in the list here"),
        "reserved": _("a reserved code, not in the list here"),
    }[owner]
    ask = _("Look it up in the maker's data and save it with its freeze frame before clearing.")
    return Code(
        code,
        failure or "",
        _SYSTEM[letter],
        owner,
        False,
        meaning,
        "question",
        "any",
        False,
        False,
        ask,
        _("format only"),
    )


def describe_all(codes: Sequence[str]) -> tuple[Code, ...]:
    """Each code once, in the order given. Raises ``BadCode`` at the first that is none."""
    found = [describe(c) for c in codes]
    return tuple({(c.code, c.failure_type): c for c in found}.values())


def lines(code: Code) -> list[str]:
    """The code in plain text, for the screen."""
    out = [
        _(
            "{written}: {meaning} ({system}, {owner} code)",
            written=code.written,
            meaning=code.meaning,
            system=code.system,
            owner=code.owner,
        )
    ]
    effect = {
        "block": _("No clean while this stands."),
        "question": _("Ask before cleaning."),
        "note": _("Worth knowing."),
    }[code.effect]
    out.append(f"  {effect} {code.ask}")
    if code.side != "any":
        out.append(_("  Fits a pressure that is too {side} for its flow.", side=code.side))
    if code.self_inflicted:
        out.append(
            _("  The work itself can set it (sensor off its hose, plug off): mark it apart.")
        )
    if code.expect_back:
        out.append(_("  May come back until its cause is mended or its monitor has run."))
    out.append(f"  Source: {code.source}. {MAKERS_DIFFER}")
    return out


def _owner(letter: str, kind: str, rest: str) -> Owner:
    # SAE J2012: P0, P2, P34xx and up standard; P1, P30xx to P33xx maker. Others: 0 standard,
    # 1 and 2 maker, 3 reserved (U3: from memory, standard).
    if letter == "P":
        if kind in "02" or (kind == "3" and rest[0] not in "0123"):
            return "standard"
        return "maker"
    if kind == "0" or (letter == "U" and kind == "3"):
        return "standard"
    return "maker" if kind in "12" else "reserved"


_Row: TypeAlias = tuple[str, Effect, Side, bool, bool, str, str]


@lru_cache(maxsize=1)
def _rows() -> dict[str, _Row]:
    rows: dict[str, _Row] = {}
    for plain in load_table("codes"):
        code = plain["code"]
        if _FORMAT.fullmatch(code) is None or code in rows:
            raise BadTable(_("codes.yaml: {code} is malformed or stands twice", code=code))
        if plain["effect"] not in ("block", "question", "note"):
            raise BadTable(
                _("codes.yaml: {code}: effect {plain!r}", code=code, plain=plain["effect"])
            )
        if plain["side"] not in ("low", "high", "any"):
            raise BadTable(_("codes.yaml: {code}: side {plain!r}", code=code, plain=plain["side"]))
        rows[code] = (
            plain["meaning"],
            plain["effect"],
            plain["side"],
            bool(plain["self"]),
            bool(plain["back"]),
            plain["ask"],
            plain["source"],
        )
    return rows
