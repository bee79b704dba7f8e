"""Everything a job rests on, loaded from files: procedures, vehicle, gun, fluid, workshop, people.

The exact bytes are kept beside what was loaded, so that a job can store them and be audited
years later against the same text.
"""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from importlib.resources import files
from pathlib import Path
from typing import Any

from steplatch.safety.bay import Trip
from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import Fluid, GunInput, VehicleInput, Workshop
from steplatch.safety.limits.worked import WorkedLimits, to_json, work_limits

from ..assess.judges import make_judges
from ..core.applies import SAID, misfits
from ..core.commands import SetLimits
from ..core.limits import limits_command
from ..core.loading import load_kept, load_procedure, load_written_out
from ..core.plan import Plan
from ..core.procedure import Procedure
from ..input.findings import BadFile, Finding
from ..input.shelf import PROCEDURES, procedure_files
from ..input.strict_yaml import Document, Source, read_text
from ..workshop.files import Person, load_fluid, load_gun, load_people, load_vehicle, load_workshop
from ..workshop.fluid_sheet import feeding_fire
from .fingerprint import Parts, parts_of

EXAMPLES = Path(str(files("steplatch.examples")))

PRACTICE = EXAMPLES / "workshop"
"""The invented workshop; in ``vehicles`` lie others for the jobs that its own is not for."""

SINGLE = ("vehicle", "gun", "fluid", "workshop", "people")
"""The files beside the procedures, by the names that the record knows them by."""


@dataclass(frozen=True, slots=True)
class Sources:
    """The paths a bundle is loaded from."""

    procedure: Path
    vehicle: Path
    gun: Path
    fluid: Path
    workshop: Path
    people: Path
    others: Path = PROCEDURES

    @classmethod
    def of_folder(cls, folder: Path, procedure: Path) -> "Sources":
        """The usual names in one folder."""
        return cls(procedure, *(folder / f"{name}.yaml" for name in SINGLE))

    @classmethod
    def of_practice(cls, procedure: Path) -> "Sources":
        """The invented workshop with a vehicle that the procedure is for, the usual one where it
        serves. Raises BadFile."""
        usual = cls.of_folder(PRACTICE, procedure)
        main, _ = load_procedure(procedure)
        others = sorted((EXAMPLES / "vehicles").glob("*.yaml"))
        fits = (
            path
            for path in (usual.vehicle, *others)
            if not misfits(main.applies_to, load_vehicle(path)[0])
        )
        return replace(usual, vehicle=next(fits, usual.vehicle))


@dataclass(frozen=True, slots=True)
class Bundle:
    """What was loaded. ``texts`` maps a name such as ``procedure:abandon`` to exact bytes."""

    main: Procedure
    others: Mapping[str, Procedure]
    vehicle: VehicleInput
    gun: GunInput
    fluid: Fluid
    workshop: Workshop
    people: tuple[Person, ...]
    limits: WorkedLimits
    texts: Mapping[str, bytes]
    _hashes: Mapping[str, str] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Take the hashes once: an audit compares them at every line."""
        found = {name: hashlib.sha256(raw).hexdigest() for name, raw in self.texts.items()}
        object.__setattr__(self, "_hashes", found)

    @property
    def plan(self) -> Plan:
        """The plan that ``decide`` works by."""
        judges = make_judges(self.vehicle, self.workshop)
        return Plan(self.main, self.others, judges, to_json(self.limits))

    def hashes(self) -> dict[str, str]:
        """SHA-256 of each text by name."""
        return dict(self._hashes)

    def parts(self) -> Parts:
        """The fingerprint of what decides a job with these texts, by the program of today."""
        return parts_of(self.hashes(), self.main.id)

    def roster(self) -> tuple[dict[str, Any], ...]:
        """The people as plain objects for the record."""
        return tuple(
            {"id": p.id, "name": p.name, "role": p.role.value, "under_18": p.under_18}
            for p in self.people
        )

    def limits_command(self) -> SetLimits:
        """The worked limits as the command that enters them into the record."""
        return limits_command(
            self.limits, self.vehicle, self.gun, self.fluid, self.workshop, self.hashes()
        )


def load_bundle(sources: Sources) -> Bundle:
    """Load everything a job rests on from its files. Raises as ``make_bundle`` does."""
    single = {name: getattr(sources, name) for name in SINGLE}
    return make_bundle(sources.procedure, procedure_files(sources.others), single)


def make_bundle(
    procedure: Source,
    others: Iterable[Source],
    single: Mapping[str, Source],
    kept: bool = False,
) -> Bundle:
    """Load everything a job rests on: the main procedure, the rest of the procedures (other main
    ones among them are left out), and the files named in ``SINGLE``. Nothing is written.

    ``kept``: these are the texts that a job kept, of whichever form.

    Raises:
        BadFile: a file is wrong, the vehicle is none that the procedure is for, a trip is
            answered by no or by two procedures, or a recovery returns to a point that the main
            procedure does not have.
        LooserThanWorked: the workshop sets a limit looser than the worked one.
    """
    load_one = load_kept if kept else load_written_out
    main, document, raw = load_one(procedure)
    texts = {f"procedure:{main.id}": raw}
    if main.role != "main":
        raise BadFile(
            [
                document.finding(
                    ("role",),
                    _("this is a {role}, not a job", role=main.role),
                    _("Name a main one"),
                )
            ]
        )
    beside: dict[str, Procedure] = {}
    findings: list[Finding] = []
    jobs: list[Procedure] = []
    for source in others:
        other, other_document, raw = load_one(source)
        if other.role == "main":
            jobs.append(other)
            continue
        beside[other.id] = other
        texts[f"procedure:{other.id}"] = raw
        for key in other.missing_points(main):
            point = getattr(other, key)
            problem = _("'{id}' has no return point {point!r}", id=main.id, point=point)
            remedy = _(
                'Write "returns: {point}" on a stage of it, or name another point, or here',
                point=point,
            )
            findings.append(other_document.finding((key,), problem, remedy))
    findings += _answered(beside, document)
    if findings:
        raise BadFile(findings)
    read = {name: read_text(single[name]) for name in SINGLE}
    vehicle, vehicle_document = load_vehicle(read["vehicle"])
    if not kept and (wrong := unfit(main, vehicle, vehicle_document, jobs)):
        raise BadFile(wrong)
    gun, _other = load_gun(read["gun"])
    fluid, fluid_document = load_fluid(read["fluid"])
    if not kept and (codes := feeding_fire(fluid.hazard_codes)):
        problem = _(
            "{codes}: it burns or feeds a fire, and the exhaust is hot", codes=", ".join(codes)
        )
        remedy = _("Take another fluid, with its data sheet")
        raise BadFile([fluid_document.finding(("hazard_codes",), problem, remedy)])
    workshop, _other = load_workshop(read["workshop"])
    people = tuple(p for p in load_people(read["people"]) if not p.retired)
    texts |= {name: text.raw for name, text in read.items()}
    limits = work_limits(vehicle, fluid, workshop, gun)
    return Bundle(main, beside, vehicle, gun, fluid, workshop, people, limits, texts)


_KEY = {"fuel": "fuel", "filter": "height", "hoses": "one_hose", "pressure": "shows"}
"""Where in a vehicle's file each word of ``applies_to`` stands."""


def unfit(
    main: Procedure, vehicle: VehicleInput, document: Document, jobs: Iterable[Procedure]
) -> list[Finding]:
    """What of a vehicle's file does not fit a procedure, each at its line, and which of these jobs
    are for the vehicle; nothing where it fits."""
    fit = [job.id for job in jobs if not misfits(job.applies_to, vehicle)]
    remedy = _("Jobs for this vehicle: {fit}", fit=", ".join(fit) or "none here")
    out = []
    for one in misfits(main.applies_to, vehicle):
        wanted = " or ".join(SAID[one.word][state] for state in one.wanted)
        problem = _(
            "'{id}' is for {wanted}; this file says: {said}",
            id=main.id,
            wanted=wanted,
            said=SAID[one.word][one.is_so],
        )
        out.append(document.finding((_KEY[one.word],), problem, remedy))
    return out


def _answered(others: Mapping[str, Procedure], document: Any) -> list[Finding]:
    found = []
    for trip in Trip:
        by = [p.id for p in others.values() if trip in p.answers]
        if len(by) != 1:
            found.append(
                document.finding(
                    (),
                    _(
                        "the trip '{value}' is answered by {by}",
                        value=trip.value,
                        by=", ".join(by) or "no procedure",
                    ),
                    _("Exactly one recovery or card must list it under 'answers'"),
                )
            )
    if "abandon" not in others:
        found.append(
            document.finding((), _("there is no procedure 'abandon'"), _("Restore abandon.yaml"))
        )
    return found
