"""An outcome holds ids, integers and quantised decimals, and what people typed: no sentence that
the program made, and no float. So an honest record is the same everywhere and under every wording.
"""

import re
import typing
from collections.abc import Callable, Iterator
from dataclasses import fields
from decimal import Decimal
from typing import Any, Final

import pytest
from steplatch.runner.core import codec as wire
from steplatch.runner.core.codec import encode_refusal
from steplatch.runner.core.commands import HOLDS
from steplatch.runner.core.refusals import WORDS, recorded, refusal
from steplatch.runner.core.sign_off import EXCEPTIONS
from steplatch.runner.input.quantities import DIMENSIONS
from steplatch.runner.input.resolution import RESOLUTIONS, NoResolution, taken, unit_of
from steplatch.runner.record import read
from steplatch.safety.interlocks import INTERLOCKS

from tests.played import Played

ID: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_./:-]*|")

FIELDS: Final = {
    "Ticked.at": "clock", "Opened.people": "file", "Opened.files": "hash",
    "Opened.here": "id", "Joined.person": "file", "Departed.person": "id",
    "Departed.here": "id", "Done.work": "id",
    "LimitsSet.numbers": "number", "LimitsSet.inputs": "hash",
    "Begun.procedure": "id", "Done.procedure": "id", "Recorded.procedure": "id",
    "Signed.procedure": "id", "MarkedNotApplicable.procedure": "id",
    "Begun.step": "id", "Done.step": "id", "Done.answer": "typed", "Done.by": "id",
    "Moved.step": "id", "Moved.procedure": "id", "Moved.reason": "id",
    "Recorded.name": "id", "Recorded.value": "record", "Recorded.step": "id",
    "Signed.step": "id", "Signed.person": "id", "Signed.role": "id", "Signed.meaning": "id",
    "Signed.who": "id", "Signed.covers": "id", "Signed.how": "id", "Signed.exceptions": "id",
    "Corrected.name": "id", "Corrected.was": "record", "Corrected.now": "record",
    "Corrected.reason": "typed", "Corrected.by": "id",
    "MarkedNotApplicable.step": "id", "MarkedNotApplicable.reason": "typed",
    "MarkedNotApplicable.by": "id",
    "Waived.interlock": "id", "Waived.reason": "typed", "Waived.asked_by": "id",
    "Waived.person": "id", "Waived.role": "id", "Waived.how": "id",
    "WaiverUsed.interlock": "id", "WaiverUsed.act": "id", "WaiverLapsed.interlock": "id",
    "MeasuredHappening.what": "id", "MeasuredNow.fact": "id", "MeasuredNow.state": "id",
    "ChannelSetAside.channel": "id", "ChannelSetAside.by": "id",
    "TimerSet.name": "id", "Held.why": "id", "AskAgain.facts": "id", "Meanwhile.answer": "id",
    "Ended.how": "id", "Granted.act": "id", "Happened.what": "id", "Seen.fact": "id",
    "Seen.state": "id", "Lapsed.fact": "id", "Tripped.trip": "id", "ResetDone.trip": "id",
}  # fmt: skip
"""What each text of an event is: an id, typed by a person, taken from a kept file, the clock's, a
hash, a number by name, or a record whose members stand in ``RECORD``."""

TYPED: Final = {
    "typed": "typed", "text": "typed", "seconds": "typed", "shots_ml": "typed", "label": "typed",
    "line_name": "typed", "unit": "typed", "taken_at": "clock", "at": "clock", "instrument": "file",
    "topics": "ids",
}  # fmt: skip
"""Members of a record that are typed, or come from a file or the clock; every other text is an id
or a decimal of the resolution that its name states."""


def _texts(kind: type) -> Iterator[str]:
    hints = typing.get_type_hints(kind)
    for field in fields(kind):
        said = str(hints[field.name])
        assert "float" not in said, f"{kind.__name__}.{field.name} may hold a float"
        if not set(re.findall(r"\w+", said)) <= {"int", "bool", "None", "NoneType", "class"}:
            yield f"{kind.__name__}.{field.name}"


def test_every_text_of_every_event_says_in_the_table_what_it_is() -> None:
    found = {name for kind in wire._EVENTS.values() for name in _texts(kind)}
    assert found == set(FIELDS)


def _wrong(where: str, name: str, value: Any, how: str) -> Iterator[str]:
    match value:
        case float():
            yield f"{where} is the float {value!r}"
        case dict():
            for key, inner in value.items():
                yield from _wrong(f"{where}.{key}", key, inner, how)
        case list():
            for inner in value:
                yield from _wrong(where, name, inner, how)
        case str() if how == "record" and name in TYPED:
            pass
        case str() if how in ("record", "number"):
            try:
                step = Decimal(RESOLUTIONS[unit_of(name)])
            except NoResolution:
                if not ID.fullmatch(value):
                    yield f"{where} is {value!r}, which the program made"
            else:
                if Decimal(value) % step:
                    yield f"{where} is {value!r}, no multiple of {step}"
        case str() if how == "id" and not ID.fullmatch(value):
            yield f"{where} is {value!r}, no id"


def wrong_in(outcome: dict[str, Any]) -> list[str]:
    """What an outcome holds that it may not."""
    wrong = []
    for event in outcome["events"]:
        kind = event["kind"]
        for key, value in event.items():
            where = f"{kind}.{key}"
            how = FIELDS.get(where, "id")
            wrong += list(_wrong(f"{where} {event.get('name', '')}", key, value, how))
    for refused in outcome["refused"]:
        assert set(refused) == {"interlock", "about"}
        assert recorded(refused).reason and recorded(refused).remedy
        wrong += [
            f"refused {refused}"
            for key, value in refused["about"].items()
            for one in (value if isinstance(value, list) else [value])
            if not isinstance(one, str) or (key != "typed" and not ID.fullmatch(one))
        ]
    return wrong


@pytest.mark.parametrize(
    "name", ["good-clean", "ash-laden", "stall-recovered", "overdose-recovered"]
)
def test_no_outcome_of_a_played_lesson_holds_a_float_or_a_sentence_of_the_program(
    name: str, shown: Callable[[str], Played]
) -> None:
    folder = shown(name).folder
    wrong = [text for line in read(folder.path) for text in wrong_in(line.outcome)]
    assert not wrong, wrong[:5]


def test_a_planted_float_and_a_planted_sentence_are_found() -> None:
    for planted in (0.1, "The gun is measured."):
        event = {"kind": "Recorded", "name": "gun", "value": {"basis": planted}, "step": "gun"}
        assert wrong_in({"events": [event], "refused": []})
    odd = {"kind": "Held", "why": "the program was started again"}
    assert wrong_in({"events": [odd], "refused": []})


def test_the_words_of_a_refusal_follow_from_its_id_and_what_it_is_about() -> None:
    row = INTERLOCKS[0]
    assert recorded({"interlock": row.id, "about": {}}).reason == row.reason
    live = refusal("branch-unknown", {"step": "run-start", "fact": "engine"})
    again = recorded({"interlock": live.interlock, "about": dict(live.about)})
    assert again == live and "'engine'" in live.reason
    typed = {"typed": "12,5,1 mbar", "quantity": "pressure"}
    assert "12,5,1" in refusal("number", typed).reason
    able = refusal("role/here", {"needed": "technician", "person": "apprentice-1",
                                 "role": "apprentice", "able": ("anna", "ben")})  # fmt: skip
    held = encode_refusal(able)
    assert held["about"]["able"] == ["anna", "ben"] and "anna or ben" in able.remedy
    assert recorded(held) == able and not wrong_in({"events": [], "refused": [held]})
    joined = {**held, "about": {**held["about"], "able": "anna or ben"}}
    assert wrong_in({"events": [], "refused": [joined]})
    assert "no rule of today" in recorded({"interlock": "x", "about": {}}).reason


def test_no_word_of_the_procedures_refusals_is_without_reason_and_remedy() -> None:
    assert all(reason and remedy for reason, remedy in WORDS.values())
    assert not {key.split("/")[0] for key in WORDS} & {row.id for row in INTERLOCKS}
    assert all(HOLDS.values()) and all(EXCEPTIONS.values())


def test_every_quantity_that_can_be_typed_has_a_resolution() -> None:
    for name in (*DIMENSIONS, "years"):
        said = taken(name, 12.0)
        assert said["quantity"] == name and len(said) == 2
