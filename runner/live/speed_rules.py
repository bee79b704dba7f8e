"""What a sample of the engine speed means. The numbers stand in ``rules``."""

from dataclasses import replace
from typing import Final

from . import rules
from .link import LinkState
from .samples import Happening, Kind, Sample
from .witness import (
    RUNNING_SAID,
    SPEED,
    Track,
    Witness,
    milli_of,
    new_fact,
    once,
    over,
    rpm,
    tell,
)

START_SAID_MS: Final = 1500
"""So long after "it stands still", or "it runs", was said a speed may still be from before (design
choice)."""


def take_speed(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    """A good sample of the engine speed, not set aside."""
    told: list[Happening] = []
    witness, frozen = _frozen(witness, sample)
    told += frozen
    if witness.has(f"frozen:{SPEED}"):
        return witness, told
    if sample.milli and witness.has(f"dead:{SPEED}"):
        witness = over(witness, f"dead:{SPEED}")
    if witness.has(f"dead:{SPEED}"):
        return witness, told
    kept = sample.at_ms - rules.SAG_IDLE_MS
    earlier = tuple(pair for pair in witness.speeds if pair[0] >= kept)
    for rule in (_engine, _over_ceiling, _climbing, _band, _sag):
        witness, more = rule(witness, sample)
        told += more
    return replace(witness, speeds=(*earlier, (sample.at_ms, sample.milli))), told


def forget_speed(witness: Witness) -> tuple[Witness, list[Happening]]:
    """The speed says nothing any more: engine and band are unknown, never stopped."""
    witness, told = new_fact(witness, "engine", "unknown")
    witness, more = new_fact(witness, "band", "unknown")
    cleared = replace(
        witness,
        speeds=(),
        zero_from_ms=None,
        zero_run_time=None,
        high_from_ms=None,
        over_count=0,
        climb_count=0,
        band_next="unknown",
        lows=(),
    )
    return cleared, told + more


def run_time_against_zero(witness: Witness, milli: int) -> tuple[Witness, list[Happening]]:
    """Run time that counts on while the speed says zero: the speed is dead."""
    if witness.zero_from_ms is None:
        return witness, []
    if witness.zero_run_time is None:
        return replace(witness, zero_run_time=milli), []
    if milli - witness.zero_run_time < rules.DEAD_RUN_TIME:
        return witness, []
    return channel_bad(witness, "dead", SPEED)


def channel_bad(witness: Witness, how: str, channel: str) -> tuple[Witness, list[Happening]]:
    """A channel is not to be used; told once."""
    name = f"{how}:{channel}"
    if name in witness.active:
        return witness, []
    told = [tell(witness, Kind.CHANNEL, how, ("channel", channel))]
    witness = replace(witness, active=witness.active | {name})
    if channel == SPEED:
        witness, more = forget_speed(witness)
        told += more
    return witness, told


def _frozen(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    """A running engine whose speed stays the same to the last bit."""
    track: Track = witness.tracks[SPEED]
    still = sample.milli != 0 and sample.at_ms - track.changed_ms >= rules.FROZEN_SPEED_MS
    if still:
        return channel_bad(witness, "frozen", SPEED)
    return over(witness, f"frozen:{SPEED}"), []


def _engine(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    at, value = sample.at_ms, sample.milli
    said = witness.said
    was = witness.engine
    told: list[Happening] = []
    if value >= rules.RUNS:
        witness, told = _runs(witness, sample)
        high = witness.high_from_ms if witness.high_from_ms is not None else at
        witness = replace(witness, high_from_ms=high, zero_from_ms=None, zero_run_time=None)
        proven = was == "running" or at - high >= rules.RUNS_APART_MS
        state = "running" if proven else "turning"
    else:
        zero = None if value else witness.zero_from_ms
        zero = at if zero is None and not value else zero
        run_time = None if value else witness.zero_run_time
        witness = replace(witness, high_from_ms=None, zero_from_ms=zero, zero_run_time=run_time)
        stands = zero is not None and at - zero >= rules.STOPPED_MS
        if was == "running" and value >= rules.NO_LONGER_RUNS:
            state = "running"
        elif stands:
            state = "stopped"
        elif value or was in ("running", "turning"):
            state = "turning"
        else:
            state = was
        if value and was == "stopped" and not said.permits & {"start", "hand_turn"}:
            witness, told = once(
                witness, "turning", Kind.ALARM, (SPEED, rpm(value)), from_ms=sample.at_ms
            )
        if value < rules.NO_LONGER_RUNS:
            witness, more = _stopped_by_itself(witness, sample, was, stands)
            told += more
    witness, more = new_fact(witness, "engine", state)
    return witness, told + more


def _runs(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    """It runs. Without a permit to start, and with nobody having said so: by itself."""
    said = witness.said
    witness = over(witness, "stalled", "turning")
    if "start" in said.permits:
        return replace(witness, explained=True), []
    seen_still = witness.engine == "stopped"
    said_still = (
        said.engine == "stopped"
        and witness.said_stopped_ms is not None
        and sample.at_ms - witness.said_stopped_ms >= START_SAID_MS
    )
    if witness.explained or not (seen_still or said_still):
        return witness, []
    return once(
        witness, "self_started", Kind.TRIP, (SPEED, rpm(sample.milli)), from_ms=sample.at_ms
    )


def _stopped_by_itself(
    witness: Witness, sample: Sample, was: str, stands: bool
) -> tuple[Witness, list[Happening]]:
    said = witness.said
    fell = was == "running"
    against = _stands_though_said_to_run(witness, sample.at_ms) if stands else False
    witness = over(witness, "self_started")
    explained = "stop_engine" in said.permits or said.engine == "stopped"
    if fell or against:
        witness = replace(witness, explained=False)
    if not (fell or against) or explained:
        return witness, []
    last = witness.speeds[-1][0] if witness.speeds else sample.at_ms
    return once(witness, "stalled", Kind.TRIP, (SPEED, rpm(sample.milli)), from_ms=last)


def _stands_though_said_to_run(witness: Witness, at_ms: int) -> bool:
    """Whether a standstill contradicts what was said, and not only a moment ago: a zero may still
    be on its way from before the start."""
    since = witness.said_running_ms
    running = witness.said.engine in RUNNING_SAID
    just_said = since is not None and at_ms - since < START_SAID_MS
    return running and not just_said and not _may_be_dead(witness, at_ms)


def _may_be_dead(witness: Witness, at_ms: int) -> bool:
    """Whether the run time has still to tell a dead speed of zero from a standstill: it counted a
    moment ago, or it was said a moment ago that the engine runs. Without one, or when it stays, a
    zero is a standstill."""
    if witness.zero_from_ms is None or milli_of(witness, "run_time_s", at_ms) is None:
        return False
    since = max(witness.zero_from_ms, witness.said_running_ms or 0)
    track = witness.tracks["run_time_s"]
    counts = track.at_ms - max(track.changed_ms, since) < rules.RUN_TIME_STANDS_MS
    return counts and at_ms - since < rules.RUN_TIME_WAIT_MS


def _on_the_road(witness: Witness) -> bool:
    return witness.said.engine == "road" or "road_test" in witness.said.permits


def _over_ceiling(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    limit_rpm = witness.said.ceiling_rpm
    if limit_rpm is None or _on_the_road(witness):
        return replace(witness, over_count=0), []
    limit = limit_rpm * rules.RPM
    if sample.milli <= limit:
        return replace(over(witness, "over_ceiling"), over_count=0), []
    if sample.milli <= limit + rules.OVER_TWICE:
        return replace(witness, over_count=0), []
    from_ms = witness.over_from_ms if witness.over_count else sample.at_ms
    count = witness.over_count + 1
    witness = replace(witness, over_count=count, over_from_ms=from_ms)
    if count < 2 and sample.milli <= limit + rules.OVER_ONCE:
        return witness, []
    return once(
        witness,
        "over_ceiling",
        Kind.TRIP,
        (SPEED, rpm(sample.milli)),
        ("ceiling_rpm", limit_rpm),
        from_ms=from_ms,
    )


def _climbing(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    said = witness.said
    permitted = bool(said.permits & {"raise", "start"}) or said.engine == "raised"
    if permitted or _on_the_road(witness) or witness.engine != "running":
        return replace(over(witness, "climbing"), climb_count=0), []
    since = sample.at_ms - rules.CLIMB_MS
    recent = [milli for at, milli in witness.speeds if at >= since]
    pedal = milli_of(witness, "pedal_percent", sample.at_ms)
    idle = (said.idle_rpm or 0) * rules.RPM
    climbs = (
        bool(recent)
        and sample.milli - min(recent) > rules.CLIMB
        and sample.milli > idle + rules.CLIMB
        and (pedal is None or pedal <= rules.PEDAL_AT_REST)
    )
    if not climbs:
        return replace(witness, climb_count=0), []
    witness = replace(witness, climb_count=witness.climb_count + 1)
    if witness.climb_count < 2:
        return witness, []
    return once(witness, "climbing", Kind.ALARM, (SPEED, rpm(sample.milli)), from_ms=since)


def _band(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    said, value = witness.said, sample.milli
    if witness.engine != "running":
        seen = "unknown"
    elif (
        said.raised_lower_rpm is not None
        and said.raised_upper_rpm is not None
        and said.raised_lower_rpm * rules.RPM <= value <= said.raised_upper_rpm * rules.RPM
    ):
        seen = "raised"
    elif said.idle_rpm is not None and value <= said.idle_rpm * rules.RPM + rules.IDLE_OVER:
        seen = "idle"
    else:
        seen = "other" if said.idle_rpm is not None else "unknown"
    if seen != witness.band_next:
        witness = replace(witness, band_next=seen, band_from_ms=sample.at_ms)
    if seen == "unknown" or sample.at_ms - witness.band_from_ms >= rules.BAND_MS:
        return new_fact(witness, "band", seen)
    return witness, []


# -- sag ------------------------------------------------------------------------------------


def arm(witness: Witness, at_ms: int) -> tuple[Witness, list[Happening]]:
    """The gun has just opened: is the vehicle fast and even enough for the sag alarm?"""
    reason = _may_arm(witness, at_ms)
    witness = replace(witness, sag=reason, lows=())
    if witness.link is LinkState.OFF and witness.cause.value == "not_asked":
        return witness, []
    refresh = witness.tracks[SPEED].refresh_ms if SPEED in witness.tracks else None
    what = "sag_armed" if reason == "armed" else "sag_ears_only"
    numbers: list[tuple[str, str | int]] = [("reason", reason)]
    if refresh is not None:
        numbers.append(("refresh_ms", refresh))
    told = [tell(witness, Kind.ALARM, what, *numbers)]
    if reason == "no_speed":
        witness, more = once(witness, "link_lost", Kind.ALARM, from_ms=at_ms)
        told += more
    return witness, told


def _may_arm(witness: Witness, at_ms: int) -> str:
    if milli_of(witness, SPEED, at_ms) is None or witness.link is not LinkState.AWAKE:
        return "no_speed"
    refresh = witness.tracks[SPEED].refresh_ms
    if refresh is None:
        return "refresh_unknown"
    if refresh > rules.SAG_REFRESH_MS:
        return "too_slow"
    values = [milli for at, milli in witness.speeds if at >= at_ms - rules.SAG_IDLE_MS]
    span = witness.speeds[-1][0] - witness.speeds[0][0] if witness.speeds else 0
    if witness.engine != "running" or span < rules.SAG_MEDIAN_MS:
        return "refresh_unknown"
    count, total = len(values), sum(values)
    spread = count * sum(value * value for value in values) - total * total
    return "idle_uneven" if spread > (rules.SAG_IDLE_SD * count) ** 2 else "armed"


def _sag(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    if not witness.said.gun_open or witness.sag != "armed":
        return witness, []
    since = sample.at_ms - rules.SAG_MEDIAN_MS
    recent = sorted(milli for at, milli in witness.speeds if at >= since)
    if len(recent) < 10:
        return witness, []
    middle = recent[len(recent) // 2]
    share = 100 * sample.milli
    if share > rules.SAG_OVER_PERCENT * middle:
        witness = over(witness, "sag")
    lows = (*witness.lows[-2:], share < rules.SAG_TWICE_PERCENT * middle)
    witness = replace(witness, lows=lows)
    if sum(lows) < 2 and share >= rules.SAG_ONCE_PERCENT * middle:
        return witness, []
    return once(
        witness,
        "sag",
        Kind.ALARM,
        (SPEED, rpm(sample.milli)),
        ("median_rpm", rpm(middle)),
        from_ms=since,
    )
