"""Work that builds much and lets go of little."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def no_collector() -> Iterator[None]:
    """Collects no garbage meanwhile, and never looks for any in what is still there afterwards: to
    look again and again through what is kept to the end costs up to a third of the time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.freeze()
            gc.enable()
