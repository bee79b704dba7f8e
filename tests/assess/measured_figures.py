"""Writes the measured figures: ``python -m tests.assess.measured_figures``.

Counts come from fixed seeds and are compared with the page by ``test_coverage``; the times are
those of the machine that wrote the page.
"""

import platform
import statistics
import time
from dataclasses import replace

from steplatch.runner.assess import plateau
from steplatch.runner.assess.judge import judge
from steplatch.runner.readings.logs import read_log
from steplatch.runner.readings.steady import steady_windows

from tests.assess.measured_holds import CHANCES, known, row, watched
from tests.assess.simulated_holds import KINDS, draw_hold
from tests.assess.simulated_readings import draw, take
from tests.assess.test_coverage import (
    FIRST_SEED,
    HEALTHY,
    NAMED,
    UNCHANGED,
    fault_cases,
    fault_row,
    healthy_cases,
    healthy_rows,
    see,
    share_within,
)
from tests.assess.test_shared_terms import tally, whole_kpa, with_all_behind, without_air
from tests.readings.test_logs import drive


def page() -> str:
    """The page as Markdown."""
    return "\n".join(
        [
            "# Measured figures",
            "",
            "Random vehicles, conditions and faults (`simulated_readings.py`) judged by a sum that",
            "shares no code with them. Written by `python -m tests.assess.measured_figures`; the",
            f"counts are checked by `test_coverage.py`. First seed {FIRST_SEED}.",
            "",
            "| healthy cases | count | share | asked for |",
            "|---|---|---|---|",
            *healthy_rows(healthy_cases()),
            "",
            "The same over further seeds, which no test pins:",
            "",
            "| first seed | inside the 95 % interval | flagged or questioned |",
            "|---|---|---|",
            *(_further(first) for first in FURTHER),
            "",
            "| planted fault | cases | flagged | named |",
            "|---|---|---|---|",
            *(fault_row(fault, fault_cases(fault)) for fault in NAMED),
            "",
            *_said_wrongly(),
            "",
            *_poor(),
            "",
            *_holds(),
            "",
            *_times(),
            "",
        ]
    )


FURTHER = (1000, 40_000, 70_000, 90_000)


def _further(first: int) -> str:
    cases = [see(first + i) for i in range(HEALTHY)]
    stands = [s.z for s in cases if s.result.gain is not None]
    alarms = sum(bool(s.said) for s in cases)
    return (
        f"| {first} | {100 * share_within(stands, 1.96):.1f} % of {len(stands)} | "
        f"{100 * alarms / len(cases):.1f} % |"
    )


def _said_wrongly() -> list[str]:
    """Verdicts on sound readings of filters that were cleaned, and of ones that were not."""
    drawn = [draw(FIRST_SEED + i) for i in range(HEALTHY)]
    unchanged = [replace(t, clean=t.blocked) for t in (draw(UNCHANGED + i) for i in range(HEALTHY))]
    cleaned, same = (
        [judge(c.before, c.after, None, c.vehicle, c.workshop, c.facts) for c in map(take, truths)]
        for truths in (drawn, unchanged)
    )
    widths = [v.gain.high_percent - v.gain.low_percent for v in cleaned if v.gain is not None]

    def share(count: int) -> str:
        return f"{100 * count / HEALTHY:.1f} %"

    damaged = sum(v.facts["level"] in ("low", "near_low") for v in (*cleaned, *same))
    return [
        "Verdicts on sound full readings, 500 filters made easier and 500 left as they were:",
        "",
        "| verdict | share | asked for |",
        "|---|---|---|",
        f"| contradictory, made easier | {share(sum(v.state == 'contradictory' for v in cleaned))} "
        "| 2 % at most |",
        f"| contradictory, left as it was | {share(sum(v.state == 'contradictory' for v in same))} "
        "| 2 % at most |",
        f"| better, left as it was | {share(sum(v.facts['gain'] == 'better' for v in same))} "
        "| 1 % at most |",
        f"| damage suspected, of both | {100 * damaged / (2 * HEALTHY):.1f} % | 1 % at most |",
        f"| median width of the interval, points | {statistics.median(widths):.1f} | 15 at most |",
    ]


def _poor() -> list[str]:
    """Readings of poor vehicles: ``test_shared_terms``."""
    cases = {
        "air flow and recirculation unknown": tally(without_air),
        "whole kPa": tally(whole_kpa),
        "one hose": tally(with_all_behind, one_hose=True),
        "one hose, large gains": tally(with_all_behind, one_hose=True, large=True),
    }
    return [
        "| poor readings | inside the 95 % interval | sound, yet called contradictory |",
        "|---|---|---|",
        *(
            f"| {name} | {got.inside} of {got.compared} | {got.disagree} |"
            for name, got in cases.items()
        ),
    ]


def _holds() -> list[str]:
    """Simulated holds: ``simulated_holds``, each reading judged as it comes."""
    as_typed = [draw_hold(seed) for seed in range(HOLDS)]
    seen = [watched(hold) for hold in as_typed]
    sure = plateau.SURE_LEVEL_SHARE
    rows = [
        row(f"the program: {kind}", sure, [w.said(sure) for w in seen if w.hold.kind == kind])
        for kind in KINDS
    ]
    rows += [row("the program: all", c, [w.said(c) for w in seen]) for c in CHANCES]
    quick = [watched(draw_hold(seed, *QUICK)) for seed in range(HOLDS_QUICK)]
    rows += [row("the program: every 20 s, 0.1 mbar", c, [w.said(c) for w in quick])
             for c in CHANCES[3:]]  # fmt: skip
    for name, (every_s, step_mbar) in KNOWN.items():
        holds = [draw_hold(seed, every_s, step_mbar) for seed in range(HOLDS)]
        for told in (True, False):
            best = [known(hold, told) for hold in holds]
            who = "told of shelves" if told else "not told"
            rows += [row(f"knowing, {who}: {name}", c, [w.said(c) for w in best])
                     for c in CHANCES[2:]]  # fmt: skip
    return [
        '"Levelled" over simulated holds, read every 30 or 60 s and mostly in whole mbar, over the',
        f"chance from which it is said (the program: {sure}). Asked for: wrong in 5 % at most,",
        "within 2 minutes of the true time in half. The program meets the first and not the",
        "second. Below it stands an observer who knows how the holds are drawn, their scatter and",
        "when a shelf ends (`knowing_observer.py`). With readings as a person takes them he does",
        "not meet both either, so no rule can. Read every 20 s in steps of 0.1 mbar, as a vehicle",
        "could give it, he comes near to it where he is also told that the fall after a shelf has",
        "no slow part. Nobody is told that: without it he falls far short, and so must every rule.",
        "What is left between him and the program is what it allows for beyond these holds.",
        "",
        "| who: hold | chance | cases | wrong | within 2 min | never | median, min late |",
        "|---|---|---|---|---|---|---|",
        *rows,
    ]


HOLDS = 120
HOLDS_QUICK = 60
QUICK = (20.0, 0.1)
KNOWN = {"as the program reads": (None, None), "every 20 s, 0.1 mbar": QUICK}


def _times() -> list[str]:
    data = drive(4, seconds_a_hold=6667.0)
    read_log(drive(5))
    start = time.process_time()
    log = read_log(data)
    read = time.process_time()
    steady_windows(log)
    end = time.process_time()
    return [
        f"A log of {len(log.time_s)} rows ({len(data) / 1e6:.1f} MB) was read in "
        f"{read - start:.1f} s and searched for",
        f"steady windows in {end - read:.1f} s of processor time "
        f"({platform.machine()}, Python {platform.python_version()}).",
    ]


if __name__ == "__main__":
    print(page(), end="")
