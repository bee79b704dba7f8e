"""The ten worst single false answers, and the second, different question that each gets.

Worst: what they falsify is the count of fluid, what holds the engine, or which part fluid goes
into. ``noticed`` is what a person would notice in spite of the answer, ``car`` what a linked
vehicle could say against it, ``asked`` the step that asks otherwise, with its procedure, ``left``
what neither shows. All of it is common practice, no source.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SecondQuestion:
    """One false answer, named as in ``trusted_reports``, and what stands against it."""

    false_report: str
    noticed: str
    car: str
    asked: tuple[str, str]
    left: str


_CLEAN = "clean-above"
_MUTE = "nothing: no sensor of it knows of fluid"

SECOND_QUESTIONS: tuple[SecondQuestion, ...] = (
    SecondQuestion(
        "volume: spray_ended",
        "the gun is lighter than the count says; foam where none should be",
        _MUTE,
        (_CLEAN, "off-level"),
        "a level read as carelessly as the seconds; a running dose is not asked about",
    ),
    SecondQuestion(
        "silence: overdosed",
        "the gun is empty too soon, fluid drips from a joint",
        _MUTE,
        (_CLEAN, "off-level"),
        "who hid it once can hide it twice",
    ),
    SecondQuestion(
        "report: drained",
        "the jug on the bench shows another volume",
        _MUTE,
        ("recovery-overdose", "inspect"),
        "within the strict limit nobody looks into the turbine: all of it in one cylinder is borne",
    ),
    SecondQuestion(
        "look: arrival dry",
        "it does not start evenly, smells of cleaner, or stands where it was pushed",
        "a count of kilometres since the codes were cleared, where it is shown",
        (_CLEAN, "filter-history"),
        "an owner who does not know what the last garage did",
    ),
    SecondQuestion(
        "look: starter disabled",
        "the relay still sits in its place",
        "the speed moves when the start is tried",
        (_CLEAN, "line-try"),
        "that it was put back between the try and the fluid",
    ),
    SecondQuestion(
        "look: identity match",
        "two like vans; the key opens the other one",
        "its own chassis number, which is not read here",
        (_CLEAN, "vin-tail"),
        "both typed from the same paper",
    ),
    SecondQuestion(
        "look: sensor proven",
        "another reading moves when the hose is blown",
        "the pressure shown stands still",
        (_CLEAN, "line-test-blow"),
        "a hose that was blown without looking at the reading",
    ),
    SecondQuestion(
        "look: port cool",
        "hiss and steam at the first drop",
        "its exhaust temperature, where one is shown before the filter",
        (_CLEAN, "off-cool"),
        "the same probe on the same wrong place twice",
    ),
    SecondQuestion(
        "look: trigger springs",
        "a drop hangs at the nozzle, the air goes on hissing",
        _MUTE,
        (_CLEAN, "off-level"),
        "a gun that begins to drip later, on the line again for the start",
    ),
    SecondQuestion(
        "report: turned_even",
        "one compression is harder, the bar springs back",
        _MUTE,
        (_CLEAN, "off-turn-seen"),
        "two people who watched the bar and not each other; a part-full cylinder feels even",
    ),
)
