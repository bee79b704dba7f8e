"""Counting a burst, waiting, and reading a long text: the real console on a pty."""

import contextlib
import os
import threading
import time
from collections.abc import Iterator

import pytest
from steplatch.runner.screen.talk import Choice, Prompt, Stopped
from steplatch.runner.screen.terminal.big_digits import big
from steplatch.runner.screen.terminal.full_screen import FullScreen
from steplatch.runner.screen.terminal.plain_lines import PlainLines

from tests.console.terminal import PART, Screen


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch) -> Iterator[Screen]:
    monkeypatch.setenv("TERM", "xterm-256color")
    made = Screen(44, 12)
    yield made
    made.close()


def _typing(screen: Screen, *moments: tuple[str, str]) -> threading.Thread:
    """Type each text once its words stand on the screen."""

    def run() -> None:
        for words, text in moments:
            screen.shows(words)
            time.sleep(0.05)
            with contextlib.suppress(OSError):
                screen.type(text)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    return thread


@pytest.fixture(params=[FullScreen, PlainLines])
def talk(request: pytest.FixtureRequest, screen: Screen) -> Iterator[FullScreen | PlainLines]:
    """One screen per step, and plain lines."""
    made: FullScreen | PlainLines = request.param(screen.stdin, screen.stdout)
    yield made
    made.close()


def test_two_key_presses_count_the_burst_and_the_bell_rings_at_the_cap(
    talk: FullScreen | PlainLines, screen: Screen
) -> None:
    _typing(screen, ("rigger opens", ""), ("SHUT NOW", ""))
    begun = time.monotonic()
    seconds = float(talk.count(1.0))
    assert 0.9 < seconds < 2.0
    assert seconds < time.monotonic() - begun + 0.06
    assert screen.rang() and screen.bells[-1] - begun >= 0.9
    talk.close()
    assert screen.shows(f"Counted: {seconds:.1f} s")


def test_a_burst_can_be_stopped_before_and_while_it_is_counted(
    talk: FullScreen | PlainLines, screen: Screen
) -> None:
    _typing(screen, ("rigger opens", "s"))
    with pytest.raises(Stopped):
        talk.count(5.0)
    _typing(screen, ("rigger opens", ""), ("SPRAYING", "s"))
    with pytest.raises(Stopped):
        talk.count(5.0)
    talk.close()
    assert screen.shows("Stopped after"), "the seconds stand on the screen when the card asks"


def test_the_count_is_drawn_big_and_esc_stops_it_at_once(screen: Screen) -> None:
    talk = FullScreen(screen.stdin, screen.stdout)

    def keys() -> None:
        screen.shows("Trigger opens")
        os.write(screen.master, b" ")
        screen.shows("Shut by 5 s")
        screen.shows(big("1")[4].strip())
        os.write(screen.master, b"\x1b")

    threading.Thread(target=keys, daemon=True).start()
    begun = time.monotonic()
    with pytest.raises(Stopped):
        talk.count(5.0)
    assert 0.9 < time.monotonic() - begun < 2.0


def test_what_a_practice_vehicle_lets_be_heard_stands_with_the_count(screen: Screen) -> None:
    talk = FullScreen(screen.stdin, screen.stdout)

    def heard(seconds: float) -> tuple[str, str]:
        return ("HEARD  The note sags: 690 1/min.", "DANGER") if seconds > 0.3 else ("", "")

    def keys() -> None:
        screen.shows("Trigger opens")
        os.write(screen.master, b" ")
        screen.shows("HEARD  The note sags")
        os.write(screen.master, b" ")

    threading.Thread(target=keys, daemon=True).start()
    assert 0.2 < float(talk.count(9.0, heard)) < 3.0
    assert "Shut by 9 s.  PRACTICE" in screen.text(), "a practice count is never taken for real"


def test_a_wait_ends_by_itself_and_enter_does_not_hurry_it(
    talk: FullScreen | PlainLines, screen: Screen
) -> None:
    _typing(screen, ("0:01", ""))
    begun = time.monotonic()
    assert talk.rest(1.0, Prompt("soak", "line", "")) == ""
    assert time.monotonic() - begun >= 1.0
    assert screen.rang()


@pytest.mark.parametrize("typed", ["event", "?"])
def test_a_wait_is_left_by_a_typed_word(
    talk: FullScreen | PlainLines, screen: Screen, typed: str
) -> None:
    _typing(screen, ("0:", typed))
    begun = time.monotonic()
    assert talk.rest(20.0, Prompt("soak", "line", "")) == typed
    assert time.monotonic() - begun < 5


def test_nothing_said_goes_unread_and_the_question_stays_whole(screen: Screen) -> None:
    talk = FullScreen(screen.stdin, screen.stdout)
    two = (Choice("a", "one thing"), Choice("b", "another"))
    prompt = Prompt("k", "choice", "Which?", two, lead=(("DO     Look.", "do"),))
    seen: list[str] = []

    def reading() -> None:
        while not seen or PART in seen[-1]:
            before = seen[-1] if seen else ""
            shown = screen.text()
            end = (shown.rstrip().splitlines() or [""])[-1]
            if (end.endswith(PART) or end == ">") and shown != before:
                time.sleep(0.03)
                seen.append(screen.text())
                screen.type("" if end.endswith(PART) else "2")
            time.sleep(0.01)

    for number in range(24):
        talk.say(f"line {number}.")
    threading.Thread(target=reading, daemon=True).start()
    assert talk.ask(prompt) == "2"
    everything = "\n".join(seen)
    assert [n for n in range(24) if f"line {n}." not in everything] == []
    for words in ("DO     Look.", "1  one thing", "dk", "s stop", "Which?"):
        assert words in seen[-1]
