"""Writes the measured figures: ``python -m tests.assess.measured_figures``.

Counts come from fixed seeds and are compared with the page by ``test_coverage``; the times are
those of the machine that wrote the page.
"""

import platform
import statistics
import time
from dataclasses import replace

from steplatch.runner.assess.judge import judge
from steplatch.runner.readings.logs import read_log
from steplatch.runner.readings.steady import steady_windows

from tests.assess.measured_holds import AS_SAID, CHANCES, known, row, watched
from tests.assess.simulated_holds import KINDS, draw_hold, draw_other
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
    seeds = range(POOR, POOR + POOR_CASES)
    cases = {
        "air flow and recirculation unknown": tally(without_air, seeds=seeds),
        "the same, and the valve does not repeat": tally(without_air, wanders=True, seeds=seeds),
        "whole kPa": tally(whole_kpa, seeds=seeds),
        "one hose": tally(with_all_behind, one_hose=True, seeds=seeds),
        "one hose, large gains": tally(with_all_behind, one_hose=True, large=True, seeds=seeds),
    }
    return [
        f"Poor readings, first seed {POOR}:",
        "",
        "| poor readings | inside the 95 % interval | share | sound, yet called contradictory |",
        "|---|---|---|---|",
        *(
            f"| {name} | {got.inside} of {got.compared} "
            f"| {100 * got.inside / got.compared:.1f} % | {got.disagree} |"
            for name, got in cases.items()
        ),
    ]


POOR, POOR_CASES = 300_000, 400


def _holds() -> list[str]:
    """Simulated holds: ``simulated_holds``, each reading judged as it comes."""
    rows = []
    for name, draw_one in (("", draw_hold), ("other holds, ", draw_other)):
        for how, reads in READ.items():
            count = HOLDS_QUICK if reads == QUICK else HOLDS
            seen = [watched(draw_one(seed, *reads)) for seed in range(count)]
            rows.append(row(f"the program: {name}{how}", AS_SAID, seen))
            if draw_one is draw_hold:
                rows += [
                    row(f"the program: {how}, {kind}", AS_SAID,
                        [w for w in seen if w.hold.kind == kind])
                    for kind in KINDS
                ]  # fmt: skip
                rows += [row(f"chance alone: {how}", (c,), seen) for c in CHANCES]
    for how, reads in READ.items():
        holds = [draw_hold(seed, *reads) for seed in range(HOLDS)]
        for told in (True, False):
            best = [known(hold, told) for hold in holds]
            who = f"knowing, {'told of shelves' if told else 'not told'}: {how}"
            rows += [row(who, rule, best) for rule in ((0.9,), (0.95,), AS_SAID, KNOWING)]
    return [
        '"Levelled" over simulated holds, as a person reads them (every 30 or 60 s, mostly in',
        "whole mbar) and as a vehicle could give them (every 20 s in steps of 0.1 mbar), over the",
        "chances from which it is said: that it is level, or that it is likely level and gets so",
        "within two minutes before or after. The second spends the errors that are allowed where",
        "they are small and buy time: on quick falls. Asked for: wrong in 5 % at most, within 2",
        "minutes of the true time in half. The chances were chosen over seeds 5000 to 5239 and",
        "over holds of another family (stretched falls, shelves that end gradually:",
        "`draw_other`); the rows are other seeds of both. The program does not meet the second.",
        "Below it stands an observer who knows how the holds are drawn, their scatter and when a",
        "shelf ends (`knowing_observer.py`), once also told that the fall after a shelf has no",
        "slow part. Nobody is told that. Without it he falls short of half at 5 % wrong, and so",
        "must every rule: a slow part that hides in the scatter is not seen before it has had",
        "time to show. What is left between him and the program is what it allows for beyond",
        "these holds.",
        "",
        "| who: holds | chance | cases | wrong | within 2 min | never | median, min late |",
        "|---|---|---|---|---|---|---|",
        *rows,
    ]


HOLDS, HOLDS_QUICK = 120, 60
QUICK = (20.0, 0.1)
READ: dict[str, tuple[float | None, float | None]] = {
    "as typed": (None, None),
    "every 20 s, 0.1 mbar": QUICK,
}
KNOWING = (0.98, 0.7, 0.7)
"""The best of these rules for the observer who is not told, by seeds 5000 to 5239."""


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
