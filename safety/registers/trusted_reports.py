"""Trusted reports: those on which safety relies alone; pinned, and printed with the hazards.

For each observer: the single false reports that make the tool believe of its facts what is not
true. ``tests/safety/false_reports.py`` finds them, a test compares. What is not listed takes two
false reports, or none suffices.
"""

import re

from ..bay import state_of
from ..catalogue import _
from ..occurrences import happening_of

_TABLE = """
wet
  look: arrival dry, engine idling, engine raised
  report: drained, lowered, over_ceiling, raised, run_on_begun, self_started, started,
    tried_nothing
  silence: lowered, over_ceiling, overdosed, ran_away, stalled, stopped
  volume: spray_ended, spray_none
hand_turn
  report: cranked_no_fire, tried_nothing, turn_seen
  silence: looked_wet, overdosed, ran_away, self_started, stalled, stopped
inspection
  report: cylinders_opened, looked_dry, looked_wet, tried_nothing
  silence: cylinders_opened, looked_dry, looked_wet, overdosed, ran_away, self_started, stalled,
    stopped
soak
  report: cranked_no_fire, tried_nothing
  silence: overdosed, ran_away, self_started, stalled, stopped
engine
  look: engine idling, engine raised, engine stopped
  report: cranked_no_fire, cranked_uneven, lowered, over_ceiling, raised, road_ended,
    self_started, stalled, started, stopped, tried_nothing, tried_turned
  silence: lowered, over_ceiling, ran_away, self_started, stalled, stopped
  volume: spray_ended, spray_none
gun
  look: gun away, gun coupled
  report: gun_coupled, gun_uncoupled
tag
  look: tag do_not_start, tag key_tagged
  report: tried_nothing
  silence: lowered, over_ceiling, ran_away, self_started
tier
  look: tier extended, tier strict
rate
  report: gun_loaded, rate_measured
  silence: overdosed
  volume: spray_ended, spray_none
port
  look: port cool, port warm
  report: tried_nothing
  silence: fire_seen, lowered, over_ceiling, ran_away, self_started, stalled, stopped
  volume: spray_ended, spray_none
sheet
  look: sheet read
kit
  look: kit heat, kit worn
  silence: person_hurt, spilled
spill
  look: spill ready
  silence: spilled
burning
  look: burning no
  report: tried_nothing
  silence: fire_seen, ran_away, self_started, stalled, stopped
  volume: spray_ended, spray_none
key
  look: key boxed
  report: cranked_no_fire, cranked_uneven, ignition_on, road_ended, self_started, stalled,
    started, stopped, tried_nothing, tried_turned
  silence: ran_away, self_started, stalled, stopped
  volume: spray_ended, spray_none
starter
  look: key boxed, starter disabled
  report: cranked_no_fire, cranked_uneven, road_ended, self_started, started, tried_nothing,
    tried_turned
  silence: self_started
start_tried
  report: overdosed, tried_nothing
  silence: self_started
bar
  look: bar off
  report: turned_even, turned_hard
idle
  look: idle steady
  report: tried_nothing
  silence: lowered, over_ceiling, ran_away, self_started, stalled, stopped
  volume: spray_ended, spray_none
hose
  look: hose off, hose on
  report: hose_off, hose_on
  silence: stub_snapped
agreed
  look: agreed clean
triage
  look: triage go, triage warn
identity
  look: identity match
oil
  look: oil low, oil ok
  silence: overdosed
  volume: spray_ended, spray_none
fuel
  look: fuel diesel
coating
  look: coating approved, coating nobody_knows, coating none
foul
  look: foul no
before
  report: before_good, before_partial
identity + fluid_check
  look: fluid_check other, fluid_check same, identity match
agreed + fluid_check
  look: agreed clean, fluid_check other, fluid_check same
triage + fluid_check
  look: fluid_check other, fluid_check same, triage go, triage warn
sheet + fluid_check
  look: fluid_check other, fluid_check same, sheet read
tier + fluid_check
  look: fluid_check other, fluid_check same, tier extended, tier strict
engine + start_check
  look: engine idling, engine raised, engine stopped, start_check other, start_check same
  report: cranked_no_fire, cranked_uneven, lowered, over_ceiling, raised, road_ended,
    self_started, stalled, started, stopped, tried_nothing, tried_turned, turned_even
  silence: lowered, over_ceiling, overdosed, ran_away, self_started, stalled, stopped
  volume: spray_ended, spray_none
soak + start_check
  look: start_check other, start_check same
  report: cranked_no_fire, tried_nothing, turned_even
  silence: overdosed, ran_away, self_started, stalled, stopped
hose + start_check
  look: hose off, hose on, start_check other, start_check same
  report: hose_off, hose_on, tried_nothing, turned_even
  silence: overdosed, ran_away, self_started, stalled, stopped, stub_snapped
gun + start_check
  look: gun away, gun coupled, start_check other, start_check same
  report: gun_coupled, gun_uncoupled, tried_nothing, turned_even
  silence: overdosed, ran_away, self_started, stalled, stopped
hose + release_check
  look: hose off, hose on, release_check other, release_check same
  report: hose_off, hose_on, tried_nothing
  silence: line_still_wet, lowered, over_ceiling, overdosed, ran_away, self_started, spilled,
    stub_snapped
gun + release_check
  look: gun away, gun coupled, release_check other, release_check same
  report: fire_seen, fume_alarm, gun_coupled, gun_uncoupled, person_hurt, ran_away, spilled,
    tried_nothing
  silence: line_still_wet, lowered, over_ceiling, overdosed, ran_away, self_started, spilled,
    stub_snapped
engine + release_check
  look: engine idling, engine raised, engine stopped, release_check other, release_check same
  report: cranked_no_fire, cranked_uneven, lowered, over_ceiling, raised, road_ended,
    self_started, stalled, started, stopped, tried_nothing, tried_turned
  silence: line_still_wet, lowered, over_ceiling, overdosed, ran_away, self_started, spilled,
    stalled, stopped, stub_snapped
  volume: spray_ended, spray_none
codes + release_check
  look: codes cleared, codes read_again, codes saved, release_check other, release_check same
  report: codes_cleared, tried_nothing
  silence: line_still_wet, lowered, over_ceiling, overdosed, ran_away, self_started, spilled,
    stub_snapped
crew
  look: crew alone_adult, crew alone_junior, crew pair
crew + fluid_check
  look: crew alone_adult, crew alone_junior, crew pair, fluid_check other, fluid_check same
secured
  look: road ready, secured yes
fumes
  look: fumes extraction, fumes outdoors, road ready
  silence: fume_alarm
crew + controls
  look: controls other, controls self, crew alone_adult, crew alone_junior, crew pair
  silence: person_hurt, ran_away
line
  look: line clear
  report: hose_on, line_cleared, line_still_wet
  silence: line_still_wet, overdosed, stub_snapped
  volume: spray_none
fluid_in
  silence: overdosed
road
  look: road ready
  silence: line_still_wet, stub_snapped
driver
  look: driver licensed
hands
  look: hands at_hose, hands clear, hands in
  report: hands_at_hose, hands_in, road_ended
  silence: person_hurt
controls
  look: controls other, controls self
  silence: person_hurt, ran_away
reach
  look: reach clear
run_on
  look: engine idling, engine raised
  report: lowered, over_ceiling, raised, run_on_begun, self_started, started, tried_nothing
  silence: lowered, over_ceiling, overdosed, ran_away, stalled, stopped
  volume: spray_ended, spray_none
sensor
  look: sensor proven
  report: hose_off, hose_on
  silence: stub_snapped
codes
  look: codes cleared, codes read_again, codes saved
  report: codes_cleared
after
  report: after_good, after_partial
  silence: overdosed
release_check
  look: release_check other, release_check same
  report: tried_nothing
  silence: line_still_wet, lowered, over_ceiling, overdosed, ran_away, self_started, spilled,
    stub_snapped
recovery
  report: hose_off, hose_on, recovered, recovered_alone, tried_nothing, turned_even
  silence: fire_seen, fume_alarm, looked_wet, over_ceiling, overdosed, person_hurt, ran_away,
    self_started, spilled, stalled, stopped, stub_snapped
trip stalled
  volume: spray_ended, spray_none
trip fire
  report: fire_seen
  silence: fire_seen
trip fumes
  silence: fume_alarm
trip injury
  silence: person_hurt
trip runaway
  silence: ran_away
trip hard_turn
  report: turned_even
trip uneven_crank
  report: cranked_no_fire, started
trip self_started
  silence: self_started
trip over_ceiling
  silence: over_ceiling
trip spill
  silence: spilled
trip stub
  report: hose_off, hose_on
  silence: stub_snapped
touch
  look: touch bare, touch gloved
  report: tried_nothing
  silence: fire_seen, lowered, over_ceiling, ran_away, self_started, stalled, stopped
  volume: spray_ended, spray_none
crew + start_check
  look: crew alone_adult, crew alone_junior, crew pair, start_check other, start_check same
  report: tried_nothing, turned_even
  silence: overdosed, ran_away, self_started, stalled, stopped
lift
  look: lift held, lift wheels
  report: road_ended
flash
  look: flash none
low_loop
  look: low_loop held_shut, low_loop none
trigger
  look: trigger springs
stop_start
  look: stop_start off
  report: tried_nothing
  silence: ran_away, self_started, stalled, stopped
  volume: spray_ended, spray_none
"""
"""An observer, and under it by kind the lies each of which alone falsifies it."""


def _read(table: str) -> dict[str, tuple[str, ...]]:
    rows: dict[str, tuple[str, ...]] = {}
    for block in re.split(r"\n(?! )", table.strip()):
        observer, *kinds = re.split(r"\n  (?! )", block)
        told = (kind.partition(": ") for kind in kinds)
        rows[observer] = tuple(f"{k}: {name}" for k, _, names in told for name in _names(names))
    return rows


def _names(names: str) -> list[str]:
    return " ".join(names.split()).split(", ")


TRUSTED_REPORTS: dict[str, tuple[str, ...]] = _read(_TABLE)
"""Observer -> the lies each of which alone falsifies it. The ledger is ``wet``."""


def spoken_lie(false_report: str) -> str:
    """The false answer in words: what is said though it is not so, or left unsaid.

    Raises:
        ValueError: there is no such lie.
    """
    kind, _other, name = false_report.partition(": ")
    match kind:
        case "look":
            fact, _other, state = name.partition(" ")
            return _("it is said: '{said}'", said=state_of(fact, state).said)
        case "report":
            return _("it is reported: '{said}'", said=happening_of(name).said)
        case "silence":
            return _("nobody says: '{said}'", said=happening_of(name).said)
        case "volume":
            return _("too little is reported with '{said}'", said=happening_of(name).said)
    raise ValueError(_("there is no lie {false_report!r}", false_report=false_report))


CAUGHT_BY_A_LINK: dict[str, tuple[str, ...]] = {
    "engine": (
        "look: engine stopped",
        "silence: lowered",
        "silence: self_started",
        "silence: stalled",
    ),
}
"""Of these: what a true link to the vehicle contradicts or trips, by the search in
``tests/safety/witness_model.py``. Searched for the engine alone; what
rests on other facts was not searched with a link."""


def honesty_rows() -> list[dict[str, str]]:
    """One row an observer and answer, for the hazard register."""
    return [
        {
            "what the tool knows": observer,
            "rests on one honest answer, wrong when": spoken_lie(false_report),
        }
        for observer, false_reports in TRUSTED_REPORTS.items()
        for false_report in false_reports
    ]
