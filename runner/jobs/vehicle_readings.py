"""What a job may read from its vehicle: sets that were held, the pressure and exhaust of now.

The pressure feeds nothing before it was proven: zero seen with the ignition on and the engine
stopped, and held against an own gauge, in this job. One source of pressure serves a whole job:
where an earlier set's was typed, later ones are typed too.
"""

from bisect import bisect_left
from collections.abc import Sequence
from typing import Final

from steplatch.safety.limits.inputs import VehicleInput

from ..core.commands import Note
from ..core.job import Job
from ..core.reading_set import ReadingCondition, ReadingSet
from ..input.resolution import quantised
from ..live.filling import INLETS, Filled, figure, filled
from ..live.own_identifiers import OwnRow
from ..live.proving import Difference, Proof, against_gauge, at_zero, differs
from ..live.samples import Sample
from ..live.witness import milli_of, quality
from .session import Session
from .vehicle_link import VehicleLink

RECENT_MS: Final = 90_000
"""A set is filled from what was held within this time."""
NOW_MS: Final = 10_000
LAG_K: Final = 15.0
"""The inlet sensor runs behind the gas: so much is added where hot is the worse, and taken off
where cold is (design choice)."""
GAUGE_WITHIN_PA: Final = 100
"""Uncertainty of an own gauge (workshop default)."""
LEAST_NOW: Final = 5


class VehicleReadings:
    """Reads for one job through its link."""

    def __init__(
        self,
        session: Session,
        link: VehicleLink,
        vehicle: VehicleInput,
        own: tuple[OwnRow, ...] = (),
    ) -> None:
        self.link = link
        self.own = own
        self._session = session
        self._vehicle = vehicle
        self._zero = Proof.NOT_YET
        self._proof: Proof | None = None
        self._stopped_from_ms: int | None = None
        self._kept: tuple[int, str, Filled | None] = (-1, "", None)

    @property
    def proof(self) -> Proof:
        """How far the vehicle's pressure is proven."""
        return self._proof or self._zero

    def look(self) -> None:
        """See whether the zero shows now; call it whenever time has passed."""
        witness = self.link.witness
        if witness.engine != "stopped":
            self._stopped_from_ms = None
            return
        if self._stopped_from_ms is None:
            self._stopped_from_ms = witness.now_ms
        if self._zero in (Proof.NOT_YET, Proof.NOT_GIVEN):
            since = max(self._stopped_from_ms, self.link.since_ms)
            seen = at_zero([s for s in self._samples() if s.good], since)
            if seen not in (Proof.NOT_YET, Proof.NOT_GIVEN):
                self._zero = seen
                self._note()

    @property
    def shown_pa(self) -> float | None:
        """The vehicle's pressure of the last ten seconds; None where it is not good now."""
        return self._mean("delta_pa")

    def against(self, gauge_pa: float) -> Proof:
        """Hold the vehicle's pressure against what the own gauge shows at this moment [Pa]; nothing
        changes where it shows none."""
        shown = self.shown_pa
        if shown is None:
            return self.proof
        found = against_gauge(self._zero, round(shown), round(gauge_pa), GAUGE_WITHIN_PA)
        if found is not Proof.NOT_YET:
            self._proof = found
            self._note(shown_pa=shown, gauge_pa=gauge_pa)
        return self.proof

    def set_of(self, condition: ReadingCondition) -> Filled | None:
        """The figures that were held in ``condition``, None while they were not."""
        second = self.link.witness.now_ms // 1000
        if self._kept[:2] != (second, condition):
            found = filled(self._samples(), self._vehicle, condition, self._may_pressure())
            self._kept = second, condition, found
        return self._kept[2]

    def held_s(self) -> float:
        """How long the engine speed has stayed where it is, as far as can be told [s]."""
        speeds = [s for s in self._samples() if s.channel == "speed_rpm" and s.good]
        if not speeds:
            return 0.0
        last, low, high = speeds[-1], speeds[-1].milli, speeds[-1].milli
        for one in reversed(speeds):
            low, high = min(low, one.milli), max(high, one.milli)
            if high - low > 100_000:
                break
            last = one
        return (speeds[-1].at_ms - last.at_ms) / 1000

    def pressure_now(self) -> Filled | None:
        """The mean pressure of the last ten seconds, for a trend; only a proven one."""
        if self.proof is not Proof.PROVEN:
            return None
        return self._now("pressure", ("delta_pa",), 1.0, 0.0)

    def exhaust_now(self, worse: str) -> Filled | None:
        """The exhaust at the filter inlet on the safe side: with ``worse`` "hot" the hottest inlet
        sensor and a lag more, with "cold" the coldest and a lag less."""
        channels = [c for c in INLETS if self._mean(c) is not None]
        if not channels:
            return None
        pick = max if worse == "hot" else min
        channel = pick(channels, key=lambda c: self._mean(c) or 0.0)
        lag = LAG_K if worse == "hot" else -LAG_K
        return self._now("exhaust", (channel,), 1.0, 273.15 + lag)

    def differences(self, typed: ReadingSet) -> tuple[Difference, ...]:
        """Where a typed set and what the vehicle shows now contradict each other."""
        mine = self.set_of(typed.condition)
        found = []
        for quantity, text in (mine.items if mine is not None else {}).items():
            value = typed.value(quantity)
            if value is not None:
                difference = differs(quantity, value, _si(quantity, text))
                found += [difference] if difference is not None else []
        return tuple(found)

    # -- inside -----------------------------------------------------------------------------

    def _samples(self) -> list[Sample]:
        """The samples of late; none of a channel that does not measure or was set aside."""
        samples, witness = self._since(RECENT_MS), self.link.witness
        bad = {
            channel
            for channel in {s.channel for s in samples}
            if quality(witness, channel, witness.now_ms) not in ("good", "old")
        }
        return [s for s in samples if s.channel not in bad]

    def _since(self, span_ms: int) -> list[Sample]:
        since = max(self.link.since_ms, self.link.witness.now_ms - span_ms)
        samples = self.link.samples
        return samples[bisect_left(samples, since, key=lambda s: s.at_ms) :]

    def _may_pressure(self) -> bool:
        return self.proof is Proof.PROVEN and one_source(self._session.job)

    def _recent(self, channel: str) -> Sequence[Sample]:
        return [s for s in self._since(NOW_MS) if s.channel == channel and s.good]

    def _mean(self, channel: str) -> float | None:
        """Mean of the last ten seconds in the channel's unit; None where it is not good now."""
        witness = self.link.witness
        recent = self._recent(channel)
        if milli_of(witness, channel, witness.now_ms) is None or len(recent) < LEAST_NOW:
            return None
        return sum(s.milli for s in recent) / len(recent) / 1000

    def _now(
        self, quantity: str, channels: tuple[str, ...], factor: float, add: float
    ) -> Filled | None:
        value = self._mean(channels[0])
        if value is None:
            return None
        recent = self._recent(channels[0])
        text = figure(quantity, value * factor + add)
        return Filled({quantity: text}, recent[0].at_ms, recent[-1].at_ms)

    def _note(self, **numbers: float) -> None:
        plain = {name: quantised(name, value) for name, value in numbers.items()}
        note = {"link": self.link.name, "proof": self.proof.value, **plain}
        self._session.submit(Note("pressure_proof", note))


def one_source(job: Job) -> bool:
    """Whether no pressure of a set was typed in this job."""
    sets = [ReadingSet.from_json(plain) for plain in job.log.every("reading")]
    return all(r.source == "car" for s in sets for r in s.readings if r.quantity == "pressure")


def _si(quantity: str, text: str) -> float:
    from ..core.typed_set import parse_value

    return parse_value(quantity, text).si
