"""``steplatch check --kernel``: the proof of the interlock table, run here and now.

Two halves for each invariant that has a monitor (see ``safety.kernel_proof``): no fact that
the tool believes is false, and nothing that is permitted misses what the invariant needs.
"""

import time
from typing import Any

from safety.kernel_model import LIMITS
from safety.kernel_proof import gaps, prove_belief, told
from safety.monitors import need_monitors


def kernel_rows() -> list[dict[str, Any]]:
    """One row a monitor: states and transitions searched, seconds, what breaks it."""
    rows: list[dict[str, Any]] = []
    known: dict[tuple[str, ...], Any] = {}
    for monitor in need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running):
        begun = time.perf_counter()
        states = transitions = 0
        breaches: list[str] = []
        for strand in monitor.strands:
            if strand.facts not in known:
                known[strand.facts] = prove_belief(strand)[1]
            found = known[strand.facts]
            states += found.states
            transitions += found.transitions
            breaches += [told(breach) for breach in found.breaches]
        for bay, ask, truth in gaps(monitor):
            breaches.append(f"{ask.act.value} is permitted at {bay} although truly {truth}")
            break
        rows.append(
            {
                "monitor": monitor.name,
                "states": states,
                "transitions": transitions,
                "seconds": round(time.perf_counter() - begun, 3),
                "breaches": breaches,
            }
        )
    return rows


def kernel_lines(rows: list[dict[str, Any]]) -> list[str]:
    """The rows in words, with what breaks a monitor below it."""
    out = []
    for row in rows:
        out.append(
            f"{'UNSAFE' if row['breaches'] else 'proven'}  {row['monitor']:24} "
            f"{row['states']} states, {row['transitions']} transitions, {row['seconds']} s"
        )
        out += [f"  {breach}" for breach in row["breaches"]]
    return out
