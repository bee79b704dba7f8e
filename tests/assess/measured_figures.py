"""Writes the measured figures: ``python -m tests.assess.measured_figures``.

Counts come from fixed seeds and are compared with the page by ``test_coverage``; the times are
those of the machine that wrote the page.
"""

import platform
import time

from steplatch.runner.readings.logs import read_log
from steplatch.runner.readings.steady import steady_windows

from tests.assess.measured_holds import over
from tests.assess.simulated_holds import KINDS
from tests.assess.test_coverage import (
    FIRST_SEED,
    HEALTHY,
    NAMED,
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
    said = over(range(HOLDS))
    rows = []
    for kind in KINDS:
        mine = [one for one in said if one.hold.kind == kind]
        late = sorted(one.late_min for one in mine if one.late_min is not None)
        rows.append(
            f"| {kind} | {len(mine)} | {sum(one.wrong for one in mine)} | "
            f"{sum(abs(one) <= 2 for one in late)} | {len(mine) - len(late)} | "
            f"{late[len(late) // 2]:+.1f} |"
        )
    return [
        '"Levelled" over simulated holds (asked for: wrong in 5 % at most, within 2 minutes of the',
        "true time in half; neither is met, double falls are what is wrong; whoever knew the time",
        "constants would be within 2 minutes in 95 %):",
        "",
        "| hold | cases | wrong | within 2 min | never said | median, min after the true time |",
        "|---|---|---|---|---|---|",
        *rows,
    ]


HOLDS = 45


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
