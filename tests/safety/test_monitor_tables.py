"""What each monitor asks, written out by hand: its invariant, its acts, its good and bad cases."""

from typing import Any

import pytest
from steplatch.safety.bay import FACTS
from steplatch.safety.verify.observers import MUCH_DML, UNKNOWN, PlantEvent

from tests.each import each
from tests.safety.told import ALARMS, MONITORS, begin, told

TRIPS = {
    "fire": "fire_seen",
    "fumes": "fume_alarm",
    "injury": "person_hurt",
    "runaway": "ran_away",
    "hard_turn": "turned_hard",
    "uneven_crank": "cranked_uneven",
    "overdose": "overdosed",
    "self_started": "self_started",
    "over_ceiling": "over_ceiling",
    "spill": "spilled",
    "stub": "stub_snapped",
}
NO_RESET = {"fire", "fumes", "injury", "runaway", "hard_turn", "uneven_crank"}
ABOUT_FLUID = {"overdose", "stalled", "hard_turn", "uneven_crank", "self_started", "unpermitted"}

INVARIANTS = {
    0: "codes-saved codes-after",
    1: "start-with-fluid start-soaked turn-soaked stop-stays-startable drying-runs "
    "reset-without-fluid try-before-fluid",
    2: "spray-off-ledger spray-off-short spray-running-ledger spray-rate spray-off-cool "
    "spray-running-band spray-sheet spray-kit spray-spill spray-not-burning spray-off-still "
    "spray-running-idle spray-coupled couple-hose-off "
    "low-loop-fed vapour-burns gun-shuts-itself spray-stop-start",
    3: "reset-not-terminal reset-recovered latched-stalled "
    + " ".join(f"latched-{trip}" for trip in TRIPS),
    4: "start-port-shut lift-carries lift-down "
    "run-secured run-fumes run-attended start-from-still revs-hose-on "
    "revs-gun-away revs-line-clear revs-under-ceiling revs-from-idle "
    "revs-burning oil-runaway road-ready road-dry "
    "reset-secured reset-fumes reset-hands reset-controls",
    5: "hands-clear ignition-not-in-soak hands-still hands-told hose-cool refit-idle refit-hands "
    "try-disabled start-tried bar-off",
    6: "spray-before read-hose-on zero-still before-is-before after-is-dry line-clear hose-which "
    "gun-away",
    7: "other-fuel coating-harmed fouled-filter spray-agreed spray-triage spray-identity "
    "end-still end-gun-away abandon-gun-away hand-over-hose hand-over-codes "
    "hand-over-signed hand-over-dry",
    8: "start-checked fluid-checked "
    "fluid-check-identity fluid-check-agreed fluid-check-triage fluid-check-sheet fluid-check-tier "
    "start-check-engine start-check-soak start-check-hose start-check-gun "
    "release-check-hose release-check-gun release-check-engine release-check-codes",
    9: "abandon-tagged",
    10: "off-dose-by-two turn-by-two crew-may-run",
}

ONE_FACT = {
    "turn-soaked": ("hand_turn", "due"),
    "spray-rate": ("spray_off spray_running", "measured loaded"),
    "spray-off-cool": ("spray_off", "cool"),
    "spray-running-band": ("spray_running", "cool warm"),
    "spray-sheet": ("spray_off spray_running fill_gun", "read"),
    "spray-kit": (
        "spray_off spray_running fill_gun take_hose_off couple_gun clear_line hands_at_hose",
        "worn heat",
    ),
    "spray-spill": ("spray_off spray_running", "ready"),
    "couple-hose-off": ("couple_gun", "off"),
    "spray-agreed": ("spray_off spray_running", "clean"),
    "spray-triage": ("spray_off spray_running", "go warn"),
    "other-fuel": ("couple_gun spray_off spray_running", "diesel"),
    "coating-harmed": ("couple_gun spray_off spray_running", "none approved nobody_knows"),
    "fouled-filter": ("couple_gun spray_off spray_running", "no"),
    "oil-runaway": ("start raise road_test", "ok low"),
    "revs-burning": ("raise", "no"),
    "spray-identity": ("spray_off spray_running", "match"),
    "spray-before": ("spray_off spray_running", "good partial"),
    "turn-by-two": ("hand_turn", "pair"),
    "run-secured": ("start raise spray_running run_on try_start hand_turn", "yes"),
    "lift-carries": ("start try_start hands_in hand_turn", "wheels held"),
    "lift-down": ("raise road_test", "wheels"),
    "low-loop-fed": ("couple_gun spray_off spray_running", "none held_shut"),
    "vapour-burns": ("spray_off spray_running", "none"),
    "gun-shuts-itself": ("couple_gun spray_off spray_running", "springs"),
    "spray-stop-start": ("spray_running", "off"),
    "run-fumes": ("start raise spray_running run_on", "extraction outdoors"),
    "start-from-still": ("start try_start", "stopped"),
    "revs-hose-on": ("raise road_test", "on"),
    "revs-gun-away": ("raise road_test", "away"),
    "hands-clear": (
        "ignition_on try_start start raise spray_running run_on road_test hand_over",
        "clear",
    ),
    "try-disabled": ("try_start", "disabled"),
    "start-tried": ("couple_gun spray_off", "nothing late"),
    "bar-off": ("ignition_on try_start start road_test hand_over", "off"),
    "hands-told": ("take_hose_off couple_gun hand_turn", "in"),
    "read-hose-on": ("read_zero read_before read_after", "on"),
    "zero-still": ("read_zero", "stopped"),
    "before-is-before": ("read_before", "no"),
    "hose-which": ("take_hose_off", "proven"),
    "gun-away": ("clear_line put_hose_on take_hose_off", "away"),
    "codes-saved": ("clear_codes", "saved cleared read_again"),
    "codes-after": ("clear_codes", "good partial"),
    "end-still": ("hand_over abandon", "stopped"),
    "end-gun-away": ("hand_over", "away"),
    "hand-over-hose": ("hand_over", "on"),
    "hand-over-codes": ("hand_over", "read_again saved"),
    "crew-may-run": (
        "start raise spray_running fill_gun couple_gun take_hose_off road_test",
        "pair alone_adult",
    ),
}
"""Monitors of one observer: the acts, and what it may stand at as one of them is begun."""


def wet(dml: int) -> tuple[int, str, str]:
    return dml, "", ""


NOT_DRIED = ("", "idling")


def test_every_monitor_stands_behind_its_invariant() -> None:
    listed = {name: number for number, names in INVARIANTS.items() for name in names.split()}
    assert {name: monitor.invariant for name, monitor in MONITORS.items()} == listed
    assert {alarm.invariant for alarm in ALARMS.values()} == {4}


@each("name", ONE_FACT)
def test_a_monitor_of_one_fact_asks_its_acts_for_these_states_and_no_other(name: str) -> None:
    monitor = MONITORS[name]
    acts, good = ONE_FACT[name]
    (fact,) = monitor.facts
    assert monitor.acts == set(acts.split())
    states = {state.value for state in FACTS[fact]} | {UNKNOWN}
    met = {state for state in states if monitor.met((state,), begin(acts.split()[0]))}
    assert met == set(good.split())


CASES: list[tuple[str, PlantEvent, list[Any], list[Any]]] = [
    (
        "start-with-fluid",
        begin("start"),
        [(wet(1), "", ""), (wet(2), "valid", ""), (wet(2), "retry", ""),
         (wet(3), "valid", "opened"), (wet(3), "retry", "opened")],
        [(wet(2), "", ""), (wet(3), "valid", "dry"), (wet(2), "turned", "dry"),
         (wet(3), "valid", ""), (wet(3), "", "dry"),
         (wet(MUCH_DML), "valid", "wet")],
    ),
    (
        "start-soaked",
        begin("start"),
        [(wet(0), ""), (wet(1), "due"), (wet(0), "due")],
        [(wet(1), ""), (wet(1), "soaking")],
    ),
    (
        "revs-from-idle",
        begin("raise"),
        [("idling", "steady"), ("raised", ""), ("raised", "sagging")],
        [("idling", "sagging"), ("idling", ""), ("", "steady"), ("stopped", "steady")],
    ),
    (
        "try-before-fluid",
        begin("try_start"),
        [(wet(0), "no")],
        [(wet(0), "yes"), (wet(1), "no"), (wet(MUCH_DML), "no")],
    ),
    (
        "stop-stays-startable",
        begin("stop_engine"),
        [
            (wet(1), "idling", NOT_DRIED),
            (wet(2), "stopped", NOT_DRIED),
            (wet(1), "", NOT_DRIED),
            (wet(2), "idling", ("line", "idling")),
        ],
        [
            (wet(2), "idling", NOT_DRIED),
            (wet(2), "", NOT_DRIED),
            (wet(2), "idling", ("done", "idling")),
        ],
    ),
    (
        "drying-runs",
        begin("run_on"),
        [("idling", "away"), ("raised", "coupled"), ("idling", "coupled"), ("raised", "away")],
        [("stopped", "away"), ("idling", "open"), ("", "away"), ("raised", "")],
    ),
    (
        "reset-without-fluid",
        begin("reset", asked_with="stalled"),
        [(wet(0), "", "", "idling"), (wet(0), "", "", "raised"), (wet(1), "", "", "stopped"),
         (wet(2), "valid", "dry", "stopped"), (wet(2), "retry", "dry", "stopped"),
         (wet(3), "valid", "opened", "stopped")],
        [(wet(1), "valid", "dry", "idling"), (wet(1), "", "", "raised"),
         (wet(2), "", "", "stopped"), (wet(2), "valid", "", "stopped"),
         (wet(2), "", "dry", "stopped"), (wet(0), "valid", "dry", ""),
         (wet(3), "valid", "dry", "stopped"), (wet(3), "", "opened", "stopped")],
    ),
    (
        "hose-cool",
        begin("take_hose_off"),
        [("bare", ""), ("bare", "worn"), ("gloved", "heat")],
        [("gloved", "worn"), ("gloved", ""), ("hot", "heat"), ("", "heat")],
    ),
    ("reset-without-fluid", begin("reset", asked_with="spill"), [(wet(9), "", "", "idling")], []),
    (
        "start-checked",
        begin("start"),
        [(wet(0), ("", "")), (wet(1), ("pair", "other")), (wet(0), ("", "same")),
         (wet(1), ("alone_adult", "same")), (wet(2), ("", "other"))],
        [(wet(1), ("pair", "same")), (wet(1), ("alone_adult", "")),
         (wet(2), ("alone_adult", "same")), (wet(1), ("alone_junior", "same"))],
    ),
    (
        "off-dose-by-two",
        begin("spray_off", 1),
        [("pair", wet(2), "measured", "extended"), ("alone_adult", wet(0), "loaded", "strict")],
        [("alone_adult", wet(1), "loaded", "strict"), ("alone_adult", wet(0), "measured", "strict"),
         ("alone_adult", wet(0), "loaded", "extended"),
         ("alone_junior", wet(0), "loaded", "strict"),
         ("", wet(0), "loaded", "strict")],
    ),
    (
        "reset-recovered",
        begin("reset", asked_with="spill"),
        [("checked", "", "yes", wet(9)), ("own", "alone_adult", "yes", wet(9))],
        [("own", "pair", "no", wet(0)), ("own", "alone_junior", "no", wet(0)),
         ("", "alone_adult", "no", wet(0))],
    ),
    (
        "reset-recovered",
        begin("reset", asked_with="self_started"),
        [("checked", "", "yes", wet(9)), ("own", "alone_adult", "no", wet(0))],
        [("own", "alone_adult", "yes", wet(0)), ("own", "alone_adult", "no", wet(1))],
    ),
    (
        "abandon-tagged",
        begin("abandon"),
        [(wet(1), "key_tagged"), (wet(2), "do_not_start"), (wet(0), "do_not_start")],
        [(wet(2), "key_tagged"), (wet(0), "")],
    ),
    (
        "abandon-gun-away",
        begin("abandon"),
        [("away", "", ""), ("coupled", "do_not_start", "latched"), ("", "do_not_start", "latched")],
        [("coupled", "do_not_start", ""), ("coupled", "key_tagged", "latched"), ("", "", "")],
    ),
    (
        "spray-off-ledger",
        begin("spray_off", 1),
        [(wet(0), "strict"), (wet(1), "extended")],
        [(wet(1), "strict"), (wet(2), "extended"), (wet(0), "none"), (wet(0), "")],
    ),
    ("spray-off-ledger", begin("spray_off", 0), [(wet(1), "strict")], [(wet(0), "none")]),
    ("spray-running-ledger", begin("spray_running", 1), [(wet(2),)], [(wet(3),)]),
    ("spray-running-ledger", begin("spray_running", 3), [(wet(0),)], [(wet(1),)]),
    ("spray-off-ledger", begin("spray_off", 2), [(wet(0), "extended")], [(wet(1), "extended")]),
    (
        "spray-not-burning",
        begin("spray_off", 1),
        [("no", "idling", "warm"), ("maybe", "stopped", "cool"), ("", "stopped", "cool")],
        [("maybe", "stopped", "warm"), ("maybe", "idling", "cool")],
    ),
    (
        "spray-off-still",
        begin("spray_off", 1),
        [("stopped", "boxed", "disabled")],
        [("stopped", "off", "disabled"), ("idling", "boxed", "disabled"),
         ("stopped", "boxed", "enabled"), ("stopped", "boxed", "")],
    ),
    (
        "spray-running-idle",
        begin("spray_running", 1),
        [("idling", "steady")],
        [("raised", "steady"), ("idling", "sagging")],
    ),
    (
        "spray-coupled",
        begin("spray_off", 1),
        [("coupled", "off")],
        [("coupled", "on"), ("away", "off"), ("open", "off")],
    ),
    (
        "fluid-checked",
        begin("spray_running", 1),
        [(("pair", "other"),), (("alone_adult", "same"),), (("", "other"),)],
        [(("pair", "same"),), (("alone_adult", ""),), (("alone_junior", "same"),)],
    ),
    (
        "fluid-checked",
        begin("spray_off", 1),
        [(("pair", "other"),), (("alone_adult", "same"),)],
        [(("pair", "same"),), (("alone_junior", "same"),)],
    ),
    (
        "start-port-shut",
        begin("start"),
        [("on", ""), ("off", "coupled"), ("on", "away")],
        [("off", "away"), ("", "open")],
    ),
    (
        "run-attended",
        begin("raise"),
        [(("pair", "other"), "coupled"), (("alone_adult", "self"), "coupled"),
         (("pair", "self"), "away")],
        [(("pair", "self"), "coupled"), (("alone_adult", "nobody"), "away"), (("", ""), "away")],
    ),
    (
        "revs-line-clear",
        begin("raise"),
        [("clear", "yes"), ("fluid", "no"), ("clear", "no")],
        [("fluid", "yes"), ("", "")],
    ),
    (
        "line-clear",
        begin("put_hose_on"),
        [("clear", "yes"), ("fluid", "no"), ("clear", "no")],
        [("fluid", "yes"), ("", "")],
    ),
    *(("spray-off-short", begin("spray_off", asked_with=s), [()], []) for s in (0, 1, 14, 15)),
    *(("spray-off-short", begin("spray_off", asked_with=s), [], [()]) for s in (-1, 16, 71)),
    ("revs-under-ceiling", begin("raise", asked_with=True), [()], []),
    ("revs-under-ceiling", begin("raise", asked_with=False), [], [()]),
    (
        "road-ready",
        begin("road_test"),
        [("ready", "licensed", "stopped")],
        [("", "licensed", "stopped"), ("ready", "", "stopped"), ("ready", "licensed", "idling")],
    ),
    ("road-dry", begin("road_test"), [(wet(0),)], [(wet(1),)]),
    (
        "ignition-not-in-soak",
        begin("ignition_on"),
        [("no", wet(1), ""), ("yes", wet(0), ""), ("yes", wet(1), "due")],
        [("yes", wet(1), ""), ("", wet(1), "soaking")],
    ),
    (
        "hands-still",
        begin("hands_in"),
        [("stopped", "boxed", "disabled")],
        [("stopped", "off", "disabled"), ("idling", "boxed", "disabled"),
         ("stopped", "boxed", "enabled"), ("stopped", "boxed", "")],
    ),
    (
        "refit-idle",
        begin("hands_at_hose"),
        [("idling", "other", "clear", "coupled"), ("idling", "other", "clear", "away")],
        [("idling", "other", "clear", "open"), ("raised", "other", "clear", "away"),
         ("idling", "self", "clear", "away"), ("idling", "other", "", "away")],
    ),
    (
        "refit-hands",
        begin("put_hose_on"),
        [("stopped", "in", "boxed", "disabled"), ("idling", "at_hose", "on", "enabled")],
        [("stopped", "in", "on", "disabled"), ("stopped", "at_hose", "boxed", "disabled"),
         ("idling", "in", "boxed", "disabled"), ("raised", "at_hose", "on", "enabled"),
         ("idling", "clear", "on", "enabled"), ("stopped", "in", "boxed", "enabled"),
         ("stopped", "in", "boxed", "")],
    ),
    (
        "reset-secured",
        begin("reset", asked_with="unattended"),
        [("idling", "yes"), ("stopped", "part"), ("stopped", "")],
        [("idling", "part"), ("raised", ""), ("", "")],
    ),
    (
        "reset-fumes",
        begin("reset", asked_with="unattended"),
        [("idling", "extraction"), ("raised", "outdoors"), ("stopped", "nothing")],
        [("idling", "nothing"), ("idling", "door_open"), ("", ""), ("road", "")],
    ),
    (
        "reset-hands",
        begin("reset", asked_with="unattended"),
        [("idling", "clear"), ("stopped", "in")],
        [("idling", "in"), ("idling", "at_hose"), ("", "")],
    ),
    (
        "reset-controls",
        begin("reset", asked_with="unattended"),
        [("idling", ("pair", "other"), "coupled"), ("idling", ("pair", "self"), "away"),
         ("idling", ("alone_adult", "self"), "coupled"), ("stopped", ("", "nobody"), "")],
        [("idling", ("pair", "nobody"), "away"), ("idling", ("pair", "self"), "coupled"),
         ("", ("", ""), "away")],
    ),
    ("reset-controls", begin("reset", asked_with="spill"), [("idling", ("", ""), "")], []),
    (
        "after-is-dry",
        begin("read_after"),
        [(("done", "idling"), "yes"), (("running", "idling"), "no")],
        [(("running", "idling"), "yes"), (("", ""), "")],
    ),
    (
        "hand-over-signed",
        begin("hand_over"),
        [("pair", "other"), ("alone_adult", "same"), ("alone_junior", "same"), ("", "other")],
        [("pair", "same"), ("alone_adult", ""), ("", "same")],
    ),
    ("hand-over-dry", begin("hand_over"), [(wet(0),)], [(wet(1),)]),
]  # fmt: skip
ACTS = {
    "start-with-fluid": "start",
    "start-soaked": "start",
    "try-before-fluid": "try_start",
    "stop-stays-startable": "stop_engine",
    "drying-runs": "run_on",
    "reset-without-fluid": "reset",
    "start-checked": "start",
    "abandon-tagged": "abandon",
    "abandon-gun-away": "abandon",
    "spray-off-ledger": "spray_off",
    "spray-off-short": "spray_off",
    "spray-running-ledger": "spray_running",
    "spray-not-burning": "spray_off spray_running",
    "hose-cool": "take_hose_off",
    "off-dose-by-two": "spray_off",
    "reset-recovered": "reset",
    "spray-off-still": "spray_off",
    "spray-running-idle": "spray_running",
    "spray-coupled": "spray_off spray_running",
    "fluid-checked": "spray_off spray_running",
    "start-port-shut": "start",
    "run-attended": "start raise spray_running run_on",
    "revs-line-clear": "raise road_test",
    "line-clear": "put_hose_on read_after",
    "revs-under-ceiling": "raise",
    "revs-from-idle": "raise",
    "road-ready": "road_test",
    "road-dry": "road_test",
    "ignition-not-in-soak": "ignition_on",
    "hands-still": "hands_in take_hose_off couple_gun hand_turn",
    "refit-idle": "hands_at_hose",
    "refit-hands": "uncouple_gun clear_line put_hose_on",
    "after-is-dry": "read_after",
    "hand-over-signed": "hand_over",
    "hand-over-dry": "hand_over",
    "reset-not-terminal": "reset",
    "reset-secured": "reset",
    "reset-fumes": "reset",
    "reset-hands": "reset",
    "reset-controls": "reset",
}


@each(("name", "event", "good", "bad"), CASES)
def test_a_monitor_of_several_facts_is_met_by_these_and_broken_by_those(
    name: str, event: PlantEvent, good: list[Any], bad: list[Any]
) -> None:
    monitor = MONITORS[name]
    assert [now for now in good if not monitor.met(now, event)] == []
    assert [now for now in bad if monitor.met(now, event)] == []


LAPSING = ("fluid-check-", "start-check-", "release-check-")
"""What a check was signed upon: ``test_check_monitors``."""


def test_every_monitor_watches_the_acts_that_are_listed() -> None:
    assert {name: set(acts.split()) for name, acts in ACTS.items()} == {
        name: monitor.acts
        for name, monitor in MONITORS.items()
        if name not in ONE_FACT and not name.startswith(("latched-", *LAPSING))
    }
    assert {case[0] for case in CASES} | {"reset-not-terminal"} == set(ACTS)


@pytest.mark.parametrize("trip", sorted({*TRIPS, *ABOUT_FLUID, "unattended"}))
def test_a_trip_has_a_reset_or_none_and_is_about_fluid_or_not(trip: str) -> None:
    event = begin("reset", asked_with=trip)
    assert MONITORS["reset-not-terminal"].met((), event) == (trip not in NO_RESET)
    wet_and_running = (wet(1), "", "", "idling")
    assert MONITORS["reset-without-fluid"].met(wet_and_running, event) == (trip not in ABOUT_FLUID)


@pytest.mark.parametrize("trip", TRIPS)
def test_what_latches_a_trip_stands_in_the_way_of_every_act_but_making_safe(trip: str) -> None:
    monitor = MONITORS[f"latched-{trip}"]
    assert monitor.acts == MONITORS["latched-stalled"].acts
    assert monitor.acts == {
        *("ignition_on", "try_start", "start", "raise", "couple_gun", "fill_gun", "spray_off"),
        *("spray_running", "read_zero", "read_before", "read_after", "clear_codes", "road_test"),
        "hand_over",
    }
    for other, what in TRIPS.items():
        said = told(monitor, ("did", what, 0), begin("start"))
        assert (said is not None) == (other == trip), what
