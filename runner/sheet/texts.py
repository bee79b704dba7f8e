"""The fixed words of a sheet, with where they come from. Nothing here depends on a job.

The words for the customer follow common practice (no source): say what was measured, how sure
it is, what the work cannot do, what to do next. They promise nothing.
"""

from typing import Final

from steplatch.safety.bay import Trip

from ..assess.inputs import REFERENCE_TEXT

PRACTICE: Final = "PRACTICE: simulated vehicle, no work was done"
DRAFT: Final = "DRAFT: the job is not finished"
ABANDONED: Final = "ABANDONED: the job was given up before its end"

NOT_UNTIL_DRY: Final = (
    "DO NOT START THE ENGINE: cleaning fluid may still be inside. Started so, it can be destroyed. "
    "Have the vehicle brought to a workshop that knows of this job."
)
"""For a job that was given up with fluid in (common practice, no source)."""
NOT_UNTIL_SAID: Final = (
    "DO NOT START THE ENGINE: a notice says so at the key. Ask this workshop before anybody does."
)
"""For a job that was given up with the notice, though no fluid is counted in it."""

NOT_RECORDED: Final = "not recorded"
MISSING: Final = "missing"
NOT_SHOWN: Final = "not shown on this vehicle"
ERASED: Final = "erased"

VERDICT_KIND: Final[dict[str, str]] = {
    "as_expected": "good",
    "improved_not_normal": "between",
    "contradictory": "between",
    "not_improved": "bad",
    "damage_suspected": "bad",
    "cannot_say": "none",
}
NO_VERDICT: Final = "No verdict"

MEANING: Final[dict[str, str]] = {
    "did": "did the work",
    "checked": "checked it",
    "released": "released the vehicle",
    "agreed": "agreed",
    "received": "received it",
}
HOW_SIGNED: Final[dict[str, str]] = {
    "pin": "by name and PIN",
    "name": "by name alone",
    "practice": "in practice",
    "paper": "on the printed page",
    "telephone": "a yes by telephone, no signature",
    "message": "a yes by message, no signature",
}
CONDITION: Final[dict[str, str]] = {
    "raised": "raised engine speed",
    "idle": "idle",
    "zero": "engine stopped (sensor zero)",
}
CONDITION_SHORT: Final[dict[str, str]] = {
    "raised": "raised speed",
    "idle": "idle",
    "zero": "engine stopped",
}
PHASE: Final[dict[str, str]] = {
    "before": "before",
    "after": "after",
    "road": "after the road test",
}
PHASE_CUSTOMER: Final[dict[str, str]] = {
    "before": "When you came",
    "after": "After the work",
    "road": "After the road test",
}

JUDGED: Final[dict[str, str]] = {
    "go": "nothing was found that speaks against a clean",
    "go_with_warning": "a clean can be tried, with the warnings below",
    "warn": "a clean can be tried, with the warnings below",
    "dont": "do not clean, for the reasons below",
    "nothing_to_clean": "nothing to clean: it flows as expected already",
    "nothing": "nothing to clean: it flows as expected already",
}
"""The outcome of the triage in words that need no explaining."""

PLAIN_REASON: Final[dict[str, str]] = {
    "frozen": "The pressure shown did not move with the engine speed, so it was no measurement: "
    "the sensor or its line comes first.",
    "zero_out": "With the engine stopped the pressure sensor has to show about nothing; it did "
    "not. The sensor or its hose comes first.",
    "no_line": "The pressure shown did not rise with the flow of exhaust gas: the sensor or its "
    "hoses come first.",
    "unreadable": "The readings were not enough to compare anything with afterwards.",
}
"""Reasons of the triage that speak of readings, in words that need no explaining."""
SAID_BY_OTHERS: Final = ("unreadable", "no_line", "zero_out")
"""Reasons that only follow from a plainer one beside them, as a rule."""

FOR_WORKSHOP: Final = ("burning_unknown", "code_asks")
"""Reasons of the triage that tell the workshop what to do, and the customer nothing."""

INCIDENT: Final[dict[Trip, str]] = {
    Trip.FIRE: "fire or smoke was seen",
    Trip.FUMES: "a fume alarm, or somebody unwell",
    Trip.INJURY: "somebody was hurt",
    Trip.RUNAWAY: "the engine sped up by itself",
    Trip.HARD_TURN: "the engine did not turn freely by hand",
    Trip.UNEVEN_CRANK: "the engine cranked unevenly",
    Trip.OVERDOSE: "more fluid went in than planned, or it is not known how much",
    Trip.STALLED: "the engine stalled with fluid in",
    Trip.SELF_STARTED: "the engine started by itself",
    Trip.UNPERMITTED: "something was done before it was cleared to be done",
    Trip.OVER_CEILING: "the engine speed went over its limit",
    Trip.UNATTENDED: "the running engine was not watched for some time",
    Trip.SPILL: "fluid was spilled",
    Trip.STUB: "the stub of the pressure sensor snapped",
}
"""Every trip as a customer reads it."""

SAME_FLOW: Final = (
    f"At the same flow: worked out from what was shown, for {REFERENCE_TEXT}, so that the sets can "
    "be set beside each other. It stood on no display. ± is the 95 % range"
)
"""Under which a number stands that nobody can have read anywhere."""
NO_DISPLAY: Final = "worked out for one and the same flow, on no display"

GLOSSARY: Final = (
    "mbar: a unit of pressure. The filter pushes back on the exhaust gas; the fuller it is, the "
    "more pressure the same flow needs. Idle: the engine at its lowest speed. Raised: held at a "
    "higher speed, standing. Zero: what the sensor shows with the engine stopped. Modelled soot: "
    "what the engine's computer reckons, not a measurement. 95 % sure: in 95 of 100 such jobs the "
    "true value lies in the range."
)
DEFERENCE: Final = (
    "Local rules, the vehicle maker's data and the fluid's safety data sheet stand above this "
    "sheet. Nothing here takes away rights that the law gives you."
)
DATA_NOTICE: Final = (
    "Your name, contact and registration are kept apart from the technical record and can be "
    "erased when you ask for it."
)
ADMINISTRATIVE: Final = (
    "The checks behind this sheet rest on what people reported. They guide and record the work; "
    "they do not replace protection that is built into a machine."
)

CAN_DO_INSTEAD: Final = (
    "Burn the soot by a steady drive or by the vehicle's own service procedure, where the maker "
    "allows it. It takes soot out, not ash.",
    "Have the filter taken off and cleaned on a bench. It takes out more ash, and costs more time.",
    "Have the filter replaced.",
    "Do nothing now. It goes on filling, and the engine may cut its power.",
)
"""Common practice, no source."""

CANNOT_DO: Final = (
    "Fluid loosens soot. It does not take ash out, and ash stays for the life of the filter.",
    "It mends no fault. What filled the filter fills it again until that is mended.",
    "It may bring nothing. The lamp may stay on, or come on again.",
    "We cannot see inside the filter. A broken core may show only afterwards.",
    "Your filter stays in the vehicle and does not become a new one.",
)
"""Common practice, no source."""

RISKS: Final = (
    "The plastic stub of the pressure sensor may snap when its hose is taken off. You are asked "
    "before a new sensor is fitted.",
    "The work can set fault codes by itself; they are listed apart.",
    "The engine oil may have to be changed afterwards.",
    "Fluid that runs back into a cylinder can damage the engine. It is rare. The amount is "
    "limited for this reason, and the engine is started only under the checks of this job.",
)
"""Common practice, no source."""

STOPS_IF: Final = (
    "the filter turns out to be broken, or oil or coolant is in it",
    "the pressure line or its sensor cannot be trusted",
    "the engine does not turn or run evenly",
    "the exhaust, the fumes or the fluid cannot be kept under control",
)
STOPPED_PAYS: Final = (
    "If the work stops there, what was measured and told to you is still to be paid. The price "
    "is between you and the workshop; this sheet only repeats what was typed in."
)

FIRST_YES: Final = "first yes: measure and tell me what you find"
SECOND_YES: Final = "second yes: do the clean"

HASH_NOTE: Final = (
    "Keep this number. The workshop's record ends with it; if one character of the record is "
    "changed later, the number no longer fits."
)
SIGNAL_WORDS: Final = (
    "Signal words as in ANSI Z535.6 and ISO 3864-2: DANGER kills or seriously injures if not "
    "avoided; WARNING could kill or seriously injure; CAUTION could injure; NOTICE concerns "
    "property only."
)
