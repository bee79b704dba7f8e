"""Finds the files that a job can rest on: main procedures, vehicles, and what lies beside them."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from steplatch.safety.catalogue import _, ngettext
from steplatch.safety.limits.inputs import VehicleInput

from ..core.loading import load_procedure
from ..core.procedure import Procedure
from ..input.findings import BadFile, shown
from ..input.shelf import PROCEDURES, procedure_files
from ..input.strict_yaml import load
from ..record import DataFolder
from ..workshop.answers import LOADERS
from ..workshop.files import load_people, load_vehicle
from .approving import OWN_FOLDER, not_approved, text_hash
from .making import WORKSHOP_FOLDER

MOST_FILES = 300
"""Files of one folder that are looked at; a folder with more is no workshop's."""
_MAIN = re.compile(rb"^role: *[\"']?main\b", re.M)
_MARKS = frozenset({"displacement", "cylinders"})
"""Keys by which a file is taken for a vehicle's."""


@dataclass(frozen=True, slots=True)
class Found:
    """One vehicle file: the vehicle, or what is wrong with the file."""

    path: Path
    vehicle: VehicleInput | None
    problem: str = ""


def says_main(path: Path) -> bool:
    """Whether a file says that it holds a main procedure."""
    return _MAIN.search(path.read_bytes()) is not None


def procedures_here(folder: Path = PROCEDURES) -> list[tuple[Path, Procedure]]:
    """The main procedures of a folder. Raises BadFile. Only files that say so are loaded."""
    paths = [p for p in procedure_files(folder) if says_main(p)]
    loaded = ((path, load_procedure(path)[0]) for path in paths)
    return [(path, procedure) for path, procedure in loaded if procedure.role == "main"]


def procedure_path(name: str, data: DataFolder) -> Path:
    """A procedure's file, by its path, or by the name of the workshop's own or of a shipped one."""
    path = Path(name)
    if path.suffix or path.name != name or path.is_file():
        return path
    own = data.path / OWN_FOLDER / f"{name}.yaml"
    return own if own.is_file() else PROCEDURES / f"{name}.yaml"


def main_procedures(data: DataFolder) -> list[tuple[Path, Procedure, str]]:
    """The main procedures that a job can be begun with, shipped ones first, as a list shows them.
    An own one says so, and whether a real job may rest on it; one that does not load is left out:
    ``steplatch check`` says what is wrong with it."""
    found = [(path, procedure, procedure.title) for path, procedure in procedures_here()]
    folder = data.path / OWN_FOLDER
    for path in procedure_files(folder) if folder.is_dir() else ():
        try:
            procedure = load_procedure(path)[0]
            approved = not not_approved(data, procedure.id, text_hash(path))
        except BadFile:
            continue
        if procedure.role == "main":
            said = _("your own") if approved else _("your own, not approved")
            found.append((path, procedure, f"{procedure.title} ({path.stem}, {said})"))
    return found


def folders_of(data: DataFolder) -> tuple[Path, ...]:
    """Where vehicle files are looked for: the current folder, then the workshop's own."""
    return (Path.cwd(), data.path / WORKSHOP_FOLDER)


def vehicles_in(folders: Sequence[Path]) -> list[Found]:
    """Every vehicle file of the folders, once, wrong ones with their first finding."""
    found: dict[Path, Found] = {}
    for folder in folders:
        for path in sorted(folder.glob("*.yaml"))[:MOST_FILES]:
            if path.resolve() not in found and (one := _vehicle_at(path)) is not None:
                found[path.resolve()] = one
    return list(found.values())


def _vehicle_at(path: Path) -> Found | None:
    """The vehicle of a file; None where the file is another kind of file."""
    try:
        data = load(path).data
    except BadFile as bad:
        named = path.stem.startswith("vehicle")
        return Found(path, None, str(bad.findings[0])) if named else None
    if not (isinstance(data, dict) and data.keys() >= _MARKS):
        return None
    try:
        return Found(path, load_vehicle(path)[0])
    except BadFile as bad:
        return Found(path, None, str(bad.findings[0]))


def kind_of(vehicle: VehicleInput) -> str:
    """What a vehicle is, in few words."""
    litres = f"{vehicle.displacement_m3 * 1000:.2g} L"
    return _(
        "{litres}, {cylinders} cylinders, filter inlet {value}",
        litres=litres,
        cylinders=vehicle.cylinders,
        value=vehicle.height.value,
    )


def places_of(name: str, vehicle: Path, data: DataFolder) -> Iterator[Path]:
    """Where the file ``name`` of a vehicle is looked for, best first."""
    yield vehicle.parent / f"{name}.yaml"
    other = data.path / WORKSHOP_FOLDER / f"{name}.yaml"
    if other.resolve() != (vehicle.parent / f"{name}.yaml").resolve():
        yield other


def label_at(name: str, path: Path) -> str:
    """What the file calls itself, or how many people work here. Raises BadFile."""
    if name == "people":
        here = [person for person in load_people(path) if not person.retired]
        return ngettext("{count} person", "{count} people", len(here), count=len(here))
    return shown(LOADERS[name](path)[0].label)


def free_name(folder: Path, name: str) -> Path:
    """``name.yaml`` in a folder, or the first of ``name-2.yaml`` ... that is free."""
    path, number = folder / f"{name}.yaml", 1
    while path.exists():
        number += 1
        path = folder / f"{name}-{number}.yaml"
    return path
