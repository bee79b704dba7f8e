"""What every act at the practice vehicle shares: it is noted, and it says what was noticed."""

import functools
from collections.abc import Callable
from typing import Any, Concatenate, ParamSpec, TypeVar, cast

from steplatch.safety.catalogue import _

from .observation import NoticedKind, Observation
from .world import World

P = ParamSpec("P")
R = TypeVar("R")
S = TypeVar("S", bound="Acting")

ActDone = tuple[str, tuple[Any, ...], dict[str, Any]]
"""Name, arguments and keyword arguments of one act."""


class Acting:
    """Holds the world and the list of acts; the acts themselves stand in subclasses."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.acts: list[ActDone] = []
        self.busy = False


def act(method: Callable[Concatenate[S, P], R]) -> Callable[Concatenate[S, P], R]:
    """Note an act done from outside, so that the vehicle can be rebuilt from its acts.

    An act that another act is made of is not noted a second time.
    """

    @functools.wraps(method)
    def noted(self: S, *args: P.args, **kwargs: P.kwargs) -> R:
        if self.busy:
            return method(self, *args, **kwargs)
        self.busy = True
        try:
            result = method(self, *args, **kwargs)
        finally:
            self.busy = False
        self.acts.append((method.__name__, args, dict(kwargs)))
        return result

    return cast("Callable[Concatenate[S, P], R]", noted)


def done(words: str) -> Observation:
    """It went as meant."""
    return Observation(NoticedKind.DONE, words)


def not_possible(words: str) -> Observation:
    """It cannot be done as things stand; nothing has changed."""
    return Observation(NoticedKind.NOT_POSSIBLE, words)


def drained(volume_ml: float) -> Observation:
    """What ran into the jug, in whole mL."""
    if volume_ml < 0.5:
        return Observation(NoticedKind.DRY, _("Nothing comes out."), volume_ml=0.0)
    whole = float(round(volume_ml))
    return Observation(
        NoticedKind.WET, _("{whole:.0f} mL run into the jug.", whole=whole), volume_ml=whole
    )
