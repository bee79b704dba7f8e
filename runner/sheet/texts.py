"""The fixed words of a sheet, with where they come from. Nothing here depends on a job.

The words for the customer follow common practice (no source): say what was measured, how sure
it is, what the work cannot do, what to do next. They promise nothing.
"""

from typing import Final

from steplatch.safety.bay import Trip
from steplatch.safety.catalogue import _

from ..assess.inputs import REFERENCE_TEXT

PRACTICE: Final = _("PRACTICE: simulated vehicle, no work was done")
DRAFT: Final = _("DRAFT: the job is not finished")
ABANDONED: Final = _("ABANDONED: the job was given up before its end")

NOT_UNTIL_DRY: Final = _(
    "DO NOT START THE ENGINE: cleaning fluid may still be inside. Started so, it can be destroyed. "
    "Have the vehicle brought to a workshop that knows of this job."
)
"""For a job that was given up with fluid in (common practice, no source)."""
NOT_UNTIL_SAID: Final = _(
    "DO NOT START THE ENGINE: a notice says so at the key. Ask this workshop before anybody does."
)
"""For a job that was given up with the notice, though no fluid is counted in it."""

NOT_RECORDED: Final = _("not recorded")
MISSING: Final = _("missing")
NOT_SHOWN: Final = _("not shown on this vehicle")
ERASED: Final = "erased"

VERDICT_KIND: Final[dict[str, str]] = {
    "as_expected": "good",
    "improved_not_normal": "between",
    "contradictory": "between",
    "not_improved": "bad",
    "damage_suspected": "bad",
    "cannot_say": "none",
}
NO_VERDICT: Final = _("No verdict")

MEANING: Final[dict[str, str]] = {
    "did": _("did the work"),
    "checked": _("checked it"),
    "released": _("released the vehicle"),
    "agreed": _("agreed"),
    "received": _("received it"),
}
HOW_SIGNED: Final[dict[str, str]] = {
    "pin": _("by name and PIN"),
    "name": _("by name alone"),
    "practice": _("in practice"),
    "paper": _("on the printed page"),
    "telephone": _("a yes by telephone, no signature"),
    "message": _("a yes by message, no signature"),
}
CONDITION: Final[dict[str, str]] = {
    "raised": _("raised engine speed"),
    "idle": _("idle"),
    "zero": _("engine stopped (sensor zero)"),
}
CONDITION_SHORT: Final[dict[str, str]] = {
    "raised": _("raised speed"),
    "idle": _("idle"),
    "zero": _("engine stopped"),
}
PHASE: Final[dict[str, str]] = {
    "before": _("before"),
    "after": _("after"),
    "road": _("after the road test"),
}
PHASE_CUSTOMER: Final[dict[str, str]] = {
    "before": _("When you came"),
    "after": _("After the work"),
    "road": _("After the road test"),
}

JUDGED: Final[dict[str, str]] = {
    "go": _("nothing was found that speaks against a clean"),
    "go_with_warning": _("a clean can be tried, with the warnings below"),
    "warn": _("a clean can be tried, with the warnings below"),
    "dont": _("do not clean, for the reasons below"),
    "nothing_to_clean": _("nothing to clean: it flows as expected already"),
    "nothing": _("nothing to clean: it flows as expected already"),
}
"""The outcome of the triage in words that need no explaining."""

PLAIN_REASON: Final[dict[str, str]] = {
    "frozen": _(
        "The pressure shown did not move with the engine speed, so it was no measurement: "
        "the sensor or its line comes first."
    ),
    "zero_out": _(
        "With the engine stopped the pressure sensor has to show about nothing; it did "
        "not. The sensor or its hose comes first."
    ),
    "no_line": _(
        "The pressure shown did not rise with the flow of exhaust gas: the sensor or its "
        "hoses come first."
    ),
    "unreadable": _("The readings were not enough to compare anything with afterwards."),
}
"""Reasons of the triage that speak of readings, in words that need no explaining."""
SAID_BY_OTHERS: Final = ("unreadable", "no_line", "zero_out")
"""Reasons that only follow from a plainer one beside them, as a rule."""

FOR_WORKSHOP: Final = ("burning_unknown", "code_asks")
"""Reasons of the triage that tell the workshop what to do, and the customer nothing."""

INCIDENT: Final[dict[Trip, str]] = {
    Trip.FIRE: _("fire or smoke was seen"),
    Trip.FUMES: _("a fume alarm, or somebody unwell"),
    Trip.INJURY: _("somebody was hurt"),
    Trip.RUNAWAY: _("the engine sped up by itself"),
    Trip.HARD_TURN: _("the engine did not turn freely by hand"),
    Trip.UNEVEN_CRANK: _("the engine cranked unevenly"),
    Trip.OVERDOSE: _("more fluid went in than planned, or it is not known how much"),
    Trip.STALLED: _("the engine stalled with fluid in"),
    Trip.SELF_STARTED: _("the engine started by itself"),
    Trip.UNPERMITTED: _("something was done before it was cleared to be done"),
    Trip.OVER_CEILING: _("the engine speed went over its limit"),
    Trip.UNATTENDED: _("the running engine was not watched for some time"),
    Trip.SPILL: _("fluid was spilled"),
    Trip.STUB: _("the stub of the pressure sensor snapped"),
}
"""Every trip as a customer reads it."""

SAME_FLOW: Final = _(
    "At the same flow: worked out from what was shown, for {reference_text}, so that the "
    "sets can be set beside each other. It stood on no display. ± is the 95 % range",
    reference_text=REFERENCE_TEXT,
)
"""Under which a number stands that nobody can have read anywhere."""
NO_DISPLAY: Final = _("worked out for one and the same flow, on no display")

GLOSSARY: Final = _(
    "mbar: a unit of pressure. The filter pushes back on the exhaust gas; the fuller it is, the "
    "more pressure the same flow needs. Idle: the engine at its lowest speed. Raised: held at a "
    "higher speed, standing. Zero: what the sensor shows with the engine stopped. Modelled soot: "
    "what the engine's computer reckons, not a measurement. 95 % sure: in 95 of 100 such jobs the "
    "true value lies in the range."
)
DEFERENCE: Final = _(
    "Local rules, the vehicle maker's data and the fluid's safety data sheet stand above this "
    "sheet. Nothing here takes away rights that the law gives you."
)
DATA_NOTICE: Final = _(
    "Your name, contact and registration are kept apart from the technical record and can be "
    "erased when you ask for it."
)
ADMINISTRATIVE: Final = _(
    "The checks behind this sheet rest on what people reported. They guide and record the work; "
    "they do not replace protection that is built into a machine."
)

CAN_DO_INSTEAD: Final = (
    _(
        "Burn the soot by a steady drive or by the vehicle's own service procedure, where "
        "the maker allows it. It takes soot out, not ash."
    ),
    _(
        "Have the filter taken off and cleaned on a bench. It takes out more ash, and costs "
        "more time."
    ),
    _("Have the filter replaced."),
    _("Do nothing now. It goes on filling, and the engine may cut its power."),
)
"""Common practice, no source."""

CANNOT_DO: Final = (
    _("Fluid loosens soot. It does not take ash out, and ash stays for the life of the filter."),
    _("It mends no fault. What filled the filter fills it again until that is mended."),
    _("It may bring nothing. The lamp may stay on, or come on again."),
    _("We cannot see inside the filter. A broken core may show only afterwards."),
    _("Your filter stays in the vehicle and does not become a new one."),
)
"""Common practice, no source."""

RISKS: Final = (
    _(
        "The plastic stub of the pressure sensor may snap when its hose is taken off. You "
        "are asked before a new sensor is fitted."
    ),
    _("The work can set fault codes by itself; they are listed apart."),
    _("The engine oil may have to be changed afterwards."),
    _(
        "Fluid that runs back into a cylinder can damage the engine. It is rare. The amount is "
        "limited for this reason, and the engine is started only under the checks of this job."
    ),
)
"""Common practice, no source."""

STOPS_IF: Final = (
    _("the filter turns out to be broken, or oil or coolant is in it"),
    _("the pressure line or its sensor cannot be trusted"),
    _("the engine does not turn or run evenly"),
    _("the exhaust, the fumes or the fluid cannot be kept under control"),
)
STOPPED_PAYS: Final = _(
    "If the work stops there, what was measured and told to you is still to be paid. The price "
    "is between you and the workshop; this sheet only repeats what was typed in."
)

FIRST_YES: Final = _("first yes: measure and tell me what you find")
SECOND_YES: Final = _("second yes: do the clean")

HASH_NOTE: Final = _(
    "Keep this number. The workshop's record ends with it; if one character of the record is "
    "changed later, the number no longer fits."
)
SIGNAL_WORDS: Final = _(
    "Signal words as in ANSI Z535.6 and ISO 3864-2: DANGER kills or seriously injures if not "
    "avoided; WARNING could kill or seriously injure; CAUTION could injure; NOTICE concerns "
    "property only."
)
