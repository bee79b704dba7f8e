"""``steplatch check``: load procedures, search them, prove the interlock table."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from runner import exits
from runner.commands_line import fail, print_json


def check(args: argparse.Namespace) -> int:
    """Load procedures and search each main one with its recoveries and cards: alone, or with one
    mishap a trace as well (``--mishaps``). ``--load`` only loads; ``--kernel`` loads and proves
    the interlock table.

    A search that outgrows its cap proves nothing: it says so, and the exit code is UNSAFE."""
    from safety.search import SearchCapped

    try:
        return _check(args)
    except SearchCapped as capped:
        return fail(exits.UNSAFE, capped)


def _check(args: argparse.Namespace) -> int:
    from runner.bundle import PROCEDURES
    from runner.procedure import load_procedure

    def say(*lines: str) -> None:
        if not args.json:
            print("\n".join(lines), flush=True)

    rows: list[dict[str, Any]] = []
    mains: list[tuple[Path, dict[str, Any]]] = []
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
        say(
            f"loads  {procedure.id:22} revision {procedure.revision}, {row['stages']} stages, "
            f"{row['steps']} steps  ({path})"
        )
        rows.append(row)
        if procedure.role == "main":
            mains.append((path, row))
    said: dict[str, Any] = {"procedures": rows}
    if args.kernel:
        from runner.kernel_check import is_proven, kernel_lines, kernel_report

        said["kernel"] = kernel_report()
        say(*kernel_lines(said["kernel"]))
        safe = is_proven(said["kernel"])
    elif not args.load:
        for path, row in mains:
            safe = _prove(path, args.mishaps, row, say) and safe
        if not mains:
            say("loaded only: recoveries and cards are searched with the main procedure")
    if args.json:
        print_json(said)
    return exits.OK if safe else exits.UNSAFE


def _prove(path: Path, mishaps: bool, row: dict[str, Any], say: Callable[..., None]) -> bool:
    """Search one main procedure with the recoveries beside it; False when a fault was found."""
    from time import perf_counter

    from runner.bundle import PROCEDURES
    from runner.proof.prove import ProofResult
    from runner.proof.runs import prove_main, steps_never_reached
    from runner.proof.words import check_json, check_lines, total_lines, transitions_a_second
    from safety.rests_on import honesty_rows

    say(f"searching {row['id']}: {'some minutes' if mishaps else 'about half a minute'} ...")
    begun = perf_counter()
    results: list[ProofResult] = []
    told: set[tuple[str, ...]] = set()
    for result in prove_main(path, PROCEDURES, mishaps):
        results.append(result)
        say(*check_lines(result, told))
    seconds = perf_counter() - begun
    missed = steps_never_reached(path, PROCEDURES, results)
    say(*total_lines(results, missed, seconds))
    rests = honesty_rows()
    say(
        f"what rests on one honest answer: {len(rests)} false answers are not caught (they stand "
        "in the hazard register, and under --json)"
    )
    row["states"] = sum(result.states for result in results)
    row["transitions"] = sum(result.transitions for result in results)
    row["seconds"] = round(seconds, 3)
    row["transitions_per_second_of_a_process"] = transitions_a_second(results)
    row["searches"] = [check_json(result) for result in results]
    row["never_reached"] = missed
    row["rests_on_one_honest_answer"] = rests
    return not missed and all(result.proven for result in results)
