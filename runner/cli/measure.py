"""The commands that measure and judge outside a job: compare, steady, codes, dose."""

import argparse
from dataclasses import asdict
from pathlib import Path
from typing import Any

from steplatch.safety.catalogue import _

from . import exits
from .command import Add, fail, number, print_json, whole

_READINGS = _(
    "a log (.csv), or a readings file (.yaml) of lines 'mbar, 1/min, g/s, degC exhaust, degC "
    "coolant, recirculation', x where not shown: 'raised: 96 2500 40 215 88 shut', 'idle: 19 820 "
    "9.0 168 86 open', 'zero: 0.5 0 x 150 86 x'"
)
COLUMNS = _(
    "column map of a log, YAML: 'columns: {pressure: {heading: dP filter, unit: mbar}}' and so "
    "on for time, speed, air, exhaust, coolant; 'decimal: comma' where it is one"
)


def add_to(add: Add) -> None:
    """``compare``, ``steady``, ``codes``, ``dose`` and ``limits``."""
    options = add(
        "compare",
        _("judge two files of readings or logs, outside a job"),
        "steplatch compare before.yaml after.yaml --vehicle my-van.yaml",
        compare,
    )
    options.add_argument("before", type=Path, help=_READINGS)
    options.add_argument("after", type=Path, help=_("the same, after the clean"))
    options.add_argument("--vehicle", type=Path, metavar=_("FILE"), required=True)
    options.add_argument(
        "--road", type=Path, metavar=_("FILE"), help=_("hot and dry, after the drive")
    )
    options.add_argument("--workshop", type=Path, metavar=_("FILE"), help=_("default: beside it"))
    options.add_argument("--facts", type=Path, metavar=_("FILE"), help=_("answers, as triage asks"))
    options.add_argument("--explain", action="store_true", help=_("with the uncertainty budget"))
    options.add_argument("--columns", type=Path, metavar=_("FILE"), help=COLUMNS)
    options.add_argument("--json", action="store_true", help=_("one JSON object"))
    options = add(
        "steady", _("find the steady windows of a log"), "steplatch steady drive.csv", steady
    )
    options.add_argument("log", type=Path)
    options.add_argument("--vehicle", type=Path, metavar=_("FILE"), help=_("for air in mg/stroke"))
    options.add_argument("--columns", type=Path, metavar=_("FILE"), help=COLUMNS)
    options.add_argument("--json", action="store_true", help=_("one JSON object"))
    options = add(
        "codes", _("what fault codes mean for a clean"), "steplatch codes P2002 P2463", codes
    )
    options.add_argument("code", nargs="+", help=_("one or more codes"))
    options.add_argument("--json", action="store_true", help=_("one JSON object"))
    options = add(
        "dose",
        _("the fluid sum on bare numbers"),
        "steplatch dose --displacement '2.0 L' --cylinders 4 --ratio 16 --shot '19 mL' "
        "--shot '20 mL' --shot '21 mL'",
        dose,
    )
    options.add_argument(
        "--displacement", required=True, metavar=_("VOLUME"), help=_("such as '2.0 L'")
    )
    options.add_argument("--cylinders", required=True, type=whole, metavar="N")
    options.add_argument("--ratio", type=number, metavar="R", help=_("compression ratio, if known"))
    options.add_argument(
        "--shot", action="append", default=[], metavar=_("VOLUME"), help=_("a jug shot")
    )
    options.add_argument("--shot-time", default="5 s", metavar=_("TIME"), help=_("default 5 s"))
    options.add_argument("--json", action="store_true", help=_("one JSON object"))
    options = add(
        "limits",
        _("work out every limit, with each line of its working"),
        "steplatch limits --vehicle my-van.yaml",
        limits,
    )
    options.add_argument("--vehicle", type=Path, metavar=_("FILE"), required=True)
    for name in ("gun", "fluid", "workshop"):
        options.add_argument(
            f"--{name}", type=Path, metavar=_("FILE"), help=_("default: beside the vehicle")
        )
    options.add_argument("--json", action="store_true", help=_("one JSON object"))


def compare(args: argparse.Namespace) -> int:
    """The whole judgement of two files of readings or logs, and a third after the road test.

    As text: the readings read back, what is odd about them, the verdict, and its working. As
    JSON (SI units): the verdict with its sentences, ``readings``, ``questions`` and ``notes``.
    """
    from ..assess.judge import judge
    from ..assess.plausibility import second_looks
    from ..assess.working import budget_lines, readings_lines, working_lines
    from ..core.reading_set import Phase
    from ..readings.sources import sets_from_file
    from ..workshop.files import load_vehicle, load_workshop

    vehicle, _other = load_vehicle(args.vehicle)
    workshop, _other = load_workshop(args.workshop or args.vehicle.parent / "workshop.yaml")
    columns = columns_of(args.columns)
    files: list[tuple[Phase, Path]] = [("before", args.before), ("after", args.after)]
    if args.road:
        files.append(("road", args.road))
    taken = {
        phase: sets_from_file(_bytes(path), str(path), phase, vehicle, columns)
        for phase, path in files
    }
    before, after = taken["before"].sets, taken["after"].sets
    road = taken["road"].sets if args.road else None
    verdict = judge(before, after, road, vehicle, workshop, _facts(args.facts))
    sets = [one for part in taken.values() for one in part.sets]
    questions = [
        f"{one.phase}, {one.condition}: {question}"
        for at, one in enumerate(sets)
        for question in second_looks(one, vehicle, workshop, sets[:at])
    ]
    notes = [f"{phase}: {note}" for phase, part in taken.items() for note in part.notes]
    if args.json:
        readings = [{n: v for n, v in asdict(s).items() if n != "readings"} for s in sets]
        told = verdict.told()
        said = {key: told[key] for key in _TOLD}
        rest = {"readings": readings, "questions": questions, "notes": notes}
        print_json("compare", said | rest)
        return exits.OK
    for line in (
        *readings_lines(sets),
        *(_("  second look: {text}", text=text) for text in questions),
        *(f"  note: {text}" for text in notes),
        "",
        *verdict.lines(),
        "",
        *working_lines(verdict),
        *(["", *budget_lines(verdict.told())] if args.explain else ()),
    ):
        print(line)
    return exits.OK


_TOLD = (
    *(
        "id",
        "title",
        "row",
        "facts",
        "reasons",
        "look_at",
        "corrected",
        "advice",
        "to_do",
        "limits",
    ),
    *("gain", "before", "after", "road", "clean", "ash", "not_measured", "return_days"),
    *("return_km", "customer"),
)
"""What of a verdict the JSON shows, in this order."""


def steady(args: argparse.Namespace) -> int:
    """The steady windows of a log."""
    from ..readings.sources import log_lines, log_windows
    from ..workshop.files import load_vehicle

    vehicle = load_vehicle(args.vehicle)[0] if args.vehicle else None
    log, windows = log_windows(_bytes(args.log), str(args.log), vehicle, columns_of(args.columns))
    if args.json:
        print_json(
            "steady",
            {
                "rows": len(log.time_s),
                "notes": list(log.notes),
                "windows": [
                    {
                        "start_s": w.start_s,
                        "end_s": w.end_s,
                        "first_line": w.first_line,
                        "last_line": w.last_line,
                        "means_si": w.means,
                        "spreads_si": w.spreads,
                        "drift_pa_min": w.drift_pa_min,
                    }
                    for w in windows
                ],
            },
        )
        return exits.OK
    print("\n".join(log_lines(log, windows)))
    return exits.OK


def codes(args: argparse.Namespace) -> int:
    """What fault codes mean for a clean."""
    from ..assess.codes import BadCode, describe_all, lines

    try:
        known = describe_all(args.code)
    except BadCode as error:
        return fail(exits.USAGE, error)
    if args.json:
        print_json("codes", {"codes": [asdict(code) for code in known]})
        return exits.OK
    for code in known:
        print("\n".join(lines(code)))
    return exits.OK


def dose(args: argparse.Namespace) -> int:
    """The fluid sum on bare numbers: displacement, cylinders, ratio, and jug shots."""
    from steplatch.safety.limits.burst import burst, reaction_allowance_s
    from steplatch.safety.limits.dose import work_doses
    from steplatch.safety.limits.inputs import Fluid, GunInput, Height, VehicleInput, Workshop
    from steplatch.safety.limits.plausible import ImplausibleInputs, check_inputs

    from ..input.quantities import BadQuantity, parse_quantity

    try:
        shot_s = parse_quantity(args.shot_time, "time").si_value
        if shot_s <= 0:
            raise BadQuantity(
                _("{shot_time} is no length of a shot", shot_time=args.shot_time),
                _("Give it as --shot-time='5 s'"),
            )
        rates = tuple(parse_quantity(v, "volume").si_value / shot_s for v in args.shot)
        vehicle = VehicleInput(
            label=_("bare numbers"),
            displacement_m3=parse_quantity(args.displacement, "volume").si_value,
            cylinders=args.cylinders,
            compression_ratio=args.ratio,
            height=Height.ABOVE,
        )
        gun = GunInput(_("bare numbers"), 1e-3, rates)
        workshop = Workshop(_("bare numbers"))
        check_inputs(vehicle, Fluid("any", "none", "2024-01-01"), workshop, gun)
        doses = work_doses(vehicle, workshop, gun)
    except (BadQuantity, ImplausibleInputs) as error:
        return fail(exits.USAGE, error)
    limit = doses.strict
    advice = burst(limit.value, 0.0, rates, reaction_allowance_s(gun)) if rates else None
    if args.json:
        print_json(
            "dose",
            {
                "strict_ml": limit.value * 1e6,
                "lines": [*limit.lines, *(advice.lines if advice else ())],
                "source": limit.source,
                "assumptions": list(limit.assumptions),
                "advice": advice.advice() if advice else None,
            },
        )
        return exits.OK
    print(f"{limit.name}: {limit.bound.value} {limit.whole()} {limit.unit.seen}")
    for line in (*limit.lines, *(advice.lines if advice else ())):
        print(f"    {line}")
    print(f"    source: {limit.source}")
    for assumption in limit.assumptions:
        print(f"    assumed: {assumption}")
    print(f"burst: {advice.advice()}" if advice else _("burst: no jug shots given, so no seconds"))
    return exits.OK


def limits(args: argparse.Namespace) -> int:
    """Every worked limit with its working."""
    from steplatch.safety.limits.worked import to_json, work_limits

    from ..workshop.files import load_fluid, load_gun, load_vehicle, load_workshop

    beside = args.vehicle.parent
    vehicle, _other = load_vehicle(args.vehicle)
    gun, _other = load_gun(args.gun or beside / "gun.yaml")
    fluid, _other = load_fluid(args.fluid or beside / "fluid.yaml")
    workshop, _other = load_workshop(args.workshop or beside / "workshop.yaml")
    worked = work_limits(vehicle, fluid, workshop, gun)
    if args.json:
        print_json("limits", to_json(worked))
        return exits.OK
    print(f"{vehicle.label}, {workshop.label}")
    for limit in worked.all():
        print(f"\n{limit.name}: {limit.bound.value} {limit.whole()} {limit.unit.seen}")
        for line in limit.lines:
            print(f"    {line}")
        print(f"    source: {limit.source}")
        print(_("    holds for: {validity}", validity=limit.validity))
        for assumption in limit.assumptions:
            print(f"    assumed: {assumption}")
    if worked.dose_extended is None:
        print(
            _(
                "\nno extended limit: {no_extended_because}",
                no_extended_because=worked.no_extended_because,
            )
        )
    return exits.OK


def _bytes(path: Path) -> bytes:
    from ..input.findings import BadFile, Finding

    try:
        return path.read_bytes()
    except OSError as error:
        what = _("it cannot be read ({strerror})", strerror=error.strerror)
        raise BadFile(
            [Finding(str(path), 1, 1, "file", what, _("Check name and permissions"))]
        ) from error


def columns_of(path: Path | None) -> Any:
    """The column map in a file; None without one. Raises ``BadFile``."""
    from ..input.findings import BadFile, Finding
    from ..input.strict_yaml import load
    from ..readings.log_columns import BadColumnMap, column_map

    if path is None:
        return None
    try:
        return column_map(load(path).data)
    except BadColumnMap as bad:
        raise BadFile(
            [Finding(str(path), 1, 1, "columns", str(bad), _("Correct the column map"))]
        ) from bad


def _facts(path: Path | None) -> dict[str, Any]:
    from ..assess.facts import BadFact, check_facts
    from ..input.findings import BadFile, Finding
    from ..input.strict_yaml import load

    if path is None:
        return {}
    document = load(path)
    given = document.data if isinstance(document.data, dict) else {}
    try:
        check_facts(given)
    except BadFact as bad:
        raise BadFile(
            [Finding(str(path), 1, 1, "facts", str(bad), _("Correct it or leave it out"))]
        ) from bad
    return dict(given)
