"""Work on many jobs, shared among processors where there are enough jobs to be worth it."""

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from multiprocessing import get_context
from typing import Any, Final, TypeVar

MANY: Final = 60
"""Jobs from which on other processes are begun: each takes about half a second to begin."""
MOST_PROCESSES: Final = 4
_CHUNK: Final = 4
T = TypeVar("T")
R = TypeVar("R")
_work: list[Callable[[Any], Any]] = []


def over_cores(work: Callable[[T], R], items: Sequence[T]) -> Iterator[R]:
    """``work`` of each item, in their order, as it comes. ``work`` is told to each process once, so
    it must be one that can be: a function of a module, or a partial of one.

    Where no process can be begun, or one dies, what is left is worked on here.
    """
    processes, done = min(MOST_PROCESSES, os.cpu_count() or 1), 0
    if processes > 1 and len(items) >= MANY:
        try:
            with ProcessPoolExecutor(
                processes, get_context("spawn"), initializer=_begin, initargs=(work,)
            ) as pool:
                for result in pool.map(_one, items, chunksize=_CHUNK):
                    yield result
                    done += 1
        except (OSError, ImportError, NotImplementedError, BrokenProcessPool):
            pass  # the same is worked out here, only slower
    yield from map(work, islice(items, done, None))


def _begin(work: Callable[[Any], Any]) -> None:
    _work[:] = [work]


def _one(item: Any) -> Any:
    return _work[0](item)
