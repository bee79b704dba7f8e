"""Many items given to the reducer, one after another."""

from collections.abc import Iterable

from steplatch.runner.live.reducer import feed
from steplatch.runner.live.samples import Happening, Input
from steplatch.runner.live.witness import Witness


def feed_all(
    items: Iterable[Input], witness: Witness | None = None
) -> tuple[Witness, list[Happening]]:
    """``feed`` for many items."""
    state = witness or Witness()
    told: list[Happening] = []
    for item in items:
        state, more = feed(state, item)
        told += more
    return state, told
