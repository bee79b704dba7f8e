"""When more fluid than any start allows trips: as it comes to be so, not while it is drained."""

from dataclasses import replace

import pytest
from steplatch.safety.bay import Act, Bay, DoseLimits, Engine, FluidIn, Gun, Trip
from steplatch.safety.kernel import Happened, trips
from steplatch.safety.occurrences import Happening

LIMITS = DoseLimits(strict=1, extended=2, running=3)
STILL = replace(Bay(), engine=Engine.STOPPED, gun=Gun.COUPLED, fluid_in=FluidIn.YES, wet=3)
LOOKED = Happened(Happening.LOOKED_DRY)


def tripped(before: Bay, after: Bay) -> bool:
    """Whether going from one bay to the other latches it, whatever else happens."""
    return Trip.OVERDOSE in trips(before, LOOKED, after, LIMITS)


@pytest.mark.parametrize(
    ("before", "after", "trip"),
    [
        (2, 3, True),
        (0, 3, True),
        (1, 2, False),  # within the extended limit
        (3, 4, True),  # reset, and then more
        (3, 3, False),
        (5, 4, False),  # drained, and still too much: it has tripped before
        (2, None, True),  # from then on nobody knows
        (None, 3, True),  # now it is known to be too much
        (None, 2, False),
        (None, None, False),
    ],
)
def test_a_count_that_rises_above_the_extended_limit_trips_and_one_that_falls_does_not(
    before: int | None, after: int | None, trip: bool
) -> None:
    assert tripped(replace(STILL, wet=before), replace(STILL, wet=after)) is trip


def test_a_gun_that_shuts_on_too_much_trips_though_the_count_stays_as_reserved() -> None:
    spraying = replace(STILL, gun=Gun.OPEN, permit=Act.SPRAY_OFF)
    assert tripped(spraying, STILL)
    assert tripped(spraying, replace(STILL, gun=Gun.UNKNOWN))
    assert not tripped(spraying, replace(spraying, permit=None)), "still open: not counted yet"
    assert not tripped(STILL, replace(STILL, gun=Gun.AWAY)), "it was shut already"
    assert not tripped(replace(spraying, wet=2), replace(STILL, wet=2))


def test_an_engine_that_stops_on_too_much_trips_and_one_that_runs_does_not() -> None:
    running = replace(STILL, engine=Engine.IDLING)
    assert tripped(running, STILL)
    assert tripped(running, replace(STILL, engine=Engine.UNKNOWN))
    assert not tripped(STILL, running)
    assert not tripped(replace(running, wet=2), replace(running, wet=3))
