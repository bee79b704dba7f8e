"""Bays that send while the server is killed and the network cut: nothing is lost or doubled."""

import contextlib
import random
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from tempfile import mkdtemp

import pytest
from steplatch.runner.book.sending import send
from steplatch.runner.book.server import BookFile, NoServer, add_login, set_up
from steplatch.runner.record import DataFolder

from tests.book.cluster import Cluster, cluster
from tests.book.small_jobs import data_in, ended, recorded, small_job

psycopg = pytest.importorskip("psycopg", reason="psycopg is not installed")
MOST_TRIES = 200
PORT = ".s.PGSQL.5432"


class Network:
    """A socket in front of the server's that cuts a connection after some bytes, at random."""

    def __init__(self, server: Path, seed: int) -> None:
        self.room = Path(mkdtemp(prefix="spl-net-"))
        self.server = server
        self.random = random.Random(seed)
        self.cuts = 0
        self.listening = socket.socket(socket.AF_UNIX)
        self.listening.bind(str(self.room / PORT))
        self.listening.listen(64)
        threading.Thread(target=self._take, daemon=True).start()

    def _take(self) -> None:
        while True:
            try:
                near, _ = self.listening.accept()
            except OSError:
                return
            left = self.random.choice([10**9, self.random.randrange(1, 20_000)])
            threading.Thread(target=self._carry, args=(near, left), daemon=True).start()

    def _carry(self, near: socket.socket, left: int) -> None:
        far = socket.socket(socket.AF_UNIX)
        with contextlib.suppress(OSError):
            far.connect(str(self.server / PORT))
            budget = [left]
            back = threading.Thread(target=self._pump, args=(far, near, budget), daemon=True)
            back.start()
            self._pump(near, far, budget)
            back.join()
        near.close()
        far.close()

    def _pump(self, source: socket.socket, sink: socket.socket, budget: list[int]) -> None:
        with contextlib.suppress(OSError):
            while raw := source.recv(4096):
                budget[0] -= len(raw)
                if budget[0] < 0:
                    self.cuts += 1
                    break
                sink.sendall(raw)
        for end in (source, sink):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        self.listening.close()
        shutil.rmtree(self.room, ignore_errors=True)


@pytest.fixture
def server() -> Iterator[Cluster]:
    with cluster() as made:
        yield made


def _send_until_all(data: DataFolder, dsn: str, wrong: list[str]) -> None:
    for _ in range(MOST_TRIES):
        try:
            found = send(data, BookFile(server=dsn)).findings
        except NoServer:
            time.sleep(0.02)
            continue
        wrong += [f"{data.path}: {one}" for one in found]
        return
    wrong.append(f"{data.path}: not sent in {MOST_TRIES} tries")


def _round(server: Cluster, network: Network, bays: int, kill: bool, room: Path) -> None:
    folders = [data_in(room / f"bay-{number}") for number in range(bays)]
    for number, data in enumerate(folders):
        job = f"2026-01-31-{'abcdefghijklmnopqrstuvwxyz'[number] * 8}"
        lines = [[recorded("complaint", text="x" * 300)] for _ in range(5)]
        small_job(data, job, *lines, [ended()])
    wrong: list[str] = []
    at_work = [
        threading.Thread(
            target=_send_until_all,
            args=(data, f"host={network.room} user=bay-{n} dbname=postgres", wrong),
        )
        for n, data in enumerate(folders)
    ]
    for one in at_work:
        one.start()
    if kill:
        time.sleep(network.random.uniform(0.0, 0.15))
        server.stop("immediate")
        server.start()
    for one in at_work:
        one.join()
    assert not wrong
    with psycopg.connect(server.dsn(), options="-c search_path=steplatch") as connection:
        for number, data in enumerate(folders):
            (folder,) = data.jobs.iterdir()
            rows = connection.execute(
                "SELECT raw FROM copy_line WHERE bay = %s ORDER BY seq", (f"bay-{number}",)
            ).fetchall()
            assert b"".join(bytes(r[0]) for r in rows) == (folder / "journal.jsonl").read_bytes()
        counted = connection.execute("SELECT count(*), count(DISTINCT id) FROM job_fact")
        assert counted.fetchone() == (bays, bays)
        assert connection.execute("SELECT count(*) FROM finding").fetchone() == (0,)
        connection.execute(
            "TRUNCATE copy_line, copy_job, copy_file, job_fact, stumble, tally, finding, "
            "acknowledged"
        )
    shutil.rmtree(room)


def _rounds(server: Cluster, quick: Path, rounds: int, bays: int, seed: int = 25) -> None:
    set_up(server.dsn())
    for number in range(bays):
        add_login(server.dsn(), f"bay-{number}", "bay")
    network = Network(server.room, seed)
    try:
        for number in range(rounds):
            _round(server, network, bays, number % 3 == 0, quick / f"round-{number}")
        assert network.cuts, "the network was never cut: this showed nothing"
    finally:
        network.close()


def test_a_killed_server_and_a_cut_network_lose_and_double_nothing(
    server: Cluster, quick: Path
) -> None:
    _rounds(server, quick, rounds=4, bays=4)


@pytest.mark.slow
def test_twenty_bays_lose_and_double_nothing_in_a_thousand_rounds(
    server: Cluster, quick: Path
) -> None:
    _rounds(server, quick, rounds=1000, bays=20)
