"""The pin book: what is taken, what locks, and that no PIN is ever written down."""

import hashlib
import io
import json
import logging
import os
import subprocess
import sys
import traceback
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from steplatch.runner.core.clock import Times, times_at
from steplatch.runner.record.disk import Disk
from steplatch.runner.record.faults import JournalFailed, RecordError
from steplatch.runner.workshop.pin_file import BadPinBook, Cost, PinRecord
from steplatch.runner.workshop.pin_rules import why_not
from steplatch.runner.workshop.pins import (
    COST,
    DEAD_AFTER,
    Accepted,
    IdTaken,
    Locked,
    NoPin,
    PinBook,
    PinRefused,
    Wrong,
    lock_s,
)

CHEAP = Cost(n=2, r=1, p=1)
PIN, OTHER_PIN, WRONG_PIN = "4821", "90364", "4822"
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def at(seconds: float, boot: str = "boot-1", wall_s: float | None = None) -> Times:
    """A moment of the running clock; the wall clock may say something else."""
    ms = round(seconds * 1000)
    wall = START + timedelta(seconds=seconds if wall_s is None else wall_s)
    return times_at(wall, ms, ms, boot)


@pytest.fixture
def path(quick: Path) -> Path:
    return quick / "people.json"


@pytest.fixture
def book(path: Path) -> PinBook:
    made = PinBook(path, CHEAP)
    made.set_pin("technician-1", "Example Technician", PIN, at(0))
    return made


def wrong(book: PinBook, times: int, now: Times) -> object:
    """``times`` wrong tries; the outcome of the last."""
    outcome: object = None
    for _ in range(times):
        outcome = book.check("technician-1", WRONG_PIN, now)
    return outcome


@pytest.mark.parametrize(
    ("password", "salt", "n", "r", "p", "derived"),
    [
        # Percival, C. and Josefsson, S., RFC 7914 (2016), section 12
        ("", "", 16, 1, 1,
         "77d6576238657b203b19ca42c18a0497f16b4844e3074ae8dfdffa3fede21442"
         "fcd0069ded0948f8326a753a0fc81f17e8d3e0fb2e0d3628cf35e20c38d18906"),
        ("password", "NaCl", 1024, 8, 16,
         "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162"
         "2eaf30d92e22a3886ff109279d9830dac727afb94a83ee6d8360cbdfa2cc0640"),
    ],
)  # fmt: skip
def test_the_derivation_gives_the_published_vectors_of_rfc_7914(
    password: str, salt: str, n: int, r: int, p: int, derived: str
) -> None:
    made = hashlib.scrypt(
        password.encode(), salt=salt.encode(), n=n, r=r, p=p, dklen=64, maxmem=1 << 26
    )
    assert made.hex() == derived


def test_the_cost_is_the_one_that_is_stated_and_a_pin_can_be_checked_with_it(path: Path) -> None:
    assert (COST.n, COST.r, COST.p) == (32768, 8, 3)
    book = PinBook(path)
    book.set_pin("technician-1", "Example Technician", PIN, at(0))
    kept = json.loads(path.read_text())["people"]["technician-1"]["pin"]
    assert (kept["n"], kept["r"], kept["p"]) == (32768, 8, 3)
    assert book.check("technician-1", PIN, at(1)) == Accepted()


def test_the_right_pin_is_accepted_and_the_wrong_one_is_told_how_many_tries_are_left(
    book: PinBook,
) -> None:
    assert book.check("technician-1", WRONG_PIN, at(1)) == Wrong(4)
    assert book.check("technician-1", WRONG_PIN, at(2)) == Wrong(3)
    assert book.check("technician-1", PIN, at(3)) == Accepted()
    assert book.check("technician-1", WRONG_PIN, at(4)) == Wrong(4), "counted in a row only"


def test_nobody_unknown_retired_or_without_a_pin_is_accepted(book: PinBook) -> None:
    book.register("apprentice-1", "Example Apprentice", at(0))
    book.retire("technician-1", "Example Technician", at(1))
    for person in ("technician-1", "apprentice-1", "nobody", ""):
        assert book.check(person, PIN, at(2)) == NoPin()


def test_five_wrong_tries_lock_even_the_right_pin_out_for_a_minute(book: PinBook) -> None:
    assert wrong(book, 5, at(10)) == Locked("2026-03-02T09:01:10Z", 60)
    assert book.check("technician-1", PIN, at(69)) == Locked("2026-03-02T09:01:10Z", 1)
    assert book.check("technician-1", PIN, at(70)) == Accepted()


def test_each_further_wrong_try_locks_for_twice_as_long_up_to_an_hour_and_the_hundredth_for_good(
    book: PinBook,
) -> None:
    now, waits = 0.0, []
    wrong(book, 4, at(now))
    while True:
        outcome = wrong(book, 1, at(now))
        assert isinstance(outcome, Locked)
        if outcome.until is None:
            break
        waits.append(outcome.wait_s)
        now += outcome.wait_s
    assert waits[:8] == [60, 120, 240, 480, 960, 1920, 3600, 3600]
    assert len(waits) + 5 == DEAD_AFTER
    assert isinstance(book.check("technician-1", PIN, at(now + 1e7)), Locked)
    book.set_pin("technician-1", "Example Technician", OTHER_PIN, at(now + 1e7))
    assert book.check("technician-1", OTHER_PIN, at(now + 1e7)) == Accepted()


@pytest.mark.parametrize("wall_s", [-1e6, 0, 1e6])
def test_setting_the_wall_clock_neither_way_shortens_a_lock_out(
    book: PinBook, wall_s: float
) -> None:
    wrong(book, 5, at(10))
    assert isinstance(book.check("technician-1", PIN, at(40, wall_s=wall_s)), Locked)


def test_a_running_clock_that_went_back_credits_nothing(book: PinBook) -> None:
    wrong(book, 5, at(1000))
    assert book.check("technician-1", PIN, at(500)) == Locked("2026-03-02T09:09:20Z", 60)


def test_a_restart_of_the_computer_keeps_what_was_left_of_a_lock_out(
    book: PinBook, path: Path
) -> None:
    wrong(book, 5, at(10))
    assert isinstance(book.check("technician-1", PIN, at(40)), Locked)
    again = PinBook(path, CHEAP)
    held = again.check("technician-1", PIN, at(5000, boot="boot-2"))
    assert isinstance(held, Locked) and held.wait_s == 30
    assert again.check("technician-1", PIN, at(5030, boot="boot-2")) == Accepted()


def test_what_can_be_no_pin_costs_no_try_and_is_never_accepted(book: PinBook) -> None:
    for text in ("", "12", "4821 ", "４８２１", "48a1", "4821\n", "9" * 1000):
        assert book.check("technician-1", text, at(1)) == Wrong(5)


@given(st.text(max_size=12) | st.from_regex(r"[0-9]{3,9}", fullmatch=True))
@settings(max_examples=60, deadline=None)
def test_only_4_to_8_plain_digits_are_ever_taken(text: str) -> None:
    if not why_not(text):
        assert text.isascii() and text.isdigit() and 4 <= len(text) <= 8
        assert len(set(text)) > 1
    assert len(text) < 4 or text not in why_not(text)


@pytest.mark.parametrize(
    "pin",
    ["0000", "77777", "1234", "01234567", "7890", "9876", "3210", "1212", "123123", "12341234",
     "1984", "2026", "2580", "147258"],
)  # fmt: skip
def test_a_pin_that_is_tried_first_is_refused(book: PinBook, pin: str) -> None:
    with pytest.raises(PinRefused) as error:
        book.set_pin("technician-1", "Example Technician", pin, at(1))
    assert pin not in str(error.value)
    assert book.check("technician-1", PIN, at(2)) == Accepted(), "the old one stands"


def test_most_pins_are_taken() -> None:
    refused = sum(bool(why_not(f"{number:04}")) for number in range(10_000))
    assert 200 < refused < 350


def test_two_people_cannot_have_one_pin_and_the_refusal_does_not_say_whose_it_is(
    book: PinBook,
) -> None:
    with pytest.raises(PinRefused) as taken:
        book.set_pin("apprentice-1", "Example Apprentice", PIN, at(1))
    with pytest.raises(PinRefused) as obvious:
        book.set_pin("apprentice-1", "Example Apprentice", "1234", at(1))
    assert str(taken.value) == str(obvious.value)
    assert "echnician" not in str(taken.value)
    assert book.check("apprentice-1", PIN, at(2)) == NoPin()


def test_a_colleagues_pin_cannot_be_found_by_choosing_pins_one_after_the_other(
    book: PinBook,
) -> None:
    for _ in range(5):
        with pytest.raises(PinRefused, match="tried first"):
            book.set_pin("apprentice-1", "Example Apprentice", PIN, at(1))
    with pytest.raises(PinRefused, match="too many"):
        book.set_pin("apprentice-1", "Example Apprentice", OTHER_PIN, at(2))
    book.set_pin("apprentice-1", "Example Apprentice", OTHER_PIN, at(62))
    with pytest.raises(PinRefused):
        book.set_pin("apprentice-1", "Example Apprentice", PIN, at(63))
    with pytest.raises(PinRefused, match="too many"):
        book.set_pin("apprentice-1", "Example Apprentice", "7351", at(64))


def test_an_id_is_never_given_to_a_second_person_nor_opened_again(book: PinBook) -> None:
    for call in (book.register, book.retire):
        with pytest.raises(IdTaken, match=r"'technician-1'.*Example Technician's since 2026-03-02"):
            call("technician-1", "Somebody Else", at(1))
    book.register("technician-1", " example  TECHNICIAN ", at(1))
    book.retire("technician-1", "Example Technician", at(2))
    book.retire("technician-1", "Example Technician", at(3))
    for name in ("Example Technician", "Somebody Else"):
        with pytest.raises(IdTaken):
            book.set_pin("technician-1", name, OTHER_PIN, at(4))
    assert book.known()["technician-1"].retired == at(2).utc


def test_the_same_pin_of_one_person_set_twice_gives_another_salt_and_hash(
    book: PinBook, path: Path
) -> None:
    first = book.known()["technician-1"].pin
    book.set_pin("technician-1", "Example Technician", PIN, at(1))
    second = book.known()["technician-1"].pin
    assert first and second and first.salt != second.salt and first.hash != second.hash


def test_no_pin_stands_in_the_file_a_repr_an_error_a_traceback_or_a_log(
    book: PinBook, path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    said = io.StringIO()
    digits = "0417392"
    secret, longer, third = "6" + digits, f"6{digits}9", "8" + digits
    book.set_pin("technician-1", "Example Technician", secret, at(1))
    outcomes = [book.check("technician-1", secret, at(2)), wrong(book, 6, at(3))]
    for attempt in (
        lambda: book.set_pin("apprentice-1", "Example Apprentice", secret, at(4)),
        lambda: book.set_pin("technician-1", "Somebody Else", secret, at(4)),
        lambda: book.set_pin("apprentice-1", "Example Apprentice", longer, at(4)),
        lambda: PinBook(path, Cost(3, 1, 1)).set_pin("x", "X", third, at(4)),
    ):
        try:
            attempt()
        except Exception:
            traceback.print_exc(file=said)
    everything = (
        path.read_text() + said.getvalue() + caplog.text + repr(book.known()) + repr(outcomes)
    )
    assert said.getvalue().count("Traceback") >= 4
    assert digits not in everything
    assert book.known()["technician-1"].pin is not None
    kept = book.known()["technician-1"].pin
    assert isinstance(kept, PinRecord) and kept.hash.hex() not in repr(kept)


def test_the_book_is_for_its_owner_only_whatever_the_umask(quick: Path) -> None:
    before = os.umask(0)
    try:
        PinBook(quick / "people.json", CHEAP).set_pin("a", "A", PIN, at(0))
    finally:
        os.umask(before)
    for made in quick.iterdir():
        assert made.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize(
    "raw",
    [b"", b"{}", b"\xff", b"[]", b'{"schema":2,"people":{}}', b'{"schema":1,"people":[]}',
     b'{"schema":1,"people":{"a":{}}}', b'{"schema":1,"schema":1,"people":{}}', b"x" * 2_000_000,
     b"[" * 100_000],
)  # fmt: skip
def test_a_damaged_or_foreign_book_accepts_nobody_and_is_left_as_it_is(
    book: PinBook, path: Path, raw: bytes
) -> None:
    path.write_bytes(raw)
    for call in (
        lambda: book.check("technician-1", PIN, at(1)),
        lambda: book.set_pin("technician-1", "Example Technician", OTHER_PIN, at(1)),
        lambda: book.register("b", "B", at(1)),
    ):
        with pytest.raises(BadPinBook, match="backup"):
            call()
    assert path.read_bytes() == raw


def test_every_single_member_of_the_book_made_senseless_is_found(book: PinBook, path: Path) -> None:
    wrong(book, 5, at(1))
    whole = json.loads(path.read_text())

    def places(value: object, way: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
        if not isinstance(value, dict):
            return [way]
        return [place for key in value for place in places(value[key], (*way, key))]

    for way in places(whole):
        broken = json.loads(path.read_text())
        room = broken
        for key in way[:-1]:
            room = room[key]
        room[way[-1]] = {"odd": [1]}
        other = path.with_name("broken.json")
        other.write_text(json.dumps(broken))
        with pytest.raises(BadPinBook):
            PinBook(other, CHEAP).check("technician-1", PIN, at(1))


class FailingDisk(Disk):
    """Writes fail from the ``after``-th on."""

    def __init__(self, after: int) -> None:
        self.left = after

    def write(self, fd: int, data: bytes) -> int:
        self.left -= 1
        if self.left < 0:
            raise OSError(28, "no space")
        return super().write(fd, data)


def test_a_try_that_cannot_be_counted_is_not_looked_at(book: PinBook, path: Path) -> None:
    for after in (0, 1):
        with pytest.raises(JournalFailed, match="disk is full"):
            PinBook(path, CHEAP, FailingDisk(after)).check("technician-1", PIN, at(1))
    assert book.check("technician-1", WRONG_PIN, at(2)) == Wrong(3), "the second was counted"


def test_in_a_folder_that_nobody_may_write_nobody_is_accepted(book: PinBook, path: Path) -> None:
    if os.geteuid() == 0:

        class ReadOnly(Disk):
            def open(self, path: Path, flags: int) -> int:
                if flags & (os.O_WRONLY | os.O_RDWR):
                    raise OSError(30, "read-only")
                return super().open(path, flags)

        book = PinBook(path, CHEAP, ReadOnly())
    else:
        path.parent.chmod(0o500)
    try:
        with pytest.raises(JournalFailed, match=r"permission|read-only"):
            book.check("technician-1", PIN, at(1))
    finally:
        path.parent.chmod(0o700)


_TRY = """
import sys
from pathlib import Path
from steplatch.runner.workshop.pin_file import Cost
from steplatch.runner.workshop.pins import PinBook
book = PinBook(Path(sys.argv[1]), Cost(2, 1, 1))
for _ in range(int(sys.argv[3])):
    print(type(book.check("technician-1", sys.argv[2])).__name__)
"""


def test_two_programs_guessing_at_once_have_five_tries_together(path: Path) -> None:
    PinBook(path, CHEAP).set_pin("technician-1", "Example Technician", PIN)
    programs = [
        subprocess.Popen(
            [sys.executable, "-c", _TRY, str(path), WRONG_PIN, "20"],
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": "."},
        )
        for _ in range(2)
    ]
    said = [program.communicate(timeout=60)[0].split() for program in programs]
    assert [p.returncode for p in programs] == [0, 0]
    together = said[0] + said[1]
    assert (together.count("Wrong"), together.count("Locked")) == (4, 36)
    entry = PinBook(path, CHEAP).known()["technician-1"]
    assert entry.tries.count == 5


def test_a_person_whose_program_died_while_a_try_was_counted_has_one_try_less(
    book: PinBook, path: Path
) -> None:
    entries = book.known()
    entry = entries["technician-1"]
    assert entry.tries.count == 0

    class Dies(Disk):
        def replace(self, source: Path, target: Path) -> None:
            super().replace(source, target)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        PinBook(path, CHEAP, Dies()).check("technician-1", PIN, at(1))
    assert book.known()["technician-1"] == replace(entry, tries=replace(entry.tries, count=1))


def test_the_lock_out_grows_and_never_shrinks() -> None:
    waits = [lock_s(count) for count in range(200)]
    assert waits == sorted(waits) and waits[4] == 0 and waits[5] == 60 and waits[-1] == 3600


def test_a_name_that_could_break_a_screen_is_refused(book: PinBook) -> None:
    for name in ("", "  ", "a\x1b[2J", "two\nlines", "x" * 201):
        with pytest.raises(RecordError):
            book.register("b", name, at(1))
