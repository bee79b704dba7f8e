"""Samples, link and what was said, in order, to facts, trips and alarms. Pure.

``feed(witness, item)`` gives the next witness and what has happened. Time is in the items; it
passes on a fixed grid, so that the same items in the same order give the same happenings,
whether they come from an adapter now or from a kept log later. No floats leave.
"""

from dataclasses import replace
from types import MappingProxyType
from typing import Final

from . import rules
from .link import Cause, LinkState
from .samples import Happening, Input, Kind, LinkChange, Said, Sample
from .speed_rules import (
    arm,
    channel_bad,
    forget_speed,
    run_time_against_zero,
    take_speed,
)
from .witness import (
    RUNNING_SAID,
    SPEED,
    Track,
    Witness,
    age_limit_ms,
    milli_of,
    new_fact,
    once,
    over,
)

INLETS: Final = ("filter_in_degc", "exhaust_11_degc", "exhaust_12_degc")
"""Temperatures before the filter; the highest counts."""


FACTS_OF: Final = (("burning", "burning"), ("charging", "module_v"), ("moving", "road_km_h"))
"""Facts that rest on one channel, and are unknown once its value is too old."""


class OutOfOrder(ValueError):  # noqa: N818 - it names the thing refused
    """An item that is older than one before it: the log is not in order."""


def feed(witness: Witness, item: Input) -> tuple[Witness, list[Happening]]:
    """The witness after ``item``, and what has happened. Raises OutOfOrder."""
    if item.at_ms < witness.now_ms:
        raise OutOfOrder(f"{item.at_ms} ms after {witness.now_ms} ms")
    told: list[Happening] = []
    due = (witness.now_ms // rules.GRID_MS + 1) * rules.GRID_MS
    while due <= item.at_ms:
        witness, more = _pass_time(replace(witness, now_ms=due))
        told += more
        due += rules.GRID_MS
    witness = replace(witness, now_ms=item.at_ms)
    if isinstance(item, Sample):
        witness, more = _sample(witness, item)
    elif isinstance(item, LinkChange):
        witness, more = _link(witness, item)
    elif isinstance(item, Said):
        witness, more = _said(witness, item)
    else:
        more = []
    return witness, told + more


def _pass_time(witness: Witness) -> tuple[Witness, list[Happening]]:
    """One step of the grid: what has grown too old says nothing any more."""
    told: list[Happening] = []
    speed = witness.tracks.get(SPEED)
    known = witness.engine != "unknown" or bool(witness.speeds)
    if speed and known and witness.now_ms - speed.at_ms > age_limit_ms(witness, SPEED):
        witness, more = forget_speed(witness)
        told += more
        if _sprays_running(witness.said):
            witness, more = once(witness, "link_lost", Kind.ALARM, from_ms=speed.at_ms)
            told += more
    for fact, channel in FACTS_OF:
        track = witness.tracks.get(channel)
        if track and witness.now_ms - track.at_ms > age_limit_ms(witness, channel):
            witness, more = new_fact(witness, fact, "unknown")
            witness = replace(witness, clear_from_ms=None) if fact == "burning" else witness
            told += more
    return witness, told


def _sprays_running(said: Said) -> bool:
    """The gun is open at a running engine: then somebody may rely on the link. With the engine
    off the key is boxed and nothing is asked."""
    return said.gun_open and said.engine in RUNNING_SAID


def _said(witness: Witness, said: Said) -> tuple[Witness, list[Happening]]:
    before = witness.said
    stopped_ms = witness.said_stopped_ms
    if said.engine != before.engine:
        stopped_ms = said.at_ms if said.engine == "stopped" else None
    newly_runs = said.engine in RUNNING_SAID and before.engine not in RUNNING_SAID
    running_ms = said.at_ms if newly_runs else witness.said_running_ms
    explained = witness.explained or newly_runs
    if said.engine == "stopped" and before.engine != "stopped":
        explained = False
    witness = replace(
        witness,
        said=said,
        said_stopped_ms=stopped_ms,
        said_running_ms=running_ms,
        explained=explained,
    )
    told: list[Happening] = []
    if SPEED in said.set_aside - before.set_aside:
        witness, told = forget_speed(witness)
    if _sprays_running(said) and not _sprays_running(before):
        witness, more = arm(witness, said.at_ms)
        told += more
    elif _sprays_running(before) and not _sprays_running(said):
        witness = over(replace(witness, sag="off", lows=()), "sag", "link_lost")
    return witness, told


def _link(witness: Witness, change: LinkChange) -> tuple[Witness, list[Happening]]:
    witness = replace(witness, link=change.state, cause=change.cause)
    if change.state is LinkState.AWAKE:
        return over(witness, "link_lost"), []
    told: list[Happening] = []
    witness, told = forget_speed(witness)
    for fact in ("burning", "charging", "moving", "codes_cleared"):
        witness, more = new_fact(witness, fact, "unknown")
        told += more
    witness = replace(witness, clear_from_ms=None, charging_from_ms=None, battery_from_ms=None)
    if _sprays_running(witness.said) and change.cause is not Cause.NOT_ASKED:
        witness, more = once(
            witness, "link_lost", Kind.ALARM, ("cause", change.cause.value), from_ms=change.at_ms
        )
        told += more
    return witness, told


def _sample(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    told: list[Happening] = []
    if not sample.good:
        return channel_bad(_tracked(witness, sample), "out_of_range", sample.channel)
    witness = over(_tracked(witness, sample), f"out_of_range:{sample.channel}")
    if sample.channel in witness.said.set_aside:
        return witness, []
    if sample.channel == SPEED:
        return take_speed(witness, sample)
    if sample.channel in rules.FROZEN_CHANNELS:
        witness, told = _frozen(witness, sample)
        if told or witness.has(f"frozen:{sample.channel}"):
            return witness, told
    if sample.channel == "burning":
        return _burning(witness, sample)
    if sample.channel == "module_v":
        return _voltage(witness, sample)
    if sample.channel == "road_km_h":
        return _road(witness, sample)
    if sample.channel == "run_time_s":
        return run_time_against_zero(witness, sample.milli)
    if sample.channel in ("cleared_km", "warm_ups", "cleared_min", "code_count"):
        return _cleared(witness)
    return witness, told


def _tracked(witness: Witness, sample: Sample) -> Witness:
    before = witness.tracks.get(sample.channel)
    if before is None:
        track = Track(sample.at_ms, sample.milli, sample.good, sample.at_ms)
    elif before.milli == sample.milli:
        track = replace(before, at_ms=sample.at_ms, good=sample.good)
    else:
        intervals = before.intervals
        if before.before_ms is not None:
            took = sample.at_ms - before.changed_ms
            if took:  # rows that a logger writes at once tell nothing of its refresh
                intervals = (*intervals, took)[-rules.REFRESH_KEPT :]
        track = Track(
            sample.at_ms, sample.milli, sample.good, sample.at_ms, intervals, before.changed_ms
        )
    return replace(witness, tracks=MappingProxyType({**witness.tracks, sample.channel: track}))


def _frozen(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    """A value that stays though the engine's speed has moved, some time ago."""
    still_ms = sample.at_ms - witness.tracks[sample.channel].changed_ms
    if still_ms < rules.FROZEN_MS:
        return over(witness, f"frozen:{sample.channel}"), []
    moved_by = sample.at_ms - rules.FROZEN_AFTER_MS
    speeds = [milli for at, milli in witness.speeds if at <= moved_by]
    if not speeds or max(speeds) - min(speeds) <= rules.FROZEN_SPEED_MOVES:
        return witness, []
    return channel_bad(witness, "frozen", sample.channel)


def _burning(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    if sample.milli:
        told: list[Happening] = []
        witness, more = once(witness, "regenerating", Kind.TRIP, from_ms=sample.at_ms)
        told += more
        witness, more = new_fact(replace(witness, clear_from_ms=None), "burning", "yes")
        return witness, told + more
    clear = witness.clear_from_ms if witness.clear_from_ms is not None else sample.at_ms
    witness = replace(over(witness, "regenerating"), clear_from_ms=clear)
    limit_degc = witness.said.burn_limit_degc
    inlets = [milli_of(witness, channel, sample.at_ms) for channel in INLETS]
    hottest = max((milli for milli in inlets if milli is not None), default=None)
    hot = limit_degc is not None and hottest is not None and hottest >= limit_degc * 1000
    if sample.at_ms - clear >= rules.BURNING_NO_MS and not hot:
        return new_fact(witness, "burning", "no")
    return new_fact(witness, "burning", "unknown")


def _voltage(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    at, value = sample.at_ms, sample.milli
    charging = witness.charging_from_ms if value > rules.CHARGING else None
    charging = at if charging is None and value > rules.CHARGING else charging
    still = witness.engine == "stopped" and value < rules.BATTERY_LOW
    low = witness.battery_from_ms if still else None
    low = at if low is None and still else low
    witness = replace(witness, charging_from_ms=charging, battery_from_ms=low)
    if charging is None:
        witness, told = new_fact(witness, "charging", "no")
    elif at - charging >= rules.CHARGING_MS:
        witness, told = new_fact(witness, "charging", "yes")
    else:
        told = []
    if low is None:
        return over(witness, "battery_low"), told
    if at - low >= rules.BATTERY_LOW_MS:
        witness, more = once(witness, "battery_low", Kind.ALARM, ("module_mv", value), from_ms=low)
        told += more
    return witness, told


def _road(witness: Witness, sample: Sample) -> tuple[Witness, list[Happening]]:
    said = witness.said
    if said.engine == "road" or "road_test" in said.permits:
        return new_fact(replace(over(witness, "moving"), moving_count=0), "moving", "unknown")
    if not sample.milli:
        return new_fact(replace(over(witness, "moving"), moving_count=0), "moving", "no")
    witness = replace(witness, moving_count=witness.moving_count + 1)
    if witness.moving_count < 2:
        return witness, []
    witness, told = new_fact(witness, "moving", "yes")
    speed = ("road_km_h", sample.milli // 1000)
    witness, more = once(witness, "moving", Kind.ALARM, speed, from_ms=sample.at_ms)
    return witness, told + more


def _cleared(witness: Witness) -> tuple[Witness, list[Happening]]:
    """Distance, warm-ups, time and count all at zero: the codes were cleared just now."""
    channels = ("cleared_km", "warm_ups", "cleared_min", "code_count")
    values = [milli_of(witness, channel, witness.now_ms) for channel in channels]
    if any(value is None for value in values):
        return witness, []
    return new_fact(witness, "codes_cleared", "no" if any(values) else "yes")
