"""The words by which the program knows what a procedure asked: under which ``name`` an answer is
read, what it means, in which values, and who reads it. A procedure may ask anything else too, under
a name that is not nearly one of these; what it does not ask, the verdict knows less of.
"""

from dataclasses import dataclass

from steplatch.safety.catalogue import _


@dataclass(frozen=True, slots=True)
class Word:
    """One name: what it means, the form (text, choice or a quantity), for a choice the values that
    are understood, and who reads it."""

    meaning: str
    form: str = "text"
    values: tuple[str, ...] = ()
    read_by: str = "sheet"


PERSONAL = frozenset({"customer_name", "contact", "registration", "vin_tail"})
"""Names whose answers are kept apart from the record; no others can be."""


def _choice(meaning: str, *values: str, by: str = _("triage and verdict")) -> Word:
    return Word(meaning, "choice", values, by)


POURS = frozenset(f"{word}_{n}" for word in ("poured", "came_back") for n in (1, 2, 3))
"""The names under which a retained volume is poured and measured."""

VOCABULARY: dict[str, Word] = {
    "customer_name": Word(_("the customer's name"), read_by=_("sheet, job book")),
    "contact": Word(_("how the customer can be reached")),
    "registration": Word(_("the registration from the plate"), read_by=_("sheet, job book")),
    "vin_tail": Word(_("the last characters of the chassis number"), read_by=_("sheet, job book")),
    "complaint": Word(_("what the customer says")),
    "line_name": Word(_("the pressure line's name as shown"), read_by="verdict"),
    "codes_stored": Word(_("stored codes"), read_by=_("triage and verdict")),
    "codes_pending": Word(_("pending codes"), read_by=_("triage and verdict")),
    "codes_after": Word(_("codes after the work"), read_by="verdict"),
    "root_cause_text": Word(_("what filled it, in words")),
    "alternatives": Word(_("what else could be done")),
    "price": Word(_("the price told")),
    "warning": Word(_("the warning given in writing")),
    "advice": Word(_("the advice given")),
    "return_date": Word(_("when the vehicle comes back")),
    "abandon_reason": Word(_("why the job was given up")),
    "finding": Word(_("what a job without a verdict found"), "choice"),
    "distance": Word(_("distance driven"), "distance", read_by=_("triage, sheet")),
    "kept_distance": Word(_("distance at the kept set"), "distance", read_by=_("what changed")),
    "kept_line": Word(_("the pressure line of the kept set"), read_by=_("what changed")),
    **{name: Word(_("a pour, or what came back"), "volume", read_by="number") for name in POURS},
    "age": Word(_("age of the vehicle"), "years", read_by="triage"),
    "duty": _choice(_("what the vehicle mostly does"), "town", "mixed", "motorway"),
    "loads_off": _choice(_("loads off, both times"), "no", "yes"),
    "car_level": _choice(_("whether the car stands level"), "no", "yes"),
    "ash_state": _choice(_("ash as shown"), "low", "high", "at_limit", "not_shown"),
    "regeneration_spacing": _choice(_("how far apart burns are"), "normal", "close", "not_shown"),
    "soot_model": _choice(
        _("modelled soot mass"), "low", "normal", "high", "over_limit", "not_shown"
    ),
    "root_cause": _choice(_("why it filled"), "mended", "none_found", "accepted", "open"),
    "line_test": _choice(
        _("the line and hose test"), "ok", "mended", "blocked", "split", "swapped", "not_done"
    ),
    "core_condition": _choice(
        _("what the filter looks and sounds like"),
        *("no_sign", "outlet_soot", "rattle", "cracked", "melted", "missing"),
    ),
}  # fmt: skip
