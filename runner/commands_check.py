"""``steplatch check``: load procedures, search them, prove the interlock table."""

import argparse
from pathlib import Path
from typing import Any

from runner import exits
from runner.commands_line import fail, print_json


def check(args: argparse.Namespace) -> int:
    """Load and check procedures; ``--prove`` searches main procedures with their recoveries and
    cards, ``--mishaps`` with one mishap a trace as well, ``--kernel`` proves the table.

    A search that outgrows its cap proves nothing: it says so, and the exit code is UNSAFE."""
    from safety.search import SearchCapped

    try:
        return _check(args)
    except SearchCapped as capped:
        return fail(exits.UNSAFE, capped)


def _check(args: argparse.Namespace) -> int:
    from runner.bundle import PROCEDURES
    from runner.procedure import load_procedure

    rows: list[dict[str, Any]] = []
    lines: list[str] = []
    safe = True
    for path in args.files or sorted(PROCEDURES.glob("*.yaml")):
        procedure, document = load_procedure(path)
        row: dict[str, Any] = {
            "file": str(path),
            "id": procedure.id,
            "revision": procedure.revision,
            "role": procedure.role,
            "stages": len(procedure.stages),
            "steps": len(procedure.steps()),
            "sha256": document.sha256_of_bytes,
        }
        lines.append(
            f"loads  {procedure.id:22} revision {procedure.revision}, {row['stages']} stages, "
            f"{row['steps']} steps  ({path})"
        )
        if (args.prove or args.mishaps) and procedure.role == "main":
            proven = _prove(path, args.mishaps, row, lines)
            safe = safe and proven
        rows.append(row)
    said: dict[str, Any] = {"procedures": rows}
    if args.kernel:
        from runner.kernel_check import is_proven, kernel_lines, kernel_report

        said["kernel"] = kernel_report()
        lines += kernel_lines(said["kernel"])
        safe = is_proven(said["kernel"]) and safe
    if args.json:
        print_json(said)
    else:
        print("\n".join(lines))
    return exits.OK if safe else exits.UNSAFE


def _prove(path: Path, mishaps: bool, row: dict[str, Any], lines: list[str]) -> bool:
    """Search one main procedure with the recoveries beside it; False when a fault was found."""
    from time import perf_counter

    from runner.bundle import PROCEDURES
    from runner.proof.runs import prove_main, steps_never_reached
    from runner.proof.words import check_json, check_lines
    from safety.rests_on import honesty_rows

    begun = perf_counter()
    results = prove_main(path, PROCEDURES, mishaps)
    seconds = perf_counter() - begun
    missed = steps_never_reached(path, PROCEDURES, results)
    for result in results:
        lines += check_lines(result)
    states = sum(result.states for result in results)
    transitions = sum(result.transitions for result in results)
    lines.append(
        f"total  {row['id']}: {states} states, {transitions} transitions, {seconds:.1f} s "
        f"in {len(results)} runs"
    )
    lines += [f"  {said} [sometimes]" for said in missed]
    rests = honesty_rows()
    lines.append(
        f"what rests on one honest answer: {len(rests)} false answers are not caught (they stand "
        "in the hazard register, and under --json)"
    )
    row |= {"states": states, "transitions": transitions, "seconds": round(seconds, 3)}
    row["searches"] = [check_json(result) for result in results]
    row["never_reached"] = missed
    row["rests_on_one_honest_answer"] = rests
    return not missed and all(result.proven for result in results)
