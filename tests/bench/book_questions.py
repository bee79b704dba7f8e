"""``python -m tests.bench.book_questions``: the ten questions on a million jobs, in both databases.

    python -m tests.bench.book_questions [--jobs 1000000] [--times 20] [--write]

Rows are made up by a seed, the same for SQLite (a file in memory where there is such a place) and
for PostgreSQL (a cluster of its own, as the tests make it). For each question: the middle and the
95th percentile in milliseconds, and the least over the least of the bare query (other work on the
machine only adds to either), without what the program makes of its rows. ``--write`` keeps the
figures in BOOK.md beside this file.
"""

import argparse
import math
import os
import platform
import random
import sqlite3
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from statistics import median
from typing import Any

import psycopg
from steplatch.runner.book.server import connected, run_on, set_up
from steplatch.runner.jobs.intervals import exact_interval
from steplatch.runner.jobs.questions import BEGUN, CELLS, COLUMNS, QUESTIONS, SCHEMA, Run, answered

from tests.book.cluster import Cluster, cluster

PAGE = Path(__file__).with_name("BOOK.md")
VERDICTS = ("as_expected", "improved_not_normal", "not_improved", "cannot_say", "contradictory")
PROCEDURES = ("clean-above", "clean-low", "measure-only", "return-visit", "regeneration-watch")
COPY = f"{COLUMNS}, back_days, bay"


def facts(jobs: int) -> Iterator[tuple[Any, ...]]:
    """Made-up jobs, one row each, over ten years."""
    draw = random.Random(25)
    for number in range(jobs):
        day = date(2016, 1, 1).toordinal() + draw.randrange(3650)
        procedure, verdict = draw.choice(PROCEDURES), draw.choice(VERDICTS)
        yield (
            f"bay-{number % 20}/{number:010}", "real", "finished", day,
            date.fromordinal(day).isoformat()[:7], procedure, f"CAR{draw.randrange(jobs // 2)}",
            draw.choice(("go", "warn", "no")), verdict, round(draw.gauss(400, 200)),
            draw.randrange(0, 400_000), draw.choice(("town", "mixed", "road")),
            draw.randrange(4000), f"{number:010}", draw.choice((None, draw.randrange(900))),
            f"bay-{number % 20}",
        )  # fmt: skip


def stumbles(jobs: int) -> Iterator[tuple[Any, ...]]:
    """A refusal or a trip in every third job."""
    draw = random.Random(7)
    for number in range(0, jobs, 3):
        at = draw.randrange(60)
        what, step, name = draw.choice(("refusal", "trip")), f"step-{at}", f"row-{at % 30}"
        yield (f"bay-{number % 20}/{number:010}", "real", what, draw.choice(PROCEDURES), step, name,
               draw.randrange(1, 4), f"bay-{number % 20}")  # fmt: skip


def in_sqlite(room: Path, jobs: int) -> Run:
    """A SQLite book of so many jobs."""
    database = sqlite3.connect(room / "book.sqlite3", isolation_level=None)
    database.execute("PRAGMA synchronous=OFF")
    database.executescript(SCHEMA + BEGUN)
    database.execute("BEGIN")
    marks = ", ".join("?" * 16)
    database.executemany(f"INSERT INTO job_fact ({COPY}) VALUES ({marks})", facts(jobs))
    database.executemany("INSERT INTO stumble VALUES (?, ?, ?, ?, ?, ?, ?, ?)", stumbles(jobs))
    for table, cells in CELLS:
        for cell in cells:
            database.execute(cell.rebuilt(table))
    database.execute("COMMIT")
    return lambda text, values: database.execute(text, values).fetchall()


def fill(server: Cluster, jobs: int) -> None:
    """A PostgreSQL book of so many jobs."""
    set_up(server.dsn())
    with psycopg.connect(server.dsn(), options="-c search_path=steplatch") as connection:
        connection.execute("ALTER TABLE job_fact DISABLE TRIGGER USER")
        connection.execute("ALTER TABLE stumble DISABLE TRIGGER USER")
        into = f"COPY job_fact ({COPY}) FROM STDIN"
        for text, rows in (
            (into, facts(jobs)),
            ("COPY stumble (id, kind, what, procedure, step, name, times, bay) FROM STDIN",
             stumbles(jobs)),
        ):  # fmt: skip
            with connection.cursor() as cursor, cursor.copy(text) as copy:
                for row in rows:
                    copy.write_row(row)
        for table, cells in CELLS:
            for cell in cells:
                connection.execute(cell.rebuilt(table))
    with psycopg.connect(server.dsn(), autocommit=True) as connection:
        connection.execute("VACUUM ANALYZE")


def _milliseconds(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return (time.perf_counter() - begun) * 1000


def measured(run: Run, times: int, where: str) -> Iterator[str]:
    """One line a question."""
    for question in QUESTIONS:
        ours, bare = [], []
        for _ in range(times):
            ours.append(_milliseconds(lambda q=question: answered(run, q)))  # type: ignore[misc]
            bare.append(_milliseconds(lambda q=question: run(q.sql, ("real",))))  # type: ignore[misc]
        p95 = sorted(ours)[math.ceil(0.95 * times) - 1]
        ratio = min(ours) / min(bare)
        yield f"| {question.id} | {where} | {median(ours):.2f} | {p95:.2f} | {ratio:.2f} |"


def _interval_us() -> float:
    """Each of a hundred intervals of counts as they stand in a million jobs, in microseconds."""
    begun = time.perf_counter()
    for successes in range(40_000, 40_100):
        exact_interval(successes, 200_000)
    return (time.perf_counter() - begun) * 1e6 / 100


def main() -> None:
    """Fill, ask, print."""
    options = argparse.ArgumentParser(prog="python -m tests.bench.book_questions")
    options.add_argument("--jobs", type=int, default=1_000_000)
    options.add_argument("--times", type=int, default=20)
    options.add_argument("--write", action="store_true")
    args = options.parse_args()
    memory = Path("/dev/shm")
    out = [
        "| question | where | middle ms | p95 ms | least over least of the bare query |",
        "|---|---|---|---|---|",
    ]
    with tempfile.TemporaryDirectory(dir=memory if os.access(memory, os.W_OK) else None) as room:
        begun = time.monotonic()
        run = in_sqlite(Path(room), args.jobs)
        filled = [f"SQLite {sqlite3.sqlite_version}: filled in {time.monotonic() - begun:.0f} s"]
        out += measured(run, args.times, "SQLite")
    with cluster() as server:
        begun = time.monotonic()
        fill(server, args.jobs)
        filled.append(f"PostgreSQL: filled in {time.monotonic() - begun:.0f} s")
        with connected(server.dsn()) as connection:
            out += measured(run_on(connection), args.times, "PostgreSQL")
    head = (
        f"# The ten questions on {args.jobs} made-up jobs\n\n`python -m tests.bench.book_questions "
        f"--write`, {args.times} times each, {os.cpu_count()} cores, {platform.machine()}. "
        f"{'. '.join(filled)}. Wanted: p95 under 200 ms, at most 1.5 times the bare query. "
        "The bare query reads the tally, mostly in less than a millisecond. The exact interval of "
        f"a share is worked out once for the same counts: {_interval_us():.0f} microseconds.\n\n"
    )
    text = head + "\n".join(out) + "\n"
    print(text)
    if args.write:
        PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
