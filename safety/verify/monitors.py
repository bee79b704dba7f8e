"""The invariants, as small state machines over what **truly happened**.

A monitor never sees the bay, the interlocks or the kernel; it imports none of them. It keeps
its own account of the truth (``observers``), and says in words which invariant was broken.
"""

from collections.abc import Callable
from typing import Any

from .needs import QUALITY, Account, Met, Needs
from .observer_machines import (
    FLUID_IN,
    GUN,
    HAND_TURN,
    LEDGER,
    RATE,
    RECOVERY,
    RUN_ON,
    SOAK,
    START_TRIED,
    BoundObserver,
    LatchObserver,
    SignedUponObserver,
    StallLatchObserver,
)  # fmt: skip
from .observers import (
    AFTER,
    AGREED,
    BAR,
    BEFORE,
    BURNING,
    COATING,
    CODES,
    CONTROLS,
    CREW,
    DRIVER,
    ENGINE,
    FLASH,
    FLUID_CHECK,
    FOUL,
    FUEL,
    FUMES,
    HANDS,
    HOSE,
    IDENTITY,
    IDLE,
    INSPECTION,
    KEY,
    KIT,
    LIFT,
    LINE,
    LOW_LOOP,
    OIL,
    PORT,
    REACH,
    RELEASE_CHECK,
    ROAD_READY,
    SECURED,
    SENSOR,
    SHEET,
    SPILL,
    SPRAYS,
    START_CHECK,
    STARTER,
    STOP_START,
    TAG,
    TIER,
    TOUCH,
    TRIAGE,
    TRIGGER,
    FactObserver,
    Observer,
    PlantEvent,
)  # fmt: skip


def _acts(names: str) -> frozenset[str]:
    return frozenset(names.split())


def _known(
    name: str, invariant: int, acts: str, observer: Observer, good: str, words: str
) -> Needs:
    states = frozenset(good.split())
    return Needs(
        name, invariant, _acts(acts), (observer,), lambda now, event: now[0] in states, words
    )


def _needs(
    name: str,
    invariant: int,
    acts: str,
    observers: tuple[Observer, ...],
    met: Met,
    words: str,
) -> Needs:
    return Needs(name, invariant, _acts(acts), observers, met, words)


def _reset_attended(what: str, observer: Observer, good: Callable[[Any], bool]) -> Needs:
    return _needs(
        f"reset-{what}", 4, "reset", (ENGINE, observer),
        lambda now, event: event[3] != "unattended" or now[0] == "stopped" or good(now[1]),
        f"left unattended, and reset while it runs with this not put right: {what}",
    )  # fmt: skip


_BOTH_SPRAYS = " ".join(sorted(SPRAYS))
_RUNS = "start raise spray_running run_on"
TERMINAL = frozenset({"fire", "fumes", "injury", "runaway", "hard_turn", "uneven_crank"})
FLUID_TRIPS = frozenset(
    {"overdose", "stalled", "hard_turn", "uneven_crank", "self_started", "unpermitted"}
)
TRIPS_ON = {
    "fire": "fire_seen", "fumes": "fume_alarm", "injury": "person_hurt", "runaway": "ran_away",
    "hard_turn": "turned_hard", "uneven_crank": "cranked_uneven", "overdose": "overdosed",
    "self_started": "self_started", "over_ceiling": "over_ceiling", "spill": "spilled",
    "stub": "stub_snapped",
}  # fmt: skip
"""The happening that always latches each trip."""

_NOT_WHILE_LATCHED = (
    "ignition_on try_start start raise couple_gun fill_gun spray_off spray_running "
    "read_zero read_before read_after clear_codes road_test hand_over"
)


FIRE = LatchObserver("fire", frozenset({TRIPS_ON["fire"]}), alone=True)


def start_monitors(strict: int, extended: int) -> tuple[Needs, ...]:
    """Invariant 1 at these dose limits (0.1 mL), and the check before a start with fluid."""

    def may_crank(now: Account, event: PlantEvent) -> bool:
        (dml, _, _), turn, looked = now
        if dml <= strict:
            return True
        return turn in ("valid", "retry") and (dml <= extended or looked == "opened")

    def may_reset(now: Account, event: PlantEvent) -> bool:
        (dml, _, _), turn, looked, engine = now
        if event[3] not in FLUID_TRIPS:
            return True
        if engine in ("idling", "raised"):
            return bool(dml == 0)
        looked_at = looked == "opened" or (looked == "dry" and dml <= extended)
        turned = looked_at and turn in ("valid", "retry")
        return bool(engine == "stopped" and (dml <= strict or turned))

    return (
        _needs("start-with-fluid", 1, "start", (LEDGER, HAND_TURN, INSPECTION), may_crank,
               "cranked with more fluid in than may be"),
        _needs("start-soaked", 1, "start", (LEDGER, SOAK),
               lambda now, event: now[0][0] == 0 or now[1] == "due",
               "cranked with fluid in before the soak was over"),
        _needs("try-before-fluid", 1, "try_start", (LEDGER, FLUID_IN),
               lambda now, event: now[0][0] == 0 and now[1] == "no",
               "the start was tried with fluid in"),
        _known("turn-soaked", 1, "hand_turn", SOAK, "due",
               "turned by hand before the soak was over"),
        _needs("stop-stays-startable", 1, "stop_engine", (LEDGER, ENGINE, RUN_ON),
               lambda now, event: now[0][0] <= strict or now[1] == "stopped"
               or now[2][0] == "line",
               "stopped, by permission, with more fluid in than may be started with, and not in "
               "the line alone"),
        _needs("drying-runs", 1, "run_on", (ENGINE, GUN),
               lambda now, event: now[0] in ("idling", "raised") and now[1] in ("away", "coupled"),
               "drying was begun with the engine still or the gun not shut"),
        _needs("reset-without-fluid", 1, "reset", (LEDGER, HAND_TURN, INSPECTION, ENGINE),
               may_reset, "a trip about fluid was reset with fluid in"),
        _needs("start-checked", 8, "start", (LEDGER, BoundObserver(START_CHECK)),
               lambda now, event: now[0][0] == 0 or now[1][1] == "other"
               or (now[1] == ("alone_adult", "same") and now[0][0] <= strict),
               "cranked with fluid in, not checked by who has to"),
        _needs("abandon-tagged", 9, "abandon", (LEDGER, TAG),
               lambda now, event: now[1] == "do_not_start"
               or (now[1] == "key_tagged" and now[0][0] <= strict),
               "abandoned without its tag or notice"),
    )  # fmt: skip


def spray_monitors(strict: int, extended: int, running: int) -> tuple[Needs, ...]:
    """Invariant 2 at these dose limits (0.1 mL), and all else that fluid requires."""

    def off_fits(now: Account, event: PlantEvent) -> bool:
        (dml, _, _), tier = now
        limit = {"strict": strict, "extended": extended}.get(tier)
        return limit is not None and bool(dml + event[2] <= limit)

    def checked(now: Account, event: PlantEvent) -> bool:
        crew, check = now[0]
        return bool(check == "other" or (crew, check) == ("alone_adult", "same"))

    def borne_alone(now: Account, event: PlantEvent) -> bool:
        crew, (dml, _, _), rate, tier = now
        borne = dml + event[2] <= strict  # all of it, in one cylinder
        strict_and_loaded = borne and (rate, tier) == ("loaded", "strict")
        return crew == "pair" or (crew == "alone_adult" and bool(strict_and_loaded))

    fluid = f"{_BOTH_SPRAYS} fill_gun"
    return (
        _needs("spray-off-ledger", 2, "spray_off", (LEDGER, TIER), off_fits,
               "sprayed past the limit of the choice made"),
        _needs("spray-off-short", 2, "spray_off", (), lambda now, event: 0 <= event[3] <= 15,
               "sprayed longer than 15 s with the engine off"),
        _needs("spray-running-ledger", 2, "spray_running", (LEDGER,),
               lambda now, event: now[0][0] + event[2] <= running,
               "sprayed past the running dose"),
        _known("spray-rate", 2, _BOTH_SPRAYS, RATE, "measured loaded",
               "sprayed at a rate not known"),
        _known("spray-off-cool", 2, "spray_off", PORT, "cool",
               "sprayed into an exhaust not measured cool"),
        _known("spray-running-band", 2, "spray_running", PORT, "cool warm",
               "sprayed into an exhaust not measured inside the running band"),
        _known("spray-sheet", 2, fluid, SHEET, "read", "fluid without its data sheet"),
        _known("spray-kit", 2, f"{fluid} take_hose_off couple_gun clear_line hands_at_hose",
               KIT, "worn heat", "work with fluid or hose without protection"),
        _known("spray-spill", 2, _BOTH_SPRAYS, SPILL, "ready",
               "sprayed with drains, extinguisher or bystanders not dealt with"),
        _needs("spray-not-burning", 2, _BOTH_SPRAYS, (BURNING, ENGINE, PORT),
               lambda now, event: now[0] == "no" or now[1:] == ("stopped", "cool"),
               "sprayed while soot may burn"),
        _needs("spray-off-still", 2, "spray_off", (ENGINE, KEY, STARTER),
               lambda now, event: now == ("stopped", "boxed", "disabled"),
               "sprayed with an engine that could start"),
        _needs("spray-running-idle", 2, "spray_running", (ENGINE, IDLE),
               lambda now, event: now == ("idling", "steady"), "sprayed without an even idle"),
        _needs("spray-coupled", 2, _BOTH_SPRAYS, (GUN, HOSE),
               lambda now, event: now == ("coupled", "off"), "sprayed without a seated adaptor"),
        _known("couple-hose-off", 2, "couple_gun", HOSE, "off", "gun put on a fitted sensor"),
        _known("spray-agreed", 7, _BOTH_SPRAYS, AGREED, "clean", "fluid without the second yes"),
        _known("spray-triage", 7, _BOTH_SPRAYS, TRIAGE, "go warn", "fluid against the findings"),
        _known("other-fuel", 7, f"{_BOTH_SPRAYS} couple_gun", FUEL, "diesel",
               "fluid at the filter of an engine that burns another fuel"),
        _known("coating-harmed", 7, f"{_BOTH_SPRAYS} couple_gun", COATING,
               "none approved nobody_knows", "fluid at a coating that is known not to bear it"),
        _known("fouled-filter", 7, f"{_BOTH_SPRAYS} couple_gun", FOUL, "no",
               "fluid at a filter with oil or coolant in it"),
        _known("low-loop-fed", 2, f"{_BOTH_SPRAYS} couple_gun", LOW_LOOP, "none held_shut",
               "fluid where it can be drawn into the intake"),
        _known("vapour-burns", 2, _BOTH_SPRAYS, FLASH, "none",
               "sprayed fluid whose vapour can catch fire"),
        _known("gun-shuts-itself", 2, f"{_BOTH_SPRAYS} couple_gun", TRIGGER, "springs",
               "sprayed with a gun not known to shut by itself"),
        _known("spray-stop-start", 2, "spray_running", STOP_START, "off",
               "sprayed with stop-start awake"),
        _known("spray-identity", 7, _BOTH_SPRAYS, IDENTITY, "match",
               "fluid into a vehicle not matched to the order"),
        _known("spray-before", 6, _BOTH_SPRAYS, BEFORE, "good partial",
               "fluid with no 'before' readings"),
        _needs("off-dose-by-two", 10, "spray_off", (CREW, LEDGER, RATE, TIER), borne_alone,
               "by one alone: an engine-off dose not loaded, or more than one cylinder bears"),
        _known("turn-by-two", 10, "hand_turn", CREW, "pair", "turned by hand by one alone"),
        _needs("fluid-checked", 8, _BOTH_SPRAYS, (BoundObserver(FLUID_CHECK),), checked,
               "fluid not checked by who has to"),
    )  # fmt: skip


def running_monitors() -> tuple[Needs, ...]:
    """Invariants 4, 5 and 10: running engine, road, hands, crew."""

    def attended(now: Account, event: PlantEvent) -> bool:
        (crew, controls), gun = now
        alone = crew == "alone_adult" or gun == "away"
        return bool(controls == "other" or (controls == "self" and alone))

    def announced(now: Account, event: PlantEvent) -> bool:
        engine, hands, *isolated = now
        still = engine == "stopped" and hands == "in" and isolated == ["boxed", "disabled"]
        return bool(still or (engine == "idling" and hands == "at_hose"))

    def dry_line(now: Account, event: PlantEvent) -> bool:
        return bool(now[0] == "clear" or now[1] == "no")

    revs = "raise road_test"
    return (
        _needs("start-port-shut", 4, "start", (HOSE, GUN),
               lambda now, event: now[0] == "on" or now[1] == "coupled",
               "cranked with an open port"),
        _known("run-secured", 4, f"{_RUNS} try_start hand_turn", SECURED, "yes",
               "ran a vehicle that can roll"),
        _needs("lift-carries", 4, "start try_start hands_in hand_turn", (LIFT,),
               lambda now, event: now[0] in ("wheels", "held"),
               "started or worked at a vehicle that nothing is known to carry"),
        _needs("lift-down", 4, "raise road_test", (LIFT,),
               lambda now, event: now[0] == "wheels", "revs or road with the vehicle raised"),
        _known("run-fumes", 4, _RUNS, FUMES, "extraction outdoors",
               "ran with nothing done about fumes"),
        _needs("run-attended", 4, _RUNS, (BoundObserver(CONTROLS), GUN), attended,
               "ran with nobody at the controls"),
        _known("start-from-still", 4, "start try_start", ENGINE, "stopped",
               "cranked a running engine"),
        _known("revs-hose-on", 4, revs, HOSE, "on", "revs with the hose off"),
        _known("revs-gun-away", 4, revs, GUN, "away", "revs with the gun on"),
        _needs("revs-line-clear", 4, revs, (LINE, FLUID_IN), dry_line,
               "revs with fluid in the line"),
        _needs("revs-under-ceiling", 4, "raise", (), lambda now, event: bool(event[3]),
               "revs over the ceiling asked for"),
        _needs("revs-from-idle", 4, "raise", (ENGINE, IDLE),
               lambda now, event: now[0] == "raised" or now == ("idling", "steady"),
               "revs raised on an engine not known to idle evenly"),
        _known("oil-runaway", 4, "start raise road_test", OIL, "ok low",
               "run on oil that can feed a runaway"),
        _known("revs-burning", 4, "raise", BURNING, "no", "revs raised while soot may burn"),
        _needs("road-ready", 4, "road_test", (ROAD_READY, DRIVER, ENGINE),
               lambda now, event: now == ("ready", "licensed", "stopped"),
               "out on the road unready"),
        _needs("road-dry", 4, "road_test", (LEDGER,), lambda now, event: now[0][0] == 0,
               "out on the road with fluid in"),
        _known("hands-clear", 5, f"{_RUNS} try_start ignition_on road_test hand_over", HANDS,
               "clear", "engine, ignition or hand-over while hands may be in"),
        _needs("ignition-not-in-soak", 5, "ignition_on", (FLUID_IN, LEDGER, SOAK),
               lambda now, event: now[0] == "no" or now[1][0] == 0 or now[2] == "due",
               "ignition on while fluid soaks"),
        _needs("hands-still", 5, "hands_in take_hose_off couple_gun hand_turn",
               (ENGINE, KEY, STARTER),
               lambda now, event: now == ("stopped", "boxed", "disabled"),
               "hands in at an engine that could start"),
        _known("try-disabled", 5, "try_start", STARTER, "disabled",
               "the start was tried and not disabled"),
        _known("start-tried", 5, "couple_gun spray_off", START_TRIED, "nothing late",
               "fluid at an engine of which nobody had tried that it cannot start"),
        _known("bar-off", 5, "ignition_on try_start start road_test hand_over", BAR, "off",
               "started, or handed over, with a bar on the crank bolt"),
        _known("hands-told", 5, "take_hose_off couple_gun hand_turn", HANDS, "in",
               "hands in and nobody told"),
        _needs("hose-cool", 5, "take_hose_off", (TOUCH, KIT),
               lambda now, event: now[0] == "bare" or now == ("gloved", "heat"),
               "hands at an exhaust too hot for what they wear"),
        _needs("refit-idle", 5, "hands_at_hose", (ENGINE, CONTROLS, REACH, GUN),
               lambda now, event: now[:3] == ("idling", "other", "clear")
               and now[3] in ("coupled", "away"),
               "hands at the hose of a running engine, outside the narrow rule"),
        _needs("refit-hands", 5, "uncouple_gun clear_line put_hose_on",
               (ENGINE, HANDS, KEY, STARTER), announced,
               "work at the hose, not announced for what the engine does"),
        _known("crew-may-run", 10,
               "start raise spray_running fill_gun couple_gun take_hose_off road_test",
               CREW, "pair alone_adult", "an apprentice alone, beyond readings with it stopped"),
        _reset_attended("secured", SECURED, lambda now: now == "yes"),
        _reset_attended("fumes", FUMES, lambda now: now in ("extraction", "outdoors")),
        _reset_attended("hands", HANDS, lambda now: now == "clear"),
        _needs("reset-controls", 4, "reset", (ENGINE, BoundObserver(CONTROLS), GUN),
               lambda now, event: event[3] != "unattended" or now[0] == "stopped"
               or attended(now[1:], event),
               "left unattended, and reset while it runs with nobody at the controls"),
    )  # fmt: skip


def record_monitors() -> tuple[Needs, ...]:
    """Invariants 6, 7 and 9 where they need no procedure: evidence, hand-over, ends."""

    def dry_line(now: Account, event: PlantEvent) -> bool:
        return bool(now[0] == "clear" or now[1] == "no")

    def signed(now: Account, event: PlantEvent) -> bool:
        crew, check = now
        alone = crew in ("alone_adult", "alone_junior")
        return bool(check == "other" or (check == "same" and alone))

    def put_right(now: Account, event: PlantEvent) -> bool:
        recovery, crew, fluid_in, (dml, _, _) = now
        no_fluid = event[3] not in FLUID_TRIPS or (fluid_in == "no" and dml == 0)
        return recovery == "checked" or bool(
            (recovery, crew, no_fluid) == ("own", "alone_adult", True)
        )

    reads = "read_zero read_before read_after"
    return (
        _known("read-hose-on", 6, reads, HOSE, "on", "read with the hose off"),
        _known("zero-still", 6, "read_zero", ENGINE, "stopped", "zero with the engine running"),
        _known("before-is-before", 6, "read_before", FLUID_IN, "no", "'before' read after fluid"),
        _needs("after-is-dry", 6, "read_after", (RUN_ON, FLUID_IN),
               lambda now, event: now[0][0] == "done" or now[1] == "no", "'after' read wet"),
        _needs("line-clear", 6, "put_hose_on read_after", (LINE, FLUID_IN), dry_line,
               "sensor on a wet line"),
        _known("hose-which", 6, "take_hose_off", SENSOR, "proven", "hose of the wrong sensor"),
        _known("gun-away", 6, "clear_line put_hose_on take_hose_off", GUN, "away",
               "work at the line with the gun on it"),
        _known("codes-saved", QUALITY, "clear_codes", CODES, "saved cleared read_again",
               "codes cleared and not written down"),
        _known("codes-after", QUALITY, "clear_codes", AFTER, "good partial",
               "codes cleared before the 'after' readings"),
        _known("end-still", 7, "hand_over abandon", ENGINE, "stopped", "ended with it running"),
        _known("end-gun-away", 7, "hand_over", GUN, "away", "handed over with the gun on"),
        _needs("abandon-gun-away", 7, "abandon", (GUN, TAG, FIRE),
               lambda now, event: now[0] == "away"
               or (now[1] == "do_not_start" and FIRE.latched(now[2])),
               "left with the gun on, and no fire and no notice there"),
        _known("hand-over-hose", 7, "hand_over", HOSE, "on", "handed over with the hose off"),
        _known("hand-over-codes", 7, "hand_over", CODES, "read_again saved",
               "handed over with codes unread"),
        _needs("hand-over-signed", 7, "hand_over", (CREW, RELEASE_CHECK), signed,
               "handed over unsigned"),
        _needs("hand-over-dry", 7, "hand_over", (LEDGER,), lambda now, event: now[0][0] == 0,
               "handed over with fluid in"),
        _needs("reset-not-terminal", 3, "reset", (), lambda now, event: event[3] not in TERMINAL,
               "a trip without a reset was reset"),
        _needs("reset-recovered", 3, "reset", (RECOVERY, CREW, FLUID_IN, LEDGER), put_right,
               "reset before the recovery was checked by who has to"),
    )  # fmt: skip


def check_monitors() -> tuple[Needs, ...]:
    """Invariant 8 after the signature: nothing that a check was signed upon has moved since.

    The ledger is not followed here: a spray or a drain ends the look before a start by itself, and
    once all is dried there is nothing left to check.
    """

    def before_fluid(now: Account, event: PlantEvent) -> bool:
        return now[0][1] == "other" or (now[0][1], now[1]) == ("same", "alone_adult")

    def before_start(now: Account, event: PlantEvent) -> bool:
        own = (now[0][1], now[2]) == ("same", "alone_adult")
        return bool(now[0][1] == "other" or now[1][0] == 0 or own)

    def with_port(now: Account, event: PlantEvent) -> bool:  # one of the two shuts it
        return before_start(now, event) or now[3] in ("on", "coupled")

    def released(now: Account, event: PlantEvent) -> bool:
        alone = now[1] in ("alone_adult", "alone_junior")
        return bool(now[0][1] == "other" or (now[0][1] == "same" and alone))

    def of(check: FactObserver, to: FactObserver, acts: str, met: Met, *with_: Observer) -> Needs:
        name = f"{check.fact.replace('_', '-')}-{to.fact}"
        words = f"went on with a signature from before this moved: {to.fact}"
        return _needs(name, 8, acts, (SignedUponObserver(check, to), *with_), met, words)

    return (
        *(of(FLUID_CHECK, to, _BOTH_SPRAYS, before_fluid, CREW)
          for to in (IDENTITY, AGREED, TRIAGE, SHEET)),
        of(FLUID_CHECK, TIER, "spray_off", before_fluid, CREW),
        *(of(START_CHECK, to, "start", before_start, LEDGER, CREW) for to in (ENGINE, SOAK)),
        of(START_CHECK, HOSE, "start", with_port, LEDGER, CREW, GUN),
        of(START_CHECK, GUN, "start", with_port, LEDGER, CREW, HOSE),
        *(of(RELEASE_CHECK, to, "hand_over", released, CREW) for to in (HOSE, GUN, ENGINE, CODES)),
    )  # fmt: skip


def latch_monitors() -> tuple[Needs, ...]:
    """Invariant 3: a trip stays latched until it is reset."""
    observers: tuple[LatchObserver, ...] = (
        StallLatchObserver(),
        FIRE,
        *(LatchObserver(t, frozenset({what})) for t, what in TRIPS_ON.items() if t != FIRE.trip),
    )
    return tuple(
        _needs(f"latched-{observer.trip}", 3, _NOT_WHILE_LATCHED, (observer,), _quiet(observer),
               f"went on with the trip '{observer.trip}' latched")
        for observer in observers
    )  # fmt: skip


def _quiet(observer: LatchObserver) -> Callable[[Account, PlantEvent], bool]:
    return lambda now, event: not observer.latched(now[0])


def need_monitors(strict: int, extended: int, running: int) -> tuple[Needs, ...]:
    """Every invariant of the form "this act begins only after that"."""
    return (
        *start_monitors(strict, extended),
        *spray_monitors(strict, extended, running),
        *running_monitors(),
        *record_monitors(),
        *check_monitors(),
        *latch_monitors(),
    )
