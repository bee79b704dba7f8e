"""Work shared among several processes, where there is enough of it and they can be begun."""

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from multiprocessing import get_context
from typing import Any, Final, TypeVar

from steplatch.safety.catalogue import _

MANY: Final = 60
"""Small pieces of work from which on processes pay: each takes about half a second to begin."""
_CHUNK: Final = 4
T = TypeVar("T")
R = TypeVar("R")
_work: list[Callable[[Any], Any]] = []


def over_cores(
    work: Callable[[T], R],
    items: Sequence[T],
    most: int = 4,
    long: bool = False,
    say: Callable[[str], None] = lambda run: None,
) -> Iterator[R]:
    """``work`` of each item, in their order, as it comes, on at most ``most`` processes.

    ``work`` is sent to each process once: a function of a module, or a partial of one. ``long``:
    each item takes seconds, so that two are worth a second process. Where no process can be begun,
    or one dies, the rest is worked on here. ``say`` is told on what it ran, at the end.
    """
    processes, done = min(most, os.cpu_count() or 1), 0
    run = _("one process")
    if processes > 1 and len(items) >= (2 if long else MANY):
        try:
            with ProcessPoolExecutor(
                processes, get_context("spawn"), initializer=_begin, initargs=(work,)
            ) as pool:
                for result in pool.map(_one, items, chunksize=1 if long else _CHUNK):
                    yield result
                    done += 1
            run = _("{processes} processes", processes=processes)
        except (OSError, ImportError, NotImplementedError, BrokenProcessPool) as error:
            run = _(
                "one process, for no more could be made ({name__}: {error})",
                name__=type(error).__name__,
                error=error,
            )
    yield from map(work, islice(items, done, None))
    say(run)


def _begin(work: Callable[[Any], Any]) -> None:
    _work[:] = [work]


def _one(item: Any) -> Any:
    return _work[0](item)
