"""What may be asked in a ready bay with other doses, bands and trips, and whether it is permitted.

The bays themselves lie in ``safety/verify/ready_bays.py``, since the self-test needs them too.
"""

from dataclasses import replace

from steplatch.safety.bay import Act, Bay, Trip
from steplatch.safety.interlocks import Ask
from steplatch.safety.verify.ready_bays import IDLING, NAMED, READY, TRIPPED

__all__ = ["ASKED", "NAMED", "READY"]

ASKED: tuple[tuple[Bay, Ask, bool], ...] = (
    (IDLING, Ask(Act.RAISE, band_under_ceiling=False), False),
    *(
        (READY[Act.SPRAY_OFF][0], Ask(Act.SPRAY_OFF, 1, burst_s=burst_s), 0 <= burst_s < 16)
        for burst_s in (-1, 0, 1, 14, 15, 16, 71)
    ),
    *((READY[Act.SPRAY_OFF][0], Ask(Act.SPRAY_OFF, dose), dose == 1) for dose in range(-1, 5)),
    *(
        (READY[Act.SPRAY_RUNNING][0], Ask(Act.SPRAY_RUNNING, dose), dose in (1, 2, 3))
        for dose in range(-1, 5)
    ),
    *(
        (
            replace(NAMED["reset, engine running"][0], trips=frozenset({trip})),
            Ask(Act.RESET, trip=trip),
            not trip.terminal,
        )
        for trip in Trip
    ),
    *(
        (
            replace(NAMED["reset of a spill"][0], trips=frozenset({trip})),
            Ask(Act.RESET, trip=trip),
            trip in (Trip.SPILL, Trip.STUB, Trip.OVER_CEILING, Trip.UNATTENDED),
        )
        for trip in Trip
    ),
    (TRIPPED, Ask(Act.RESET, trip=Trip.SPILL), False),
    (TRIPPED, Ask(Act.RESET), False),
)
"""(bay, what is asked, with which dose, band or trip; whether it is permitted), by hand."""
