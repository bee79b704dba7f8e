"""Work shared among several processes, where there is enough of it and they can be begun."""

import os
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, closing
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any, Final, TypeVar

from steplatch.safety.catalogue import _

MANY: Final = 60
"""Small pieces of work from which on processes pay: each takes about half a second to begin."""
_CHUNK: Final = 4
_THREADS: Final = Path("/proc/self/task")
T = TypeVar("T")
R = TypeVar("R")


def over_cores(
    work: Callable[[T], R],
    items: Sequence[T],
    most: int = 4,
    long: bool = False,
    say: Callable[[str], None] = lambda run: None,
    lane: Callable[[T], int] | None = None,
) -> Iterator[R]:
    """``work`` of each item, in their order, as it comes, on at most ``most`` processes.

    ``work`` goes to each process once: a function of a module, a partial of one, or a method of
    what can be sent. ``long``: each item takes seconds, so that two are worth a second process.
    Items of one ``lane`` are worked on in one process, in their order, whichever else there is.
    Where no process can be begun, or one dies, the rest is worked on here. ``say`` is told on what
    it ran, at the end. What ``work`` raises is raised here.
    """
    processes, done = min(most, os.cpu_count() or 1), 0
    run = _("one process")
    if processes > 1 and len(items) >= (2 if long else MANY):
        try:
            with ExitStack() as ended:
                for result in _from_processes(work, items, processes, long, lane, ended):
                    yield result
                    done += 1
            run = _("{processes} processes", processes=processes)
        except (OSError, ImportError, NotImplementedError, EOFError) as error:
            run = _(
                "one process, for no more could be made ({name__}: {error})",
                name__=type(error).__name__,
                error=error,
            )
    for item in items[done:]:
        yield work(item)
    say(run)


def _from_processes(
    work: Callable[[T], R],
    items: Sequence[T],
    processes: int,
    long: bool,
    lane: Callable[[T], int] | None,
    ended: ExitStack,
) -> Iterator[R]:
    """The results in order. Raises EOFError when a process dies."""
    chunk = 1 if long else _CHUNK
    queues = [deque[int]()] * processes
    if lane is not None:
        queues = [deque() for number in range(processes)]
    for number, item in enumerate(items):
        queues[0 if lane is None else lane(item) % processes].append(number)
    waiting: dict[int, R] = {}
    given: dict[Connection, tuple[deque[int], list[int]]] = {}

    def give(connection: Connection, queue: deque[int]) -> None:
        numbers = [queue.popleft() for _ in range(min(chunk, len(queue)))]
        given[connection] = queue, numbers
        if numbers:
            connection.send([items[number] for number in numbers])

    forks = _may_fork()
    context = get_context("fork") if forks else get_context("spawn")
    for queue in queues:
        here, there = context.Pipe()
        ended.enter_context(closing(here))
        not_mine = [*given, here] if forks else []
        process = context.Process(target=_serve, args=(there, work, not_mine), daemon=True)
        process.start()
        ended.callback(process.join)
        ended.callback(process.terminate)
        there.close()
        give(here, queue)
    for number in range(len(items)):
        while number not in waiting:
            for connection in wait([c for c, asked in given.items() if asked[1]]):
                assert isinstance(connection, Connection)
                results, error = connection.recv()
                queue, numbers = given[connection]
                if error is not None:
                    raise error
                waiting.update(zip(numbers, results, strict=True))
                give(connection, queue)
        yield waiting.pop(number)


def _may_fork() -> bool:
    """Whether a copy of this process can go on as it stands: no other thread runs in it."""
    if sys.platform != "linux" or threading.active_count() > 1:
        return False
    return _THREADS.is_dir() and len(list(_THREADS.iterdir())) == 1


def _serve(connection: Connection, work: Callable[[Any], Any], not_mine: list[Connection]) -> None:
    """Work on what comes until nothing more does. An interruption is for who began this."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    for other in not_mine:
        other.close()
    while True:
        try:
            items = connection.recv()
        except EOFError:
            return
        try:
            connection.send(([work(item) for item in items], None))
        except Exception as error:  # whatever it is, it is raised where it was asked
            connection.send((None, error))
