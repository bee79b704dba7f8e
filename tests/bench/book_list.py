"""``python -m tests.bench.book_list``: list and search of a million jobs in a bay's own book.

    python -m tests.bench.book_list [--jobs 1000000] [--times 20] [--write]

Rows are made up by a seed and put straight into the book's tables; the index of words is then
filled. For each question a page of the newest: the middle and the 95th percentile in milliseconds,
and the least over the least of the bare SQL. What is not measured: looking whether a job's folder
has changed, which comes before every list. ``--write`` keeps the figures in LIST.md beside this.
"""

import argparse
import json
import math
import os
import random
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from statistics import median
from typing import Any

from steplatch.runner.cli.book import PAGE
from steplatch.runner.jobs.book import BOOK_NAME, JobBook
from steplatch.runner.jobs.book_search import COLUMNS, Wanted, number_of, sql_of
from steplatch.runner.record import DataFolder

FIGURES = Path(__file__).with_name("LIST.md")
TOKEN = "abcdefghijklmnopqrstuvwxyz234567"
STATES = ("finished", "finished", "finished", "abandoned", "open", "held")
VERDICTS = ("flows as expected", "better, not shown to be normal", "not better", "cannot be said")
WORDS = (
    *("lamp", "soot", "warning", "motorway", "town", "short", "trips", "smoke"),
    *("whistle", "power", "loss", "sensor", "hose"),
)
ASKED = (
    ("the newest", Wanted()),
    ("state open", Wanted(state="open")),
    ("practice", Wanted(kind="practice")),
    ("one month", Wanted(since="2020-03-01", until="2020-03-31")),
    ("a word of most jobs", Wanted(text="sensor")),
    ("a word of one job", Wanted(text="note 777777 ")),
    ("a word of none", Wanted(text="no such word")),
    ("a plate", Wanted(vehicle="ab 777777")),
    ("a part of some plates", Wanted(vehicle="77777")),
    ("a vehicle's label", Wanted(vehicle="van no 97,")),
    ("a person", Wanted(person="technician-3")),
    ("a verdict", Wanted(verdict="not better")),
    ("a word and a state", Wanted(text="whistle", state="held")),
    ("two letters of none", Wanted(text="§§")),
)


def rows(jobs: int) -> Iterator[tuple[Any, ...]]:
    """Made-up jobs over ten years, one row each, with what is searched last."""
    draw = random.Random(24)
    for number in range(jobs):
        day = date.fromordinal(date(2016, 1, 1).toordinal() + draw.randrange(3650)).isoformat()
        job = f"{day}-{''.join(draw.choice(TOKEN) for _ in range(8))}"
        who = f"technician-{draw.randrange(9)}"
        people, verdict = json.dumps([[who, f"Name of {who}"]]), draw.choice(VERDICTS)
        vehicle, text = f"van no {number % 1000}, 2.0 L", " ".join(draw.choices(WORDS, k=20))
        folded = "\n".join((job, who, verdict, "step", vehicle, f"{text} note {number} "))
        kind = "practice" if number % 10 == 0 else "real"
        yield (number_of(job), "", who, folded, job, kind, draw.choice(STATES), "step", 400, "", "",
               "", vehicle, verdict, verdict, people, "kept", 0, "", 1)  # fmt: skip


def fill(database: sqlite3.Connection, jobs: int) -> None:
    """So many jobs, a plate and a name for each."""
    database.execute("BEGIN")
    names = f"n, stamp, who, folded, {COLUMNS}"
    into = f"INSERT OR IGNORE INTO job ({names}) VALUES ({', '.join('?' * 20)})"
    database.executemany(into, rows(jobs))
    numbers = database.execute("SELECT n FROM job ORDER BY n").fetchall()
    database.executemany(
        "INSERT INTO found_by VALUES (?, ?, ?, ?)",
        ((n, json.dumps({"registration": f"AB {at}"}), f"ab {at}\n\nab{at}\n",
          f"ab {at}\n\nab{at}\n\na customer") for at, (n,) in enumerate(numbers)),
    )  # fmt: skip
    for index in ("searched", "found"):
        database.execute(f"INSERT INTO {index} ({index}) VALUES ('rebuild')")
    database.execute("COMMIT")


def _milliseconds(begun: float) -> float:
    return (time.perf_counter() - begun) * 1000


def measured(book: JobBook, database: sqlite3.Connection, times: int) -> Iterator[str]:
    """One line a question."""
    for said, wanted in ASKED:
        ours, bare = [], []
        sql, values = sql_of(wanted, True, PAGE)
        for _ in range(times):
            begun = time.perf_counter()
            found = len(book.rows(wanted, most=PAGE))
            ours.append(_milliseconds(begun))
            begun = time.perf_counter()
            database.execute(sql, values).fetchall()
            bare.append(_milliseconds(begun))
        p95 = sorted(ours)[math.ceil(0.95 * times) - 1]
        ratio = min(ours) / min(bare)
        yield f"| {said} | {found} | {median(ours):.1f} | {p95:.1f} | {ratio:.2f} |"


def main() -> None:
    """Fill, ask, print."""
    options = argparse.ArgumentParser(prog="python -m tests.bench.book_list")
    options.add_argument("--jobs", type=int, default=1_000_000)
    options.add_argument("--times", type=int, default=20)
    options.add_argument("--write", action="store_true")
    args = options.parse_args()
    with tempfile.TemporaryDirectory() as room:
        data = DataFolder(Path(room), "the bench")
        with JobBook.open(data) as book:
            path = data.path / BOOK_NAME
            with sqlite3.connect(path, isolation_level=None) as database:
                database.create_function("fold", 1, lambda text: str(text).casefold())
                database.execute("PRAGMA synchronous=OFF")
                begun = time.monotonic()
                fill(database, args.jobs)
                took, size = time.monotonic() - begun, path.stat().st_size / 1e6
                out = [
                    "| question | rows | middle ms | p95 ms | least over least of the bare SQL |",
                    "|---|---|---|---|---|",
                    *measured(book, database, args.times),
                ]
            begun_count = time.perf_counter()
            book.count()
            counted = _milliseconds(begun_count)
    text = (
        f"# List and search of {args.jobs} made-up jobs\n\n`python -m tests.bench.book_list "
        f"--write`: a page of the newest {PAGE}, {args.times} times each, {os.cpu_count()} cores, "
        f"SQLite {sqlite3.sqlite_version}, a book of {size:.0f} MB, filled in {took:.0f} s; all "
        f"are counted in {counted:.0f} ms. Wanted: p95 under 50 ms, at most 1.5 times the bare "
        "SQL.\n\n" + "\n".join(out) + "\n"
    )
    print(text)
    if args.write:
        FIGURES.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
