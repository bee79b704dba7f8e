"""The small data files of a workshop: vehicle, gun, fluid, workshop, people.

Quantities are text with a unit ("2.0 L", "0.3 m") and become SI in the plain dataclasses of
``safety/limits/inputs.py``. A key left out, or null, is "not known". What would be unsafe to
assume has no default: it must stand in the file. The bands are what is believed of light
vehicles (common practice, no source); they catch a wrong unit or a lost decimal point, and
permit nothing. Registration, chassis number and customer are personal data and have no place
here: they belong to the job.
"""

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, Field
from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import (
    Fluid,
    Fuel,
    GunInput,
    Height,
    HeldClaim,
    RetainedClaim,
    VehicleInput,
    Workshop,
)

from ..input.findings import BadFile, BadValue, Finding
from ..input.model_findings import KeyPath
from ..input.quantities import Band, Quantity
from ..input.strict_yaml import Document, Source, StrictModel, load, load_model, validate

Problem = tuple[KeyPath, str, str]

_CHASSIS_NUMBER = re.compile(r"(?<![A-Z0-9])[A-HJ-NPR-Z0-9]{17}(?![A-Z0-9])")
_HAZARD_CODE = re.compile(r"(?:EUH[0-9]{3}[A-Z]?|H[234][0-9]{2}[A-Za-z]{0,2})")
_PERSON_ID = re.compile(r"[a-z][a-z0-9-]{0,31}")
_CURRENCY_LETTERS = 3
RESERVED_IDS = frozenset({"customer"})


def _one_line(text: str) -> str:
    if not text.strip() or text != text.strip():
        raise BadValue(_("the text is blank or has spaces at an end"), _("Write words"))
    if "\n" in text or len(text) > 200:
        raise BadValue(_("the text is too long"), _("Write one line of at most 200 characters"))
    return text


def _no_chassis_number(text: str) -> str:
    if _CHASSIS_NUMBER.search(text.upper()):
        raise BadValue(
            _("this looks like a chassis number, which is personal data"),
            _("Describe the kind of vehicle; the number belongs to the job"),
        )
    return text


def _hazard_code(text: str) -> str:
    if not all(_HAZARD_CODE.fullmatch(part) for part in text.split("+")):
        raise BadValue(
            _('"{text}" is no hazard statement code', text=text),
            _("Write it as on the label, such as H318"),
        )
    return text


def _calendar_date(text: str) -> str:
    try:
        parsed = date.fromisoformat(text)
    except ValueError:
        parsed = None
    if parsed is None or parsed.isoformat() != text or parsed.year < 1990:
        raise BadValue(
            _('"{text}" is not a date', text=text), _("Write year-month-day, such as 2024-05-31")
        )
    return text


def _currency(text: str) -> str:
    if not (len(text) == _CURRENCY_LETTERS and text.isascii() and text.isupper()):
        raise BadValue(
            _('"{text}" is no currency', text=text), _("Write its three letters, as ISO 4217: EUR")
        )
    return text


def _person_id(text: str) -> str:
    if not _PERSON_ID.fullmatch(text):
        raise BadValue(
            _('"{text}" cannot be an id', text=text),
            _("Use small letters, digits and -, a letter first, at most 32 characters"),
        )
    return text


OneLineText = Annotated[str, AfterValidator(_one_line)]
Label = Annotated[OneLineText, AfterValidator(_no_chassis_number)]
HazardCode = Annotated[str, AfterValidator(_hazard_code)]
DateText = Annotated[str, AfterValidator(_calendar_date)]
Currency = Annotated[str, AfterValidator(_currency)]
PersonId = Annotated[str, AfterValidator(_person_id)]
ShownReading = Literal["pressure", "speed", "air", "exhaust", "coolant", "recirculation"]

OffDose = Annotated[Quantity, Band("volume", "0 mL", "1 L")]
"""0 mL says that no fluid may go in with the engine off."""
RunningDose = Annotated[Quantity, Band("volume", "10 mL", "10 L")]
RevCeiling = Annotated[Quantity, Band("speed", "1000 1/min", "4500 1/min")]
OffHeat = Annotated[Quantity, Band("temperature", "20 °C", "150 °C")]
RunningHeat = Annotated[Quantity, Band("temperature", "50 °C", "400 °C")]
SoakTime = Annotated[Quantity, Band("time", "30 s", "2 h")]


class RetainedPart(StrictModel):
    """A claim that the filter holds fluid back, with its basis and who stands for it."""

    volume: Annotated[Quantity, Band("volume", "1 mL", "1 L")]
    basis: OneLineText
    approver: OneLineText


class HeldPart(StrictModel):
    """Who stands for it that what lies below the exhaust ports stays there, and on what basis."""

    basis: OneLineText
    approver: OneLineText


class VehicleFile(StrictModel):
    """One kind of vehicle. No registration, chassis number or customer."""

    refused_keys: ClassVar[Mapping[str, str]] = dict.fromkeys(
        ("registration", "plate", "number_plate", "vin", "vin_tail", "chassis_number",
         "customer", "owner", "contact"),
        _("It is personal data; take it out here and give it when the job is opened"),
    )  # fmt: skip

    label: Label
    displacement: Annotated[Quantity, Band("volume", "0.5 L", "20 L")]
    cylinders: Annotated[int, Field(ge=2, le=12)]
    fuel: Fuel | None = None
    compression_ratio: Annotated[float, Field(ge=10, le=25)] | None = None
    filter_volume: Annotated[Quantity, Band("volume", "0.3 L", "40 L")] | None = None
    filter_length: Annotated[Quantity, Band("length", "50 mm", "600 mm")] | None = None
    cell_density: Annotated[Quantity, Band("cell_density", "50 cpsi", "900 cpsi")] | None = None
    wall_thickness: Annotated[Quantity, Band("length", "0.1 mm", "1 mm")] | None = None
    wall_porosity: Annotated[Quantity, Band("share", "20 %", "80 %")] | None = None
    wall_permeability: Annotated[Quantity, Band("permeability", "0.001 µm2", "50 µm2")] | None = (
        None
    )
    height: Height
    inlet_below_port: Annotated[Quantity, Band("length", "1 mm", "3 m")] | None = None
    level_tolerance: Annotated[Quantity, Band("length", "20 mm", "500 mm")] | None = None
    pipe_bore: Annotated[Quantity, Band("length", "20 mm", "200 mm")] | None = None
    pipe_hold_up: Annotated[Quantity, Band("volume", "0 mL", "10 L")] | None = None
    held_below: HeldPart | None = None
    retained: RetainedPart | None = None
    maker_off_dose: OffDose | None = None
    maker_running_dose: RunningDose | None = None
    maker_rev_ceiling: RevCeiling | None = None
    idle: Annotated[Quantity, Band("speed", "400 1/min", "1500 1/min")]
    self_starting: bool
    one_hose: bool
    sensor_step: Annotated[Quantity, Band("pressure", "0.01 mbar", "25 mbar")]
    shows: tuple[ShownReading, ...]
    urea_after_filter: bool
    oil_use: Annotated[Quantity, Band("oil_use", "0 L/1000km", "5 L/1000km")] | None = None
    oil_sulphated_ash: Annotated[Quantity, Band("share", "0.05 %", "3 %")] | None = None


class GunFile(StrictModel):
    """The fluid gun. ``jug_shots`` are rates measured since it was last filled or adjusted,
    ``practice_stops`` times from "stop" to the trigger shut of practice bursts."""

    label: Label
    bottle: Annotated[Quantity, Band("volume", "50 mL", "20 L")]
    jug_shots: tuple[Annotated[Quantity, Band("volume_rate", "0.2 mL/s", "50 mL/s")], ...] = ()
    reaction: Annotated[Quantity, Band("time", "0.2 s", "3 s")]
    practice_stops: tuple[Annotated[Quantity, Band("time", "0 s", "3 s")], ...] = ()
    self_closing: bool


class FluidFile(StrictModel):
    """The cleaning fluid, as its container and safety data sheet name it."""

    label: Label
    data_sheet: OneLineText
    data_sheet_date: DateText
    hazard_codes: tuple[HazardCode, ...]
    density: Annotated[Quantity, Band("density", "0.6 kg/L", "2 kg/L")]
    water_share: Annotated[Quantity, Band("share", "0 %", "100 %")]
    max_exhaust_engine_off: OffHeat | None = None
    max_exhaust_running: RunningHeat | None = None
    maker_soak: SoakTime | None = None


class WorkshopFile(StrictModel):
    """The workshop's own settings. Each may tighten a limit; none can loosen one."""

    label: Label
    address: OneLineText | None = None
    currency: Currency | None = None
    cranking_pressure_ratio: Annotated[float, Field(ge=20, le=90)] | None = None
    off_dose: OffDose | None = None
    running_dose: RunningDose | None = None
    rev_ceiling: RevCeiling | None = None
    max_exhaust_engine_off: OffHeat | None = None
    max_exhaust_running: RunningHeat | None = None
    max_touch: Annotated[Quantity, Band("temperature", "20 °C", "70 °C")] | None = None
    max_touch_gloved: Annotated[Quantity, Band("temperature", "20 °C", "250 °C")] | None = None
    soak: SoakTime | None = None
    altitude: Annotated[Quantity, Band("length", "-430 m", "5000 m")]
    air: Annotated[Quantity, Band("temperature", "-30 °C", "50 °C")]
    bay_volume: Annotated[Quantity, Band("volume", "20 m3", "100000 m3")] | None = None


class Role(Enum):
    """What a person may answer for."""

    APPRENTICE = "apprentice"
    TECHNICIAN = "technician"
    SUPERVISOR = "supervisor"


class PersonPart(StrictModel):
    """One person of the workshop. ``retired`` is the last day; the id is never given again."""

    id: PersonId
    name: OneLineText
    role: Role
    under_18: bool
    retired: DateText | None = None


class PeopleFile(StrictModel):
    """Everyone who may work on or sign a job."""

    people: Annotated[tuple[PersonPart, ...], Field(min_length=1, max_length=200)]


@dataclass(frozen=True, slots=True)
class Person:
    """One person: ``id`` is what the journal holds, ``name`` what is printed.

    ``retired`` (year-month-day, or empty) takes a person off the roster of every job begun
    with this file.
    """

    id: str
    name: str
    role: Role
    under_18: bool
    retired: str = ""


# Key in the file -> field of the dataclass, where they differ (the file leaves the unit out).
_FIELDS: Mapping[str, str] = {
    "displacement": "displacement_m3",
    "filter_volume": "filter_volume_m3",
    "filter_length": "filter_length_m",
    "cell_density": "cell_density_per_m2",
    "wall_thickness": "wall_thickness_m",
    "wall_permeability": "wall_permeability_m2",
    "inlet_below_port": "inlet_below_port_m",
    "level_tolerance": "level_tolerance_m",
    "pipe_bore": "pipe_bore_m",
    "pipe_hold_up": "pipe_hold_up_m3",
    "maker_off_dose": "maker_off_dose_m3",
    "maker_running_dose": "maker_running_dose_m3",
    "maker_rev_ceiling": "maker_rev_ceiling_rpm",
    "idle": "idle_rpm",
    "sensor_step": "sensor_step_pa",
    "oil_use": "oil_l_per_1000_km",
    "bottle": "bottle_m3",
    "jug_shots": "rates_m3_s",
    "reaction": "reaction_s",
    "practice_stops": "practice_stops_s",
    "density": "density_kg_m3",
    "max_exhaust_engine_off": "max_exhaust_k_engine_off",
    "max_exhaust_running": "max_exhaust_k_running",
    "maker_soak": "maker_soak_s",
    "off_dose": "off_dose_m3",
    "running_dose": "running_dose_m3",
    "rev_ceiling": "rev_ceiling_rpm",
    "max_touch": "max_touch_k",
    "max_touch_gloved": "max_touch_gloved_k",
    "soak": "soak_s",
    "altitude": "altitude_m",
    "air": "air_k",
    "bay_volume": "bay_volume_m3",
}


def load_vehicle(source: Source) -> tuple[VehicleInput, Document]:
    """Read one vehicle file. Raises BadFile with every finding."""
    model, document = load_model(source, VehicleFile)
    _refuse(document, _vehicle_problems(model))
    values = _values(model)
    values["shows"] = frozenset(model.shows)
    if model.retained is not None:
        values["retained"] = RetainedClaim(
            model.retained.volume.si_value, model.retained.basis, model.retained.approver
        )
    if model.held_below is not None:
        values["held_below"] = HeldClaim(model.held_below.basis, model.held_below.approver)
    return VehicleInput(**values), document


def load_gun(source: Source) -> tuple[GunInput, Document]:
    """Read one gun file. Raises BadFile with every finding."""
    model, document = load_model(source, GunFile)
    return GunInput(**_values(model)), document


def load_fluid(source: Source) -> tuple[Fluid, Document]:
    """Read one fluid file. Raises BadFile with every finding."""
    model, document = load_model(source, FluidFile)
    _refuse(document, _repeats(model.hazard_codes, "hazard_codes"))
    return Fluid(**_values(model)), document


def load_workshop(source: Source) -> tuple[Workshop, Document]:
    """Read one workshop file. Raises BadFile with every finding."""
    model, document = load_model(source, WorkshopFile)
    return Workshop(**_values(model)), document


def load_people(source: Source) -> tuple[Person, ...]:
    """Read the people file, in the order of the file. Raises BadFile with every finding."""
    return people_of(load(source))


def people_of(document: Document) -> tuple[Person, ...]:
    """The people of a loaded document, retired ones too. Raises BadFile with every finding."""
    model = validate(document, PeopleFile)
    _refuse(document, _people_problems(model))
    return tuple(Person(p.id, p.name, p.role, p.under_18, p.retired or "") for p in model.people)


def _values(model: StrictModel) -> dict[str, Any]:
    """Return the dataclass fields for what the file gives; what it leaves out stays default."""
    return {
        _FIELDS.get(key, key): _si(getattr(model, key)) for key in sorted(model.model_fields_set)
    }


def _si(value: Any) -> Any:
    if isinstance(value, tuple):
        return tuple(_si(item) for item in value)
    return value.si_value if isinstance(value, Quantity) else value


def _refuse(document: Document, problems: Iterator[Problem]) -> None:
    found: list[Finding] = [document.finding(*problem) for problem in problems]
    if found:
        raise BadFile(found)


def _vehicle_problems(model: VehicleFile) -> Iterator[Problem]:
    yield from _repeats(model.shows, "shows")
    litres = model.displacement.si_value * 1000.0
    each = litres / model.cylinders
    if not 0.15 <= each <= 2.5:
        yield (
            ("displacement",),
            _(
                "{litres:g} L over {cylinders} cylinders is {each:.2f} L each, which is not "
                "believed",
                litres=litres,
                cylinders=model.cylinders,
                each=each,
            ),
            _("Check displacement and cylinders; 0.15 to 2.5 L each is taken"),
        )
    if model.inlet_below_port is not None and model.height is not Height.BELOW:
        yield (
            ("inlet_below_port",),
            _("it is given, but height is {value}", value=model.height.value),
            _("Write height: below, or take this line out"),
        )
    if model.held_below is not None and model.height is not Height.BELOW:
        yield (
            ("held_below",),
            _("it is given, but height is {value}", value=model.height.value),
            _("Write height: below, or take the claim out"),
        )
    if model.filter_volume is not None:
        share = model.filter_volume.si_value / model.displacement.si_value
        if not 0.3 <= share <= 6.0:
            yield (
                ("filter_volume",),
                _("it is {share:.2g} times the displacement, which is not believed", share=share),
                _("Check numbers and units; 0.3 to 6 times is taken"),
            )
        if model.retained and model.retained.volume.si_value >= model.filter_volume.si_value:
            yield (
                ("retained", "volume"),
                _("a filter cannot retain its whole volume"),
                _("Check number and unit"),
            )
    if model.retained is not None and model.filter_volume is None:
        yield (
            ("retained",),
            _("a claim needs filter_volume, or no ceiling for it can be worked out"),
            _("Add filter_volume, or take the claim out"),
        )


def _people_problems(model: PeopleFile) -> Iterator[Problem]:
    ids: dict[str, str] = {}
    names: dict[str, str] = {}
    for index, person in enumerate(model.people):
        name = " ".join(unicodedata.normalize("NFKC", person.name).split()).casefold()
        path: KeyPath = ("people", index)
        if person.id in RESERVED_IDS:
            yield (
                (*path, "id"),
                _('"{id}" stands for the customer in every job', id=person.id),
                _("Use another id"),
            )
        if person.id in ids:
            yield (
                (*path, "id"),
                _("this id is already that of {ids}", ids=ids[person.id]),
                _("Use another"),
            )
        if name in names and person.retired is None:
            yield (
                (*path, "name"),
                _("this name already stands under the id {names}", names=names[name]),
                _("One person has one id: take one out, or tell two people apart by full name"),
            )
        if person.under_18 and person.role is Role.SUPERVISOR:
            yield (
                (*path, "under_18"),
                _("somebody under 18 cannot be the supervisor"),
                _("Correct role or under_18"),
            )
        ids.setdefault(person.id, person.name)
        if person.retired is None:
            names.setdefault(name, person.id)
    if all(person.retired is not None for person in model.people):
        yield (("people",), _("everybody has retired"), _("Add somebody who works here"))


def _repeats(items: tuple[str, ...], key: str) -> Iterator[Problem]:
    for index, item in enumerate(items):
        if item in items[:index]:
            yield ((key, index), _("{item} stands here twice", item=item), _("Take one out"))
