"""How long page and PDF of a whole job take from a cold start: a new process, nothing loaded."""

import subprocess
import sys
import time
from pathlib import Path
from typing import NamedTuple

import pytest
from steplatch.runner.record import read

from tests.played import Played

ROOT = Path(__file__).parents[2]
WALL_S = 3.0
"""What a person may have to wait, loading, audit and all."""
LOOP_S = 0.09
"""What ``loop_s`` takes on the computer that the limit was set on, at rest."""
ATTEMPTS = 4


class Took(NamedTuple):
    """Seconds of waiting, and how many times slower than at rest the computer was just before
    and after."""

    wall_s: float
    slower: float


def loop_s() -> float:
    """How long a fixed piece of work takes, in a process of its own."""
    work = "import time; a = time.perf_counter(); sum(i * i % 7 for i in range(1_000_000));"
    command = [sys.executable, "-c", f"{work} print(time.perf_counter() - a)"]
    return float(subprocess.run(command, capture_output=True, check=True, timeout=60).stdout)


def took(played: Played, room: Path) -> Took:
    """Make page and PDF once, in a new process."""
    before = loop_s()
    start = time.perf_counter()
    subprocess.run(
        [
            sys.executable, "-m", "steplatch.runner.cli",
            "--data", str(played.folder.path.parents[1]),
            "sheet", played.folder.id, "--html", str(room / "x.html"),
            "--pdf", str(room / "x.pdf"),
        ],
        cwd=ROOT, check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    wall_s = time.perf_counter() - start
    return Took(wall_s, max(1.0, max(before, loop_s()) / LOOP_S))


@pytest.mark.slow
def test_page_and_pdf_of_a_job_of_more_than_400_events_are_made_in_three_seconds(
    good: Played, tmp_path: Path
) -> None:
    """The best of a few attempts; others who work on this computer are measured and allowed for."""
    assert sum(len(line.outcome["events"]) for line in read(good.folder.path)) > 400
    tries = []
    for _ in range(ATTEMPTS):
        tries.append(took(good, tmp_path))
        if tries[-1].wall_s < WALL_S:  # no allowance was needed
            break
    assert any(one.wall_s < WALL_S * one.slower for one in tries), tries
