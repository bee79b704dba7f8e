"""``steplatch check --kernel``: what it says, what it counts, and when it fails."""

import json
import sys
from typing import Any

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.runner.proof import kernel_check
from steplatch.runner.proof.kernel_check import is_proven, kernel_lines, kernel_report, search_one
from steplatch.runner.system import over_cores
from steplatch.safety.verify.kernel_model import LIMITS
from steplatch.safety.verify.monitors import need_monitors
from steplatch.safety.verify.search import SearchCapped

from tests.safety.test_kernel_counts import COUNTS

FEW = ("couple-hose-off", "spray-kit", "latched-stub")
"""Monitors whose searches are small: hose, kit, the trip of a snapped stub."""
ALL = need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
STATES = sum(COUNTS[name][0] for name in ("hose", "kit", "trip stub"))
TRANSITIONS = sum(COUNTS[name][1] for name in ("hose", "kit", "trip stub"))


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only those monitors, in this process."""
    monitors = tuple(monitor for monitor in ALL if monitor.name in FEW)
    monkeypatch.setattr(kernel_check, "need_monitors", lambda *limits: monitors)
    monkeypatch.setattr(kernel_check, "alarm_monitors", lambda: ())
    monkeypatch.setattr(kernel_check, "MOST_PROCESSES", 1)


def check(*options: str) -> int:
    return main(["check", str(PROCEDURES / "clean-above.yaml"), "--kernel", *options])


@pytest.mark.usefixtures("few")
def test_the_json_has_totals_in_which_every_search_counts_once(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert check("--json") == exits.OK
    said = json.loads(capsys.readouterr().out)["kernel"]
    assert (said["states"], said["transitions"]) == (STATES, TRANSITIONS)
    assert said["seconds"] > 0 and said["processor_seconds"] > 0
    assert said["missed"] == []
    assert {row["monitor"] for row in said["monitors"]} == set(FEW)
    for row in said["monitors"]:
        assert {"states", "transitions", "seconds", "breaches", "missed"} < set(row)


@pytest.mark.usefixtures("few")
def test_a_search_that_serves_two_monitors_counts_once_in_the_totals(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    twice = tuple(m for m in ALL if m.name in ("couple-hose-off", "read-hose-on"))
    monkeypatch.setattr(kernel_check, "need_monitors", lambda *limits: twice)
    report = kernel_report()
    assert (report["states"], report["transitions"]) == COUNTS["hose"]
    assert [row["states"] for row in report["monitors"]] == [COUNTS["hose"][0]] * 2


@pytest.mark.usefixtures("few")
def test_the_words_give_the_figure_of_transitions_a_second(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert check() == exits.OK
    total = capsys.readouterr().out.splitlines()[-1]
    assert total.startswith(f"total  {STATES} states, {TRANSITIONS} transitions, ")
    assert "transitions a second" in total and "on one process" in total


@pytest.mark.usefixtures("few")
def test_a_small_cap_ends_the_check_with_its_message_and_a_code_that_is_not_ok(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(kernel_check, "CAP", 50)
    assert check() == exits.UNSAFE != exits.OK
    said = capsys.readouterr()
    assert "more than 50 states in the search of '" in said.err
    assert "nothing is proven" in said.err
    assert "proven" not in said.out


@pytest.mark.usefixtures("few")
def test_something_that_no_way_meets_makes_the_check_fail_and_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(kernel_check, "never_met", lambda: ("permitted: start",))
    assert check() == exits.UNSAFE
    out = capsys.readouterr().out
    assert "UNSAFE  49 of 50 things that must be possible" in out
    assert "  never: permitted: start [sometimes]" in out


@pytest.mark.usefixtures("few")
@pytest.mark.parametrize("half", ["never_believed", "never_permitted"])
def test_a_monitor_that_nothing_could_break_makes_the_check_fail(
    monkeypatch: pytest.MonkeyPatch, half: str
) -> None:
    monkeypatch.setattr(kernel_check, half, lambda *asked: ("something",))
    report = kernel_report()
    assert not is_proven(report)
    assert sum(line.startswith("UNSAFE") for line in kernel_lines(report)) == len(FEW)
    assert sum(line.startswith("  never: ") for line in kernel_lines(report)) == len(FEW)


@pytest.mark.usefixtures("few")
def test_where_no_process_can_be_made_the_searches_run_in_this_one_and_it_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def no_pool(*asked: Any, **more: Any) -> Any:
        raise OSError("no semaphores here")

    monkeypatch.setattr(over_cores, "get_context", no_pool)
    report = kernel_report(processes=2)
    assert report["run"] == ("one process, for no more could be made (OSError: no semaphores here)")
    assert report["transitions"] == TRANSITIONS


@pytest.mark.usefixtures("few")
def test_two_processes_count_what_one_counts_and_hand_a_cap_out() -> None:
    report = kernel_report(processes=2)
    assert report["run"] == "2 processes"
    assert (report["states"], report["transitions"]) == (STATES, TRANSITIONS)
    with pytest.raises(SearchCapped, match="more than 20 states in the search of "):
        kernel_report(processes=2, cap=20)


@pytest.mark.skipif(sys.gettrace() is not None, reason="a trace function slows every line")
def test_the_kernel_is_searched_at_100_000_transitions_a_second_or_better() -> None:
    """Of processor time, in one process; the quickest of three, for other programs slow it."""
    best = 0.0
    for _ in range(3):
        one = search_one(("line", 10_000))
        best = max(best, one.transitions / one.seconds)
        if best >= 100_000:
            break
    assert best >= 100_000


@pytest.mark.slow
def test_the_whole_table_is_proven_with_the_pinned_totals() -> None:
    report = kernel_report()
    assert is_proven(report), kernel_lines(report)
    alarms = {row["monitor"]: row for row in report["monitors"] if row["monitor"][:5] == "alarm"}
    counts = [*COUNTS.values(), *((a["states"], a["transitions"]) for a in alarms.values())]
    assert len(alarms) == 3
    assert report["states"] == sum(states for states, _ in counts) == 94_030
    assert report["transitions"] == sum(transitions for _, transitions in counts) == 2_123_595
