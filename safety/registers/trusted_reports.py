"""Trusted reports: those on which safety relies alone; pinned, and printed with the hazards.

For each observer: the single false reports that make the tool believe of its facts what is not
true. ``verify/false_reports.py`` finds them, a test compares. What is not listed takes two false
reports, or none suffices.
"""

from ..bay import state_of
from ..occurrences import happening_of

TRUSTED_REPORTS: dict[str, tuple[str, ...]] = {
    "wet": (
        "look: arrival dry",
        "look: engine idling",
        "look: engine raised",
        "report: drained",
        "report: lowered",
        "report: over_ceiling",
        "report: raised",
        "report: run_on_begun",
        "report: self_started",
        "report: started",
        "report: tried_nothing",
        "silence: lowered",
        "silence: over_ceiling",
        "silence: overdosed",
        "silence: ran_away",
        "silence: stalled",
        "silence: stopped",
        "volume: spray_ended",
        "volume: spray_none",
    ),
    "hand_turn": (
        "report: cranked_no_fire",
        "report: tried_nothing",
        "report: turn_seen",
        "silence: looked_wet",
        "silence: overdosed",
        "silence: ran_away",
        "silence: self_started",
        "silence: stalled",
        "silence: stopped",
    ),
    "inspection": (
        "report: looked_dry",
        "report: looked_wet",
        "report: tried_nothing",
        "silence: looked_dry",
        "silence: looked_wet",
        "silence: overdosed",
        "silence: ran_away",
        "silence: self_started",
        "silence: stalled",
        "silence: stopped",
    ),
    "soak": (
        "report: cranked_no_fire",
        "report: tried_nothing",
        "silence: overdosed",
        "silence: ran_away",
        "silence: self_started",
        "silence: stalled",
        "silence: stopped",
    ),
    "engine": (
        "look: engine idling",
        "look: engine raised",
        "look: engine stopped",
        "report: cranked_no_fire",
        "report: cranked_uneven",
        "report: lowered",
        "report: over_ceiling",
        "report: raised",
        "report: road_ended",
        "report: self_started",
        "report: stalled",
        "report: started",
        "report: stopped",
        "report: tried_nothing",
        "report: tried_turned",
        "silence: lowered",
        "silence: over_ceiling",
        "silence: ran_away",
        "silence: self_started",
        "silence: stalled",
        "silence: stopped",
        "volume: spray_ended",
        "volume: spray_none",
    ),
    "gun": (
        "look: gun away",
        "look: gun coupled",
        "report: gun_coupled",
        "report: gun_uncoupled",
    ),
    "start_check": (
        "look: start_check other",
        "look: start_check same",
        "report: tried_nothing",
        "report: turned_even",
        "silence: overdosed",
        "silence: ran_away",
        "silence: self_started",
        "silence: stalled",
        "silence: stopped",
    ),
    "tag": (
        "look: tag do_not_start",
        "look: tag key_tagged",
        "report: tried_nothing",
        "silence: lowered",
        "silence: over_ceiling",
        "silence: ran_away",
        "silence: self_started",
    ),
    "tier": (
        "look: tier extended",
        "look: tier strict",
    ),
    "rate": (
        "report: gun_loaded",
        "report: rate_measured",
        "silence: overdosed",
        "volume: spray_ended",
        "volume: spray_none",
    ),
    "port": (
        "look: port cool",
        "look: port warm",
        "report: tried_nothing",
        "silence: fire_seen",
        "silence: lowered",
        "silence: over_ceiling",
        "silence: ran_away",
        "silence: self_started",
    ),
    "sheet": ("look: sheet read",),
    "kit": (
        "look: kit worn",
        "silence: person_hurt",
        "silence: spilled",
    ),
    "spill": (
        "look: spill ready",
        "silence: spilled",
    ),
    "burning": (
        "look: burning no",
        "report: tried_nothing",
        "silence: fire_seen",
        "silence: ran_away",
        "silence: self_started",
        "silence: stalled",
        "silence: stopped",
        "volume: spray_ended",
        "volume: spray_none",
    ),
    "key": (
        "look: key boxed",
        "report: cranked_no_fire",
        "report: cranked_uneven",
        "report: ignition_on",
        "report: road_ended",
        "report: self_started",
        "report: stalled",
        "report: started",
        "report: stopped",
        "report: tried_nothing",
        "report: tried_turned",
        "silence: ran_away",
        "silence: self_started",
        "silence: stalled",
        "silence: stopped",
        "volume: spray_ended",
        "volume: spray_none",
    ),
    "starter": (
        "look: key boxed",
        "look: starter disabled",
        "report: cranked_no_fire",
        "report: cranked_uneven",
        "report: road_ended",
        "report: self_started",
        "report: started",
        "report: tried_nothing",
        "report: tried_turned",
        "silence: self_started",
    ),
    "start_tried": (
        "report: overdosed",
        "report: tried_nothing",
        "silence: self_started",
    ),
    "bar": (
        "look: bar off",
        "report: turned_even",
        "report: turned_hard",
    ),
    "idle": (
        "look: idle steady",
        "report: tried_nothing",
        "silence: lowered",
        "silence: over_ceiling",
        "silence: ran_away",
        "silence: self_started",
        "silence: stalled",
        "silence: stopped",
        "volume: spray_ended",
        "volume: spray_none",
    ),
    "hose": (
        "look: hose off",
        "look: hose on",
        "report: hose_off",
        "report: hose_on",
        "silence: stub_snapped",
    ),
    "agreed": ("look: agreed clean",),
    "triage": (
        "look: triage go",
        "look: triage warn",
    ),
    "identity": ("look: identity match",),
    "oil": (
        "look: oil low",
        "look: oil ok",
        "silence: overdosed",
        "volume: spray_ended",
        "volume: spray_none",
    ),
    "fuel": ("look: fuel diesel",),
    "coating": (
        "look: coating approved",
        "look: coating nobody_knows",
        "look: coating none",
    ),
    "foul": ("look: foul no",),
    "before": (
        "report: before_good",
        "report: before_partial",
    ),
    "crew": (
        "look: crew alone_adult",
        "look: crew alone_junior",
        "look: crew pair",
    ),
    "crew + fluid_check": (
        "look: crew alone_adult",
        "look: crew alone_junior",
        "look: crew pair",
        "look: fluid_check other",
        "look: fluid_check same",
    ),
    "secured": (
        "look: road ready",
        "look: secured yes",
    ),
    "fumes": (
        "look: fumes extraction",
        "look: fumes outdoors",
        "look: road ready",
        "silence: fume_alarm",
    ),
    "crew + controls": (
        "look: controls other",
        "look: controls self",
        "look: crew alone_adult",
        "look: crew alone_junior",
        "look: crew pair",
        "silence: person_hurt",
        "silence: ran_away",
    ),
    "line": (
        "look: line clear",
        "report: hose_on",
        "report: line_cleared",
        "report: line_still_wet",
        "silence: line_still_wet",
        "silence: overdosed",
        "silence: stub_snapped",
        "volume: spray_none",
    ),
    "fluid_in": ("silence: overdosed",),
    "road": (
        "look: road ready",
        "silence: line_still_wet",
        "silence: stub_snapped",
    ),
    "driver": ("look: driver licensed",),
    "hands": (
        "look: hands at_hose",
        "look: hands clear",
        "look: hands in",
        "report: hands_at_hose",
        "report: hands_in",
        "report: road_ended",
        "silence: person_hurt",
    ),
    "controls": (
        "look: controls other",
        "look: controls self",
        "silence: person_hurt",
        "silence: ran_away",
    ),
    "reach": ("look: reach clear",),
    "run_on": (
        "look: engine idling",
        "look: engine raised",
        "report: lowered",
        "report: over_ceiling",
        "report: raised",
        "report: run_on_begun",
        "report: self_started",
        "report: started",
        "report: tried_nothing",
        "silence: lowered",
        "silence: over_ceiling",
        "silence: overdosed",
        "silence: ran_away",
        "silence: stalled",
        "silence: stopped",
        "volume: spray_ended",
        "volume: spray_none",
    ),
    "sensor": (
        "look: sensor proven",
        "report: hose_off",
        "report: hose_on",
        "silence: stub_snapped",
    ),
    "codes": (
        "look: codes cleared",
        "look: codes read_again",
        "look: codes saved",
        "report: codes_cleared",
    ),
    "after": (
        "report: after_good",
        "report: after_partial",
        "silence: overdosed",
    ),
    "release_check": (
        "look: release_check other",
        "look: release_check same",
        "report: tried_nothing",
        "silence: line_still_wet",
        "silence: lowered",
        "silence: over_ceiling",
        "silence: overdosed",
        "silence: ran_away",
        "silence: self_started",
        "silence: spilled",
        "silence: stub_snapped",
    ),
    "recovery": (
        "report: hose_off",
        "report: hose_on",
        "report: recovered",
        "report: tried_nothing",
        "report: turned_even",
        "silence: fire_seen",
        "silence: fume_alarm",
        "silence: looked_wet",
        "silence: over_ceiling",
        "silence: overdosed",
        "silence: person_hurt",
        "silence: ran_away",
        "silence: self_started",
        "silence: spilled",
        "silence: stalled",
        "silence: stopped",
        "silence: stub_snapped",
    ),
    "trip stalled": (
        "volume: spray_ended",
        "volume: spray_none",
    ),
    "trip fire": ("silence: fire_seen",),
    "trip fumes": ("silence: fume_alarm",),
    "trip injury": ("silence: person_hurt",),
    "trip runaway": ("silence: ran_away",),
    "trip hard_turn": ("report: turned_even",),
    "trip uneven_crank": (
        "report: cranked_no_fire",
        "report: started",
    ),
    "trip self_started": ("silence: self_started",),
    "trip over_ceiling": ("silence: over_ceiling",),
    "trip spill": ("silence: spilled",),
    "trip stub": (
        "report: hose_off",
        "report: hose_on",
        "silence: stub_snapped",
    ),
}
"""Observer -> the lies each of which alone falsifies it. The ledger is ``wet``."""


def spoken_lie(false_report: str) -> str:
    """The false answer in words: what is said though it is not so, or left unsaid.

    Raises:
        ValueError: there is no such lie.
    """
    kind, _, name = false_report.partition(": ")
    match kind:
        case "look":
            fact, _, state = name.partition(" ")
            return f"it is said: '{state_of(fact, state).said}'"
        case "report":
            return f"it is reported: '{happening_of(name).said}'"
        case "silence":
            return f"nobody says: '{happening_of(name).said}'"
        case "volume":
            return f"too little is reported with '{happening_of(name).said}'"
    raise ValueError(f"there is no lie {false_report!r}")


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
