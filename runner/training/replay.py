"""The vehicle of a practice job as it stood at each line of the record, for its debrief."""

from collections.abc import Iterator, Sequence
from copy import deepcopy
from dataclasses import dataclass

from steplatch.safety.catalogue import _

from ..core.events import Event
from ..core.job import Job
from ..jobs.bundle import Bundle
from ..jobs.projection import BrokenJob, entries
from ..record import JournalLine
from ..simulator.observation import Instruments
from ..simulator.vehicle import SimulatedVehicle
from .memory import KeptPractice


@dataclass(slots=True)
class ReplayMoment:
    """One line of the record, the job before and after it, and the vehicle as it stood then.

    ``vehicle`` lives on with the next line: look at it now, or try things on ``a_copy``.
    ``given_ml`` is what had left the gun by then. ``shown`` is what the diagnostics showed when
    they were last watched; ``own_ms`` this computer's clock, None where it was not kept.
    """

    line: JournalLine
    events: tuple[Event, ...]
    before: Job
    after: Job
    vehicle: SimulatedVehicle
    shown: Instruments | None
    own_ms: int | None

    @property
    def given_ml(self) -> float:
        """What has left the gun so far [mL]."""
        return self.vehicle.world.gun.given_ml

    def a_copy(self) -> SimulatedVehicle:
        """The same vehicle, for what might have been."""
        return deepcopy(self.vehicle)


def moments(
    lines: Sequence[JournalLine], kept: KeptPractice, bundle: Bundle
) -> Iterator[ReplayMoment]:
    """Line by line, with the vehicle brought to where it stood when the line was written.

    A job of an earlier program did not keep where its vehicle stood: it is then brought to the
    end at once, at its last line.
    """
    try:
        vehicle = SimulatedVehicle(kept.seed, kept.faults, bundle.vehicle)
    except (ValueError, TypeError, LookupError) as error:
        raise BrokenJob(
            _("the practice vehicle cannot be replayed: {error}", error=error)
        ) from error
    stood = {seq: (acts, ms) for seq, acts, ms in kept.stood}
    shown, done = None, 0
    for number, entry in enumerate(entries(lines), start=1):
        acts, own_ms = stood.get(entry.line.envelope.seq, (done, None))
        if number == len(lines):
            acts = len(kept.acts)
        for act in kept.acts[done:acts]:
            try:
                seen = vehicle.redo(act)
            except (ValueError, TypeError, LookupError, AttributeError, ArithmeticError) as error:
                raise BrokenJob(
                    _(
                        "the practice vehicle cannot be replayed: act {act!r}: {error}",
                        act=act[0],
                        error=error,
                    )
                ) from error
            shown = seen if isinstance(seen, Instruments) else shown
        done = max(done, acts)
        yield ReplayMoment(
            entry.line, entry.events, entry.before, entry.after, vehicle, shown, own_ms
        )
