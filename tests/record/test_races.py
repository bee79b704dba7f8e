"""Several programs seal one job, or make the key, at one moment: one of them does, no other."""

import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.jobs.ledgers import key_folder
from steplatch.runner.jobs.sealing import seal_ended
from steplatch.runner.record import RecordError, find_data_folder
from steplatch.runner.record.keys import KeyFolder
from steplatch.runner.record.ledger import read_ledger
from steplatch.runner.record.seal import Statement

from tests.attacks.readers import run
from tests.attacks.real_jobs import real_job

RACERS = 4


def raced(act: Callable[[int], object]) -> tuple[list[object], list[RecordError]]:
    """What came of ``act``, done by all racers from one moment on: results and refusals.

    Each racer opens files of its own, and a lock is of an open file, so threads race for it as
    processes do.
    """
    start = threading.Barrier(RACERS)
    done: list[object] = []
    refused: list[RecordError] = []

    def racer(number: int) -> None:
        start.wait()
        try:
            done.append(act(number))
        except RecordError as error:
            refused.append(error)

    threads = [threading.Thread(target=racer, args=(number,)) for number in range(RACERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(done) + len(refused) == RACERS, "one ended otherwise than in words"
    return done, refused


@pytest.mark.parametrize("time", range(6))
def test_of_those_who_seal_a_job_at_once_one_does(quick: Path, time: int) -> None:
    made = find_data_folder(quick / "data", {})
    folder, _ = real_job(made, close=False)
    signing = key_folder(made).open()
    done, refused = raced(lambda _: seal_ended(folder, signing, "later", "technician-1"))
    assert len(done) == 1 and isinstance(done[0], Statement), refused
    ledger = read_ledger(made)
    assert ledger is not None
    assert [entry.what for entry in ledger.of(folder.id)].count("sealed") == 1
    ran = run("audit", ["--data", str(made.path), "audit", "--all"])
    assert ran.code == exits.OK, ran.said


@pytest.mark.parametrize("time", range(10))
def test_of_those_who_make_the_key_at_once_one_does(quick: Path, time: int) -> None:
    def make(number: int) -> object:
        return KeyFolder(quick / "keys").make(bytes([number]) * 32)

    done, refused = raced(make)
    assert len(done) == 1 and len(refused) == RACERS - 1
    keys = KeyFolder(quick / "keys")
    assert list(keys.public_keys()) == done == [keys.open().public]
