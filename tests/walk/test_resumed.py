"""What honest answers lead to when a job is resumed with the engine idling."""

from steplatch.runner.core.commands import AnswerMeanwhile, Look

from tests.walk.moves import Move
from tests.walk.walker import Fate, Walker
from tests.walk.walks import drawn


def resumed_at_idle() -> Walker:
    """A careful walk, killed and resumed while the engine idles before any fluid."""
    walk = drawn(1, Fate(0.0, 0.0, 0.0), crew="pair", agreed="clean", tier="none")
    while walk.job.core.step != "before-idle-even":
        walk.on()
    walk.make(Move(None, walk.worker, 0, ms=500, how="whole"))
    walk.submit(AnswerMeanwhile("no"))
    assert "crew" in walk.job.core.ask_again and "controls" in walk.job.core.ask_again
    return walk


def test_honest_answers_trip_nothing_when_who_is_here_is_said_first() -> None:
    walk = resumed_at_idle()
    walk.settle()  # who is here first, then the rest
    assert walk.job.bay.trips == frozenset()
    assert not walk.job.core.ask_again and not walk.job.core.held


def test_honest_answers_in_the_order_asked_trip_nothing() -> None:
    walk = resumed_at_idle()
    for fact in walk.job.core.ask_again:
        walk.submit(Look(fact, walk.truly(fact)))
    assert walk.job.bay.trips == frozenset()
