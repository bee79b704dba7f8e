"""``steplatch check``: load procedures, search them, prove the interlock table."""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, data_to_read, fail, print_json

if TYPE_CHECKING:
    from ..core.procedure import Procedure
    from ..input.findings import Finding
    from ..input.strict_yaml import Document
    from ..proof.prove import ProofResult
    from ..proof.runs import Run

SHIPPED_CLEAN = "clean-above"
"""The shipped main procedure within which a recovery or card is searched that is checked alone."""


def add_to(add: Add) -> None:
    """``check`` and ``matrix``."""
    options = add(
        "check",
        _("load procedures and prove them (some seconds)"),
        "steplatch check procedures/clean-above.yaml",
        check,
    )
    options.add_argument(
        "files", nargs="*", metavar=_("NAME_OR_FILE"), help=_("default: all that are shipped")
    )
    options.add_argument("--json", action="store_true", help=_("one JSON object"))
    options.add_argument(
        "--vehicle",
        type=Path,
        metavar=_("FILE"),
        help=_("refuse a job that is not for this vehicle"),
    )
    options.add_argument(
        "--people",
        type=Path,
        metavar=_("FILE"),
        help=_("refuse a hold point that nobody of them may sign; default: the data folder's"),
    )
    what = options.add_mutually_exclusive_group()
    what.add_argument("--load", action="store_true", help=_("only load them (at once)"))
    what.add_argument(
        "--disturbances",
        "--mishaps",
        action="store_true",
        help=_("search with one disturbance (a mishap) at any moment too (minutes)"),
    )
    what.add_argument("--kernel", action="store_true", help=_("prove the interlock table instead"))
    options.add_argument(
        "--afresh",
        action="store_true",
        help=_("search again what was found good before under the same code and steps"),
    )

    options = add(
        "matrix",
        _("print the cause-and-effect table"),
        "steplatch matrix --view causes --form csv",
        matrix,
    )
    options.add_argument(
        "--view", choices=("interlocks", "causes", "effects"), default="interlocks"
    )
    options.add_argument("--form", choices=("text", "markdown", "csv"), default="text")
    options.add_argument("--json", action="store_true", help=_("one JSON object"))


def check(args: argparse.Namespace) -> int:
    """Load procedures and search each main one with its recoveries and cards, with
    ``--disturbances`` also with one disturbance a trace. A recovery or card without a main one is
    searched within the shipped clean, in place of what is shipped under its id. ``--load`` only
    loads; ``--kernel`` loads and proves the interlock table.

    A search that outgrows its cap proves nothing: it says so, and the exit code is UNSAFE."""
    from steplatch.safety.verify.search import SearchCapped

    try:
        return _check(args)
    except SearchCapped as capped:
        return fail(exits.UNSAFE, capped)


def of_one(path: Path, args: argparse.Namespace, people: Path | None = None) -> argparse.Namespace:
    """What another command gives to ``check`` for one procedure."""
    return argparse.Namespace(
        files=[path], json=False, load=False, disturbances=False, kernel=False,
        vehicle=None, people=people, data=args.data, afresh=False,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _File:
    """One procedure of the command line or the shipped ones, with what is said of it."""

    path: Path
    procedure: "Procedure"
    document: "Document"
    row: dict[str, Any]


def _check(args: argparse.Namespace) -> int:
    from ..input.shelf import procedure_files
    from .finding import procedure_path

    def say(*lines: str) -> None:
        if not args.json:
            print("\n".join(lines), flush=True)

    named = [procedure_path(str(name), data_to_read(args)) for name in args.files]
    files = _load(named or procedure_files())
    _held_against(files, args)
    for file in files:
        say(
            _(
                "loads  {id:22} revision {revision}, {row} stages, {row_2} steps  ({path})",
                id=file.procedure.id,
                revision=file.procedure.revision,
                row=file.row["stages"],
                row_2=file.row["steps"],
                path=file.path,
            ),
            *(_("notice {line}", line=line) for line in file.row["notices"]),
        )
    said: dict[str, Any] = {"procedures": [file.row for file in files]}
    safe = True
    if args.kernel:
        from ..proof.kernel_check import is_proven, kernel_lines, kernel_report

        said["kernel"] = kernel_report()
        say(*kernel_lines(said["kernel"]))
        safe = is_proven(said["kernel"])
    elif not args.load:
        safe = _prove_all(files, args, say)
    if args.json:
        print_json("check", said)
    return exits.OK if safe else exits.UNSAFE


def _held_against(files: list[_File], args: argparse.Namespace) -> None:
    """Hold procedures against the vehicle and the people. Raises BadFile."""
    from ..core.signers import nobody_signs
    from ..input.findings import BadFile
    from ..jobs.bundle import unfit
    from ..workshop.files import load_people, load_vehicle
    from .making import WORKSHOP_FOLDER

    found: list[Finding] = []
    if args.vehicle is not None:
        vehicle, document = load_vehicle(args.vehicle)
        mains = [file.procedure for file in files if file.procedure.role == "main"]
        for main in mains:
            found += unfit(main, vehicle, document, mains)
    people = args.people or data_to_read(args).path / WORKSHOP_FOLDER / "people.yaml"
    if args.people is not None or people.is_file():
        roles = {p.role.value for p in load_people(people) if not p.retired}
        for file in files:
            for step in nobody_signs(file.procedure, roles):
                number, _other, place = file.procedure.stage_of(step.id)
                at = ("stages", number - 1, "steps", place - 1)
                problem = _(
                    "nobody may sign {id!r}: it asks for a {role}", id=step.id, role=step.role
                )
                remedy = _(
                    "Name a role of {people} ({roles}), or add somebody",
                    people=people,
                    roles=", ".join(sorted(roles)),
                )
                found.append(file.document.finding(at, problem, remedy))
    if found:
        raise BadFile(found)


def _load(paths: Sequence[Path]) -> list[_File]:
    """Load procedures. Raises BadFile, also where two recoveries or cards have one id."""
    from ..core.content import asked_anyway
    from ..core.loading import load_procedure
    from ..input.findings import BadFile

    files: list[_File] = []
    for path in paths:
        procedure, document = load_procedure(path)
        for other in files:
            if procedure.role != "main" and other.procedure.id == procedure.id:
                problem = _("{path} has this id too", path=other.path)
                raise BadFile(
                    [document.finding(("id",), problem, _("Check one of them at a time"))]
                )
        row = {
            "file": str(path),
            "id": procedure.id,
            "revision": procedure.revision,
            "role": procedure.role,
            "stages": len(procedure.stages),
            "steps": len(procedure.steps()),
            "sha256": document.sha256_of_bytes,
            "notices": asked_anyway(procedure),
        }
        files.append(_File(path, procedure, document, row))
    return files


def _prove_all(files: list[_File], args: argparse.Namespace, say: Callable[..., None]) -> bool:
    """Search each main procedure among the files; where there is none, each recovery and card
    within the shipped clean. What is not among the files is the shipped one. False when a fault
    was found."""
    from ..input.shelf import PROCEDURES, procedure_files
    from ..proof.runs import runs_of_main, runs_of_recovery
    from .finding import says_main

    shipped = _load([path for path in procedure_files() if not says_main(path)])
    others = {f.procedure.id: f.path for f in (*shipped, *files) if f.procedure.role != "main"}
    beside = list(others.values())
    mains = [file for file in files if file.procedure.role == "main"]
    safe = True
    for main in mains:
        say(
            _(
                "searching {id}: {part} ...",
                id=main.procedure.id,
                part="some minutes" if args.disturbances else "up to half a minute",
            )
        )
        runs = runs_of_main(main.procedure, args.disturbances)
        safe = _prove(main, main, beside, runs, args.afresh, say) and safe
    if mains:
        return safe
    (clean,) = _load([PROCEDURES / f"{SHIPPED_CLEAN}.yaml"])
    for file in files:
        say(
            _(
                "searching {id} with {path}: up to a minute ...",
                id=clean.procedure.id,
                path=file.path,
            )
        )
        runs = runs_of_recovery(file.procedure)
        safe = _prove(file, clean, beside, runs, args.afresh, say) and safe
    return safe


def _prove(
    file: _File,
    main: _File,
    others: list[Path],
    runs: "list[Run]",
    afresh: bool,
    say: Callable[..., None],
) -> bool:
    """Search a main procedure and judge ``file``, itself or a recovery or card beside it; False
    when a fault was found. What was found good before is not searched again but ``afresh``."""
    from time import perf_counter

    from steplatch.safety.registers.trusted_reports import CAUGHT_BY_A_LINK, honesty_rows

    from ..proof.kept import make_or_keep
    from ..proof.runs import Runs, steps_never_reached
    from ..proof.words import check_json, check_lines, total_lines, transitions_a_second

    begun = perf_counter()
    results: list[ProofResult] = []
    told: set[tuple[str, ...]] = set()
    kept = 0
    made = Runs(main.path, others)
    for result, from_before in make_or_keep(made, runs, afresh):
        results.append(result)
        kept += from_before
        say(*check_lines(result, told))
    if kept:
        say(
            _(
                "kept   {kept} of {count} searches are an earlier check's: same code, steps "
                "and answers (--afresh makes them again)",
                kept=kept,
                count=len(results),
            )
        )
    seconds = perf_counter() - begun
    missed = steps_never_reached(made.loaded, file.procedure.id, results)
    whole = file is main
    say(*total_lines(results, missed, seconds, whole))
    rests, caught = honesty_rows(), sum(map(len, CAUGHT_BY_A_LINK.values()))
    say(
        _(
            "what rests on one honest answer: {count} false answers are not caught (they "
            "stand in the hazard register, and under --json); with a link to the vehicle "
            "{caught} fewer",
            count=len(rests),
            caught=caught,
        )
    )
    file.row["states"] = sum(result.states for result in results)
    file.row["transitions"] = sum(result.transitions for result in results)
    file.row["seconds"] = round(seconds, 3)
    file.row["transitions_per_second_of_a_process"] = transitions_a_second(results)
    file.row["searched_with"] = main.procedure.id
    file.row["searches_kept"] = kept
    file.row["searches"] = [check_json(result) for result in results]
    file.row["never_reached"] = missed
    file.row["rests_on_one_honest_answer"] = rests
    met = any(file.procedure.id == procedure for r in results for procedure, _ in r.reached)
    if not met:
        say(
            _(
                "  {id} is never met in these searches, so nothing of it is proven",
                id=file.procedure.id,
            )
        )
    return met and not (whole and missed) and all(result.proven for result in results)


def matrix(args: argparse.Namespace) -> int:
    """Print the cause-and-effect table from the tables that decide."""
    from steplatch.safety.verify.matrix import cause_rows, effect_rows, interlock_rows, render

    table = {"interlocks": interlock_rows, "causes": cause_rows, "effects": effect_rows}[args.view]
    if args.json:
        print_json("matrix", {"view": args.view, "rows": table()})
    else:
        print(render(table(), args.form), end="")
    return exits.OK
