"""The sets of attacks: each runs so often or until that time, and gives its figures in words."""

import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random

from steplatch.runner.record import find_data_folder

from .faults import Faults
from .malformed import lines_of, malformed, put
from .readers import LIMIT_S, read_all
from .real_jobs import WHOLE, real_job
from .tampers import NOTHING, SPELT, STATES, Workshop
from .typed import crashed
from .typed import typed as odd_line

_NAMED = (("public", "rename"), ("public", "add"))


def _named(file: Path, how: str) -> bool:
    """Whether the page names it as a change that is not noticed."""
    return (file.parent.name, how) in _NAMED or how == SPELT


def _times(count: int, until: float) -> Iterator[int]:
    """From 0 on, so often or until that time."""
    for number in range(count):
        if time.monotonic() > until:
            return
        yield number


def _worst(kind: str, found: Counter[str]) -> Iterator[str]:
    return (f"{kind} {number} x {what}" for what, number in found.most_common(40))


def typed(room: Path, chance: Random, count: int, until: float) -> list[str]:
    bad: Counter[str] = Counter()
    done = 0
    for _ in _times(count, until):
        done += 1
        if found := crashed(odd_line(chance), chance):
            bad[found] += 1
    text = f"{done} odd lines at the readers of typed numbers and files: {bad.total()} crashed"
    return [text, *_worst("CRASHED", bad)]


def faults(room: Path, chance: Random, count: int, until: float) -> list[str]:
    if not count:
        return []
    faults, bad, done = Faults(room), Counter[str](), 0
    places = faults.places()
    chance.shuffle(places)
    for number in _times(min(count, len(places)), until):
        done += 1
        if found := faults.tried(*places[number]):
            bad[found] += 1
    calls = ", ".join(f"{calls} calls in {name}" for name, calls in faults.calls.items())
    text = (
        f"{done} of the {len(places)} ways in which one call to the disk can fail while a real "
        f"job is begun, worked on and closed ({calls}): {bad.total()} ended otherwise than with 0 "
        "or 7, its words, and no line lost"
    )
    return [text, *_worst("CRASHED", bad)]


def tampers(room: Path, chance: Random, count: int, until: float) -> list[str]:
    if not count:
        return []
    short = [Workshop(room, state) for state in STATES]
    workshops = [*(short * 4), *(Workshop(room, state, WHOLE) for state in STATES)]
    passed: Counter[str] = Counter()
    crashes: Counter[str] = Counter()
    done = calm = 0
    for _ in _times(count, until):
        done += 1
        one = chance.choice(workshops).tried(chance)
        label = f"{one.state} {Path(one.file).parent.name}/{Path(one.file).name}: {one.how}"
        if one.trace:
            crashes[f"{label}: {one.trace.strip().splitlines()[-1][:100]}"] += 1
        elif one.how == NOTHING:
            calm += 1
            if one.noticed:
                passed[f"{one.state}: its words change by themselves"] += 1
        elif not one.noticed and not _named(Path(one.file), one.how):
            passed[label] += 1
    return [
        f"{done - calm} tampers over all files of open, ended and sealed jobs, short ones and "
        f"whole cleans, and their ledger: {passed.total()} not noticed, {crashes.total()} crashed; "
        f"{calm} times nothing was changed, and nothing was said",
        *_worst("UNNOTICED", passed),
        *_worst("CRASHED", crashes),
    ]


def lines(room: Path, chance: Random, count: int, until: float) -> list[str]:
    """Most of the journals are cut short: what is odd on a line is odd on any."""
    if not count:
        return []
    data = find_data_folder(room / "lines", {})
    folder, _ = real_job(data, key=False, close=False, worked=WHOLE)
    lines = lines_of(folder.journal)
    bad: Counter[str] = Counter()
    reads, slowest, done = 0, 0.0, 0
    for _ in _times(count, until):
        done += 1
        length = chance.choice((20, 40, 60, 90, len(lines)))
        put(folder.path, folder.id, malformed(lines[:length], chance))
        for ran in read_all(data.path, folder.id):
            reads += 1
            slowest = max(slowest, ran.seconds)
            if ran.trace:
                bad[f"{ran.command}: {ran.trace.strip().splitlines()[-1][:100]}"] += 1
    return [
        f"{done} journals of malformed lines in a fitting chain, {reads} commands: "
        f"{bad.total()} crashed; the slowest took {slowest:.1f} s (bound {LIMIT_S:.0f} s)",
        *_worst("CRASHED", bad),
    ]
