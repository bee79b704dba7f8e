"""Every false answer that suffices alone: what a person would notice in spite of it, what the car
could contradict, and what is left.

What the car could say follows from its channels and from what a happening would make known
(``measured``, ``effects``); what a person would notice is written here once a kind, since it is the
thing that shows, whatever was said of it. The ten worst have words of their own
(``second_questions``). All of it is common practice, no source.
"""

from dataclasses import dataclass

from steplatch.safety.bay import FACTS, State, states_of
from steplatch.safety.effects import EFFECTS, MEASURED
from steplatch.safety.measured import CONTRADICTIONS
from steplatch.safety.occurrences import happening_of
from steplatch.safety.registers.trusted_reports import TRUSTED_REPORTS

from tests.safety.second_questions import SECOND_QUESTIONS

NOTICED: dict[str, str] = {
    "after": "numbers that do not fit the idle, or repeat those of before to the digit",
    "agreed": "the customer, at the hand-over or on the telephone, knows of no yes",
    "arrival": "it starts unevenly, smells of cleaner, or stands where it was pushed",
    "bar": "the bar stands in sight on the bolt, a wheel is still off",
    "before": "numbers that do not fit the lamp or the idle",
    "burning": "a hot smell, a fan that runs on, a high idle, heat over the ground",
    "coating": "a urea tank, its filler or its lamp; white crystals at the joints",
    "codes": "the lamp is out although nothing was written down",
    "controls": "the seat is empty; nobody answers a call",
    "crew": "a call that nobody answers",
    "driver": "who asks for the licence is shown none",
    "engine": "it is heard, felt at the bonnet, and seen at fan and rev counter",
    "fire": "flames, smoke, a smell of burning plastic",
    "flash": "a red flame on the label, a smell of solvent",
    "fluid_check": "the checker knows of no visit",
    "foul": "white smoke, a sweet smell, oil at the pipe, a level that falls",
    "fuel": "the filler flap, the smell, the label on the pump of the last bill",
    "fumes": "stinging eyes, a smell, a headache, an alarm that is carried",
    "gun": "the adaptor is in sight on the hose, or on its hook; air hisses",
    "hand_turn": "one compression is harder, the bar springs back; nobody stood beside it",
    "hands": "an arm in the engine bay; no answer to 'hands?'",
    "hose": "the hose hangs free, or its end cannot be tugged off; foam or gas at the stub",
    "hurt": "a cry, a wet sleeve, red skin, a hand held away",
    "identity": "two like vans; the key opens the other one",
    "idle": "it hunts or shakes, and is heard to",
    "inspection": "no plug, injector or sensor lies on the bench; the lamp was never fetched",
    "key": "the key is in the lock, in a pocket, or the car still answers it",
    "kit": "bare hands or eyes, seen across the bay",
    "lift": "a jack without a stand, arms without their lock, a wheel on the floor",
    "line": "the rag stays wet or black; fluid at the sensor's end; a pressure off zero",
    "low_loop": "a pipe from behind the filter to the compressor, a valve that moves",
    "oil": "the stick, by who reads it next; thin drops, a smell of fuel",
    "port": "hiss and steam at the first drop; a hand near it feels the heat",
    "rate": "the gun is empty too soon, or too heavy at the end",
    "reach": "a sleeve beside the belt, an arm that does not get there",
    "recovery": "a step that was never worked is still to be seen: gun on, hose off, wet floor",
    "release_check": "the checker knows of no release",
    "road": "a chock under the wheel, the extraction hose on the tailpipe, the bonnet open",
    "run_on": "steam and drops at the tailpipe; the pressure goes on falling",
    "secured": "it rolls when it is pushed; no chock in sight",
    "sensor": "another reading moves when the hose is blown",
    "sheet": "no sheet lies here; label and sheet name two products",
    "spill": "a bare gully, no extinguisher in reach; foam on the floor",
    "start_check": "the checker knows of no look before this start",
    "start_tried": "nobody heard or saw a try",
    "starter": "the relay sits in its place, the lead is on its pole",
    "stop_start": "its lamp in the dash; the engine stops by itself at idle",
    "tag": "no tag on the key, no notice on the wheel",
    "tier": "the dose that was loaded or sprayed is another than was chosen",
    "touch": "a glove that smokes, a hand that draws back",
    "triage": "the sheet of findings says otherwise",
    "trigger": "a drop hangs at the nozzle, the air goes on hissing",
    "wet": "the gun is lighter, the jug fuller, than the count says; foam where none should be",
}
"""By kind: what shows it to a person, whatever was said of it."""

SHOWS: dict[str, str] = {
    **dict.fromkeys(("drained", "overdosed", "spray_ended", "spray_none"), "wet"),
    **dict.fromkeys(("turned_even", "turned_hard", "turn_seen"), "hand_turn"),
    **{"fire_seen": "fire", "fume_alarm": "fumes", "person_hurt": "hurt", "spilled": "spill"},
    **{"ran_away": "engine", "stub_snapped": "hose", "tried_nothing": "start_tried"},
}
"""The kind of a happening, where it is not the first fact that the happening makes known."""

NOT_READ = "nothing that is read from it"
LEFT = {
    "look": "who says so without having looked, and nobody else looks",
    "report": "who says that it was done, and nobody else was there",
    "silence": "what nobody saw, or who saw it says nothing",
    "volume": "who counts too short, and no level is read",
}
NO_LINK = "; without a link, or with the ignition off, the car says nothing"


@dataclass(frozen=True, slots=True)
class FalseAnswer:
    """One false answer: the facts of which the tool then believes what is not so, what a person
    would notice, the ``channels`` by which the car could contradict it, what it could say in words,
    the step that asks otherwise, if any, and what is left."""

    name: str
    believed: tuple[str, ...]
    noticed: str
    channels: tuple[str, ...]
    car: str
    asked: tuple[str, str] | None
    left: str


def false_answers() -> tuple[FalseAnswer, ...]:
    """Every distinct false answer of ``TRUSTED_REPORTS``, the ten worst first, then by how much it
    falsifies."""
    worst = {second.false_report: second for second in SECOND_QUESTIONS}
    facts: dict[str, list[str]] = {}
    for fact, false_reports in TRUSTED_REPORTS.items():
        for false_report in false_reports:
            facts.setdefault(false_report, []).append(fact)
    found = []
    for name, believed in facts.items():
        channels, second = channels_of(name), worst.get(name)
        left = LEFT[name.partition(":")[0]] + (NO_LINK if channels else "")
        found.append(
            FalseAnswer(
                name,
                tuple(believed),
                second.noticed if second else NOTICED[kind_of(name)],
                channels,
                second.car if second else ", ".join(f"`{c}`" for c in channels) or NOT_READ,
                second.asked if second else None,
                second.left if second else left,
            )
        )
    order = {name: number for number, name in enumerate(worst)}
    return tuple(sorted(found, key=lambda a: (order.get(a.name, 99), -len(a.believed), a.name)))


def kind_of(false_report: str) -> str:
    """The kind of thing that the false answer is about: a fact, or what ``SHOWS`` names."""
    what, _, said = false_report.partition(": ")
    if what == "look":
        return said.split()[0]
    if said in SHOWS:
        return SHOWS[said]
    cells = EFFECTS[happening_of(said)].sets.items()
    return next(fact for fact, cell in cells if isinstance(cell, State))


def channels_of(false_report: str) -> tuple[str, ...]:
    """The channels by which a vehicle that is read could contradict it, or trip.

    A look and a report would make facts known that a channel contradicts; what is kept silent
    leaves facts believed that it would have moved, or is a happening that the vehicle reports.
    """
    what, _, said = false_report.partition(": ")
    if what == "look":
        fact, _, state = said.partition(" ")
        return _contradicting(fact, states_of(fact, (state,)))
    row = EFFECTS[happening_of(said)]
    made = {fact: cell for fact, cell in row.sets.items() if isinstance(cell, State)}
    if what == "report":
        known = {fact: frozenset({state}) for fact, state in made.items()}
    elif what == "silence":
        known = {fact: frozenset(FACTS[fact]) for fact in sorted(made or row.ends)}
    else:
        return ()
    found = [channel for f, states in known.items() for channel in _contradicting(f, states)]
    if what == "silence" and happening_of(said) in MEASURED:
        found.append("speed_rpm")
    return tuple(dict.fromkeys(found))


def _contradicting(fact: str, said: frozenset[State]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(
        row.channel for row in CONTRADICTIONS if row.fact == fact and row.said & said
    ))  # fmt: skip
