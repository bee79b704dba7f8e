"""What may be known: every enumerated fact, with its states and the words for each.

Every fact has a state ``UNKNOWN``; a job starts with all of them there, and unknown is treated
as unsafe by every interlock. Each state carries the words in which a person says what was seen
(``said``).
"""

from enum import Enum
from typing import Self

from .catalogue import _


class State(Enum):
    """One state of one fact: its name in files, and what a person saw when it holds."""

    said: str
    unknown: bool
    """True for the one state of each fact that means that nobody knows."""

    def __new__(cls, value: str, said: str) -> Self:
        member = object.__new__(cls)
        member._value_ = value
        member.said = said
        member.unknown = value == "unknown"
        return member

    __hash__ = object.__hash__  # members are single; the proofs hash them by the million


class Engine(State):
    """What the engine does."""

    UNKNOWN = "unknown", _("I don't know what the engine is doing")
    STOPPED = "stopped", _("the engine stands still")
    IDLING = "idling", _("the engine idles")
    RAISED = "raised", _("the engine is held at raised revs")
    ROAD = "road", _("the vehicle is out on the road test")


class Idle(State):
    """Whether a warm, even idle has been seen since the engine last changed."""

    UNKNOWN = "unknown", _("I don't know whether the idle is even")
    STEADY = "steady", _("idle even, at its usual speed")
    SAGGING = "sagging", _("idle sags or hunts")


class Key(State):
    """Where the key is. Boxed: out of range, with the start disabled."""

    UNKNOWN = "unknown", _("I don't know where the key is")
    ON = "on", _("ignition on")
    OFF = "off", _("ignition off, key within reach of the car")
    BOXED = "boxed", _("key in the box out of range, and the start is disabled")


class Starter(State):
    """Whether the start is disabled in a way that stays."""

    UNKNOWN = "unknown", _("I don't know whether the start is disabled")
    ENABLED = "enabled", _("nothing is out or off: it can start")
    DISABLED = "disabled", _("starter relay or fuse out, or earth lead off: it stays so")


class StartTried(State):
    """Whether the start was tried, with the start disabled, before any fluid."""

    UNKNOWN = "unknown", _("not tried with the start disabled")
    NOTHING = "nothing", _("tried with the key, start disabled, no fluid in: nothing happened")
    LATE = "late", _("fluid came in by mishap before it was tried: never try it now")


class Bar(State):
    """Whether socket or bar are on the crank bolt."""

    UNKNOWN = "unknown", _("I don't know whether a bar is on the crank bolt")
    OFF = "off", _("no socket and no bar on the crank bolt")
    ON = "on", _("socket and bar are on the crank bolt")


class Secured(State):
    """Whether the vehicle can roll."""

    UNKNOWN = "unknown", _("I don't know whether it is secured")
    YES = "yes", _("parking brake on, neutral or park, two wheels chocked")
    PART = "part", _("brake, gear or chocks: one of them is missing")


class Lift(State):
    """Whether the vehicle is raised, and what holds it. A jack holds nobody."""

    UNKNOWN = "unknown", _("I don't know what the vehicle stands on")
    WHEELS = "wheels", _("all wheels are on and on the floor")
    HELD = "held", _("raised: stands or lift locks carry it, pushed at, air suspension off")
    NOT_HELD = "not_held", _("raised on a jack, or the locks do not carry it")


class Fumes(State):
    """What is done about exhaust fumes. An open door does not count."""

    UNKNOWN = "unknown", _("I don't know what happens to the fumes")
    EXTRACTION = "extraction", _("extraction hose on the tailpipe and running")
    OUTDOORS = "outdoors", _("the vehicle stands outdoors, clear of walls")
    DOOR_OPEN = "door_open", _("only a door or window is open")
    NOTHING = "nothing", _("nothing is done about fumes")


class Controls(State):
    """Who is at the controls, able to switch off."""

    UNKNOWN = "unknown", _("I don't know who is at the controls")
    OTHER = "other", _("a second person sits at the controls")
    SELF = "self", _("I do, the key is within my reach")
    NOBODY = "nobody", _("nobody is at the controls")


class Hands(State):
    """Where anyone's hands are."""

    UNKNOWN = "unknown", _("I don't know whose hands are where")
    CLEAR = "clear", _("everybody's hands, sleeves and tools are clear")
    IN = "in", _("hands are at the crank, the hose or the fan")
    AT_HOSE = "at_hose", _("hands only at the hose, away from belts and fan")


class Hose(State):
    """The pressure hose and its sensor, together."""

    UNKNOWN = "unknown", _("I don't know whether hose and sensor are fitted")
    ON = "on", _("hose and sensor both fitted and tugged")
    OFF = "off", _("the hose is off its sensor")


class Gun(State):
    """The fluid gun."""

    UNKNOWN = "unknown", _("I don't know where the gun is")
    AWAY = "away", _("the gun is off the hose and put away")
    COUPLED = "coupled", _("adaptor seated and tugged, trigger locked shut")
    OPEN = "open", _("the gun is spraying")


class Line(State):
    """What is in the pressure hose."""

    UNKNOWN = "unknown", _("I don't know whether there is fluid in the hose")
    CLEAR = "clear", _("blown through: nothing more comes out")
    FLUID = "fluid", _("fluid or foam still comes out of the hose")


class Port(State):
    """The exhaust at the filter inlet, as a class of its measured temperature."""

    UNKNOWN = "unknown", _("not measured, or too long ago")
    COOL = "cool", _("measured, under the engine-off limit")
    WARM = "warm", _("measured, over the engine-off limit, inside the running band")
    HOT = "hot", _("measured, over the running band")


class Touch(State):
    """The place where hands work at the hose, as a class of its measured temperature."""

    UNKNOWN = "unknown", _("not measured, or too long ago")
    BARE = "bare", _("measured, cool enough to handle")
    GLOVED = "gloved", _("measured, to be handled with heat-proof gloves only")
    HOT = "hot", _("measured, too hot even for heat-proof gloves")


class Burning(State):
    """Whether the filter is burning soot by itself: the regeneration flag, or where none is shown
    whether the inlet stays below what a burn needs (common practice, no source)."""

    UNKNOWN = "unknown", _("I don't know whether it burns soot now")
    NO = "no", _("not burning soot: the flag, or a cool inlet")
    YES = "yes", _("burning soot now: the flag, or a hot inlet")


class Oil(State):
    """The engine oil on the dipstick."""

    UNKNOWN = "unknown", _("I have not read the dipstick")
    OK = "ok", _("between the marks")
    LOW = "low", _("under the lower mark")
    OVER = "over", _("over the upper mark")
    THINNED = "thinned", _("thin or smelling of fuel")


class Fuel(State):
    """The fuel that the engine burns."""

    UNKNOWN = "unknown", _("I don't know what it burns")
    DIESEL = "diesel", _("diesel")
    OTHER = "other", _("petrol or another fuel")


class Coating(State):
    """The filter's coating for urea, looked up. That nobody knows is a find of its own: it is
    warned of in writing and lifts no no-go."""

    UNKNOWN = "unknown", _("I have not looked it up yet")
    NONE = "none", _("not coated, no urea dosed before it")
    APPROVED = "approved", _("coated and the maker approves this fluid")
    NOT_APPROVED = "not_approved", _("coated and not approved")
    NOBODY_KNOWS = "nobody_knows", _("looked up and asked; nobody knows whether it is coated")


class LowLoop(State):
    """Recirculation that takes gas from behind the filter and leads it to the intake."""

    UNKNOWN = "unknown", _("I have not looked it up yet")
    NONE = "none", _("taken off before the filter, or not at all")
    HELD_SHUT = "held_shut", _("taken off behind the filter; its valve is held shut and stays so")
    OPEN = "open", _("taken off behind the filter, and the valve is not held shut")


class Foul(State):
    """Oil or coolant in the filter, by what can be seen and smelt outside."""

    UNKNOWN = "unknown", _("I have not looked for it yet")
    NO = "no", _("no oil or coolant loss, no sweet smell, no white crust")
    SUSPECTED = "suspected", _("one of them suspected")
    YES = "yes", _("oil or coolant is in the filter")


class Rate(State):
    """How the volume of a spray is known."""

    UNKNOWN = "unknown", _("not measured since the gun was filled or adjusted")
    MEASURED = "measured", _("measured into a jug since the gun was filled")
    LOADED = "loaded", _("a measured volume was loaded into the empty gun")


class Sheet(State):
    """The fluid's safety data sheet."""

    UNKNOWN = "unknown", _("I don't know where the data sheet is")
    READ = "read", _("data sheet here, same product as the label, read today")
    MISSING = "missing", _("no data sheet for this product here")


class Flash(State):
    """Whether the fluid's vapour can catch fire, by sections 2 and 9 of its data sheet."""

    UNKNOWN = "unknown", _("not read, or the data sheet does not say")
    NONE = "none", _("no H224, H225 or H226, and no flash point at 60 degC or under")
    FLAMMABLE = "flammable", _("H224, H225 or H226, or a flash point at 60 degC or under")


class Trigger(State):
    """What the gun does when it is let go."""

    UNKNOWN = "unknown", _("not tried yet")
    SPRINGS = "springs", _("let go, it shuts by itself and drips no more")
    STAYS = "stays", _("it stays open, sticks or drips")


class StopStart(State):
    """Automatic stop-start, which each start of the engine may wake again."""

    UNKNOWN = "unknown", _("not looked at since the engine was started")
    OFF = "off", _("switched off since this start, or the vehicle has none")
    ON = "on", _("it may stop and start the engine by itself")


class Kit(State):
    """Personal protection, as the data sheet asks."""

    UNKNOWN = "unknown", _("I don't know what protection is asked for")
    WORN = "worn", _("gloves, closed eye protection and sleeves on, by all here")
    HEAT = "heat", _("the same, and dry heat-proof gloves over them at the exhaust")
    NOT_WORN = "not_worn", _("somebody is without")


class Spill(State):
    """Drains, extinguisher, battery, people kept away."""

    UNKNOWN = "unknown", _("not looked at yet")
    READY = (
        "ready",
        _("drains covered, extinguisher and eye wash here, battery supported, others away"),
    )
    NOT_READY = "not_ready", _("one of these is missing")


class Reach(State):
    """Whether the hose can be reached at idle, clear of belts and fan."""

    UNKNOWN = "unknown", _("not looked at yet")
    CLEAR = "clear", _("hose and sensor reach clear of belts, fan and hot parts")
    NOT_CLEAR = "not_clear", _("hose or sensor lies close to belts, fan or hot parts")


class Sensor(State):
    """Which of two like sensors is the filter's."""

    UNKNOWN = "unknown", _("I don't know which sensor is the filter's")
    PROVEN = "proven", _("hose traced by hand from this sensor to the filter inlet")
    ALIKE = "alike", _("two like sensors, not told apart")


class Identity(State):
    """The vehicle compared from two places."""

    UNKNOWN = "unknown", _("not compared yet")
    MATCH = "match", _("plate and the end of the chassis number both match the order")
    DIFFERS = "differs", _("plate or chassis number differs from the order")


class Crew(State):
    """Who is here until the end; it decides what can be done today."""

    UNKNOWN = "unknown", _("I don't know who stays")
    PAIR = "pair", _("two of us until the end, one of them qualified")
    ALONE_ADULT = "alone_adult", _("I am alone, adult and qualified")
    ALONE_JUNIOR = "alone_junior", _("an apprentice or under-18 is alone")


class Arrival(State):
    """How the vehicle came, before anything is done to it."""

    UNKNOWN = "unknown", _("I don't know: towed, not told, or unfinished work on it")
    DRY = "dry", _("drove in; nobody put fluid in; no unfinished job on it")


class Agreed(State):
    """The customer's two yeses."""

    UNKNOWN = "unknown", _("not asked yet")
    MEASURE = "measure", _("yes: measure and tell me what you find")
    CLEAN = "clean", _("yes to the clean, after hearing what it cannot do and the price")
    NO = "no", _("no, or not reached")


class Triage(State):
    """What the findings say about cleaning at all."""

    UNKNOWN = "unknown", _("not judged yet")
    GO = "go", _("nothing found against it")
    WARN = "warn", _("go only with the warning given in writing")
    DONT = "dont", _("do not clean")
    NOTHING = "nothing", _("nothing to clean: flows as expected already")


class Tier(State):
    """The engine-off dose that was chosen."""

    UNKNOWN = "unknown", _("not chosen yet")
    NONE = "none", _("no engine-off dose: straight to the running dose")
    STRICT = "strict", _("up to the strict limit: may start as it is")
    EXTENDED = "extended", _("up to the extended limit: turn by hand first")


class Soak(State):
    """The soak after an engine-off dose."""

    UNKNOWN = "unknown", _("not begun")
    RUNNING = "running", _("soaking")
    DUE = "due", _("the soak time is over")


class RunOn(State):
    """The drying run after the running dose."""

    UNKNOWN = "unknown", _("not begun, or cut short")
    RUNNING = "running", _("drying")
    DONE = "done", _("dried for as long as the heat balance asks")


class HandTurn(State):
    """The hand-turn check: two full turns by hand, by one, checked by another."""

    UNKNOWN = "unknown", _("not done, or no longer valid")
    TURNED = "turned", _("two full turns by hand, even, no stop; not checked yet")
    VALID = "valid", _("two full turns by hand, even, seen by a second person")
    RETRY = "retry", _("cranked evenly without firing once: one more try stands")


class Inspection(State):
    """The look into the engine side of the turbine, in recovery."""

    UNKNOWN = "unknown", _("not looked, or could not look")
    DRY = "dry", _("engine side of the turbine dry, seen by two")
    OPENED = (
        "opened",
        _("cylinders opened by qualified people, all empty; oil and compression right"),
    )
    WET = "wet", _("wet on the engine side of the turbine")


class Zero(State):
    """The zero reading with the engine stopped, hose on."""

    UNKNOWN = "unknown", _("not taken since hose or sensor was touched")
    GOOD = "good", _("taken, inside the gross band")
    OUT = "out", _("taken, outside the gross band")


class Evidence(State):
    """A set of readings."""

    UNKNOWN = "unknown", _("not taken")
    PARTIAL = "partial", _("taken in part, or outside the conditions")
    GOOD = "good", _("taken, conditions in band")


class Check(State):
    """A checker's visit."""

    UNKNOWN = "unknown", _("nobody has checked")
    SAME = "same", _("checked by the person who did the work")
    OTHER = "other", _("checked by another person with the right role")


class Codes(State):
    """The fault codes."""

    UNKNOWN = "unknown", _("not read yet")
    SAVED = "saved", _("stored, pending and freeze frame written down")
    CLEARED = "cleared", _("cleared after they were saved")
    READ_AGAIN = "read_again", _("read again after the work")


class Road(State):
    """Whether the vehicle is ready to leave the bay on the road."""

    UNKNOWN = "unknown", _("not looked at yet")
    READY = "ready", _("chocks, extraction and tools out; bonnet shut; no leak")
    NOT_READY = "not_ready", _("one of these is not done")


class Driver(State):
    """Who drives the road test."""

    UNKNOWN = "unknown", _("not named yet")
    LICENSED = "licensed", _("licensed and insured for this vehicle")
    NOT = "not", _("nobody licensed and insured is here")


class Tag(State):
    """The tag at the key when a job is abandoned."""

    UNKNOWN = "unknown", _("no tag")
    KEY_TAGGED = "key_tagged", _("key off and tagged")
    DO_NOT_START = "do_not_start", _("DO NOT START notice signed by who receives it")


class FluidIn(State):
    """Whether any fluid has gone in during this job."""

    UNKNOWN = "unknown", _("I don't know")
    NO = "no", _("no fluid has gone in")
    YES = "yes", _("fluid has gone in")


class Recovery(State):
    """Whether the recovery for the worst trip was worked to its end."""

    UNKNOWN = "unknown", _("not worked through")
    CHECKED = "checked", _("worked to its end, checked by another")
    OWN = "own", _("worked to its end, looked over again by the same person, alone")
