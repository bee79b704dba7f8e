"""Counting a burst, waiting, and reading a long text: the real console on a pty."""

import contextlib
import threading
import time
from collections.abc import Iterator

import pytest

from runner.console.talk import Choice, LineTalk, Prompt, Stopped
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


def test_two_key_presses_count_the_burst_and_the_bell_rings_at_the_cap(screen: Screen) -> None:
    talk = LineTalk(screen.stdin, screen.stdout)
    _typing(screen, ("trigger opens", ""), ("2 SHUT NOW", ""))
    begun = time.monotonic()
    seconds = float(talk.count(2.0))
    assert 1.9 < seconds < 3.0
    assert seconds < time.monotonic() - begun + 0.06
    assert screen.shows(f"Counted: {seconds:.1f} s")
    assert screen.bells and screen.bells[0] - begun >= 1.9


def test_a_burst_can_be_stopped_before_and_while_it_is_counted(screen: Screen) -> None:
    talk = LineTalk(screen.stdin, screen.stdout)
    _typing(screen, ("trigger opens", "s"))
    with pytest.raises(Stopped):
        talk.count(5.0)
    _typing(screen, ("as the trigger opens", ""), ("SPRAYING", "s"))
    with pytest.raises(Stopped):
        talk.count(5.0)
    assert screen.shows("Counted:"), "the seconds stand on the screen when the card asks"


def test_a_wait_shows_the_time_left_ends_by_itself_and_enter_does_not_hurry_it(
    screen: Screen,
) -> None:
    talk = LineTalk(screen.stdin, screen.stdout)
    _typing(screen, ("0:02 left", ""))
    begun = time.monotonic()
    assert talk.rest(2.0, "soak") == ""
    assert time.monotonic() - begun >= 2.0
    assert "soak: 0:01 left" in screen.text() and "s stop" in screen.text()


@pytest.mark.parametrize("typed", ["s", "event", "?"])
def test_a_wait_is_left_by_a_typed_word(screen: Screen, typed: str) -> None:
    talk = LineTalk(screen.stdin, screen.stdout)
    _typing(screen, ("left", typed))
    begun = time.monotonic()
    assert talk.rest(20.0, "soak") == typed
    assert time.monotonic() - begun < 5


def test_nothing_scrolls_away_unread_and_the_question_stays_whole(screen: Screen) -> None:
    talk = LineTalk(screen.stdin, screen.stdout)
    two = (Choice("a", "one thing"), Choice("b", "another"))
    prompt = Prompt("k", "choice", "Which? Type 1 to 2.", two, lead=(("DO     Look.", "do"),))
    _typing(screen, ("Which?", "1"))
    assert talk.ask(prompt) == "1"
    seen: list[str] = []

    def reading() -> None:
        while not seen or PART in seen[-1]:
            shown = screen.text()
            end = shown.rstrip().splitlines()[-1]
            if end in (PART, ">") and shown not in seen[-1:]:
                time.sleep(0.03)
                seen.append(screen.text())
                screen.type("" if end == PART else "2")
                time.sleep(0.1)
            time.sleep(0.01)

    threading.Thread(target=reading, daemon=True).start()
    for number in range(24):
        talk.say(f"line {number}.")
    assert talk.ask(prompt) == "2"
    everything = "\n".join(seen)
    assert [n for n in range(24) if f"line {n}." not in everything] == []
    for words in ("DO     Look.", "1  one thing", "dk", "s stop", "Which?"):
        assert words in seen[-1]
