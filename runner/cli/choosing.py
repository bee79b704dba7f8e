"""``steplatch run`` without a vehicle: leads to a job by questions. Nothing is begun before the
word for it is typed; leaving at any question leaves nothing behind but files that were made.
"""

import argparse
from dataclasses import dataclass
from pathlib import Path

from steplatch.safety.catalogue import _

from ..core.applies import in_words, misfits
from ..core.loading import load_procedure
from ..core.procedure import Procedure
from ..input.findings import BadFile, shown
from ..jobs.bundle import Bundle, Sources, load_bundle
from ..record import DataFolder, list_jobs
from ..screen.desk import HELP, LEAVE, Desk, explained
from ..screen.talk import Choice
from ..screen.terminal.menus import desk_here
from ..workshop.roster import admit
from .finding import (
    folders_of,
    free_name,
    kind_of,
    label_at,
    main_procedures,
    places_of,
    vehicles_in,
)
from .guided_job import choose_person, who_is_here
from .making import WORKSHOP_FOLDER, make

BEGIN, CHANGE = "begin", "change"
_FIRST = (
    _("Practice asks what a real job asks; instruments and vehicle are simulated."),
    _("A real job is opened only when you have seen what it rests on and typed its word."),
)
_PROCEDURE = (
    _("A procedure is the order of the work. 'steplatch check' loads and checks them all."),
)
_VEHICLE = (
    _("The vehicle file holds what the limits are worked from: engine, filter, where it sits."),
    _("One file serves every vehicle of its kind; registration and customer come in the job."),
)
_BESIDE = {
    "gun": _("The gun file gives its bottle and how long it sprays on after 'stop'."),
    "fluid": _("The fluid file gives what container and safety data sheet say."),
    "workshop": _(
        "The workshop file gives your own tighter limits, height and warmth of the place."
    ),
    "people": _("The people file lists who works here, and who may sign as what."),
}
"""The files that are looked for beside the vehicle's, and what '?' says of each."""
_BEGIN = (
    _("The job is recorded from its first line on; it can be stopped and left at any step."),
    _("Is anything above not what stands before you? Then choose again."),
)
NEEDS_TERMINAL = _(
    "choosing needs a person, but input or output is no terminal. Run it in a terminal: "
    "steplatch run --vehicle FILE. Or play a lesson: steplatch practise --hands-free"
)


@dataclass(frozen=True, slots=True)
class Chosen:
    """What a job will rest on, who does the work, and who is here to the end."""

    bundle: Bundle
    person: str
    here: tuple[str, ...]


def chosen_or_practice(args: argparse.Namespace, data: DataFolder) -> Chosen | None:
    """Choose everything with the person; None where they practise first. Raises Left."""
    desk = desk_here(args.plain)
    if not list_jobs(data) and _practise_first(desk):
        return None
    return choose(args, data, desk)


def choose(args: argparse.Namespace, data: DataFolder, desk: Desk) -> Chosen:
    """Ask for what the command line does not name, until the person types ``begin``.

    Raises Left; BadFile and the other errors of loading, as a job by command line does.
    """
    while True:
        procedure = args.procedure or _procedure(desk, data)
        vehicle = _vehicle(desk, data, load_procedure(procedure)[0])
        rest = [getattr(args, name) or _beside(name, vehicle, desk, data) for name in _BESIDE]
        sources = Sources(procedure, vehicle, *rest)
        admit(sources.people, data)
        bundle = load_bundle(sources)
        person = choose_person(bundle, args.person, desk)
        here = who_is_here(bundle, person, args.beside, desk)
        chosen = Chosen(bundle, person, here)
        if _agreed(chosen, desk):
            return chosen


def _practise_first(desk: Desk) -> bool:
    """At a first start: whether to practise instead."""
    desk.say(_("No job lies here yet. A practice job shows every step at a simulated vehicle:"))
    desk.say(_("nothing can be hurt, and its record says practice on every line."))
    ways = [
        Choice("practise", _("practise first")),
        Choice(_("go on"), _("go on to a real job")),
    ]
    return explained(desk, "What now?", ways, _FIRST) == "practise"


def _procedure(desk: Desk, data: DataFolder) -> Path:
    """A main procedure, shipped or the workshop's own; asked for where there are several."""
    there = {str(path): (procedure, said) for path, procedure, said in main_procedures(data)}
    chosen = next(iter(there))
    if len(there) > 1:
        options = [Choice(path, said) for path, (_, said) in there.items()]
        chosen = explained(desk, _("Which procedure?"), options, _PROCEDURE)
    procedure, said = there[chosen]
    desk.say(
        _(
            "PROCEDURE  {said}, revision {revision}. {in_words}",
            said=said,
            revision=procedure.revision,
            in_words=in_words(procedure.applies_to),
        )
    )
    return Path(chosen)


def _vehicle(desk: Desk, data: DataFolder, main: Procedure) -> Path:
    """A vehicle file that loads: one that was found and that the procedure is for, one named, or
    one made now."""
    while True:
        folders = folders_of(data)
        found = vehicles_in(folders)
        for one in found:
            if one.vehicle is None:
                desk.say(_("NOT USABLE  {problem}", problem=one.problem), "refused")
        usable = []
        for one in found:
            if one.vehicle is not None and misfits(main.applies_to, one.vehicle):
                desk.say(
                    _(
                        "NOT FOR THIS JOB  {shown} ({name})",
                        shown=shown(one.vehicle.label),
                        name=one.path.name,
                    )
                )
            elif one.vehicle is not None:
                usable.append(one)
        if not usable:
            desk.say(_("No vehicle file lies in {map}.", map=" or ".join(map(str, folders))))
        options = [
            Choice(str(one.path), f"{shown(one.vehicle.label)}: {kind_of(one.vehicle)} "
                   f"({one.path.name})")
            for one in usable if one.vehicle is not None
        ]  # fmt: skip
        options += [
            Choice("make", _("make a vehicle file now, by questions")),
            Choice("name", _("name a file that lies elsewhere")),
        ]
        way = explained(desk, _("Which vehicle?"), options, _VEHICLE)
        if way == "make":
            made = make("vehicle", free_name(data.path / WORKSHOP_FOLDER, "vehicle"), desk, data)
            return made
        if way != "name":
            return Path(way)
        named = _named("vehicle", desk)
        if named is not None:
            return named


def _beside(name: str, vehicle: Path, desk: Desk, data: DataFolder) -> Path:
    """The file ``name`` that lies with the vehicle, or one that is named or made now."""
    places = list(places_of(name, vehicle, data))
    for path in places:
        if not path.exists():
            continue
        try:
            label = label_at(name, path)
        except BadFile as bad:
            desk.say(_("NOT USABLE  {findings}", findings=bad.findings[0]), "refused")
            break
        desk.say(f"{name.upper()}  {label} ({path})")
        return path
    else:
        desk.say(
            _("No {name} file. Looked for {map}.", name=name, map=" and ".join(map(str, places)))
        )
    options = [
        Choice("make", _("make the {name} file now, by questions", name=name)),
        Choice("name", _("name a file that lies elsewhere")),
    ]
    while True:
        way = explained(
            desk, _("The job needs a {name} file.", name=name), options, [_BESIDE[name]]
        )
        if way == "make":
            return make(name, places[0], desk, data)
        named = _named(name, desk)
        if named is not None:
            return named


def _named(name: str, desk: Desk) -> Path | None:
    """A file by its name, when it loads; what is wrong with it is said."""
    path = Path(desk.line(f"Type the name of the {name} file")).expanduser().absolute()
    try:
        desk.say(f"{name.upper()}  {label_at(name, path)} ({path})")
    except BadFile as bad:
        desk.say(_("NOT USABLE  {findings}", findings=bad.findings[0]), "refused")
        return None
    return path


def _agreed(chosen: Chosen, desk: Desk) -> bool:
    """Show what the job will rest on; True for ``begin``, False to choose again."""
    bundle = chosen.bundle
    person = next(p for p in bundle.people if p.id == chosen.person)
    desk.say()
    desk.say(_("FOR        {in_words}", in_words=in_words(bundle.main.applies_to)))
    desk.say(_("The job will rest on:"))
    for name, text in (
        (
            "PROCEDURE",
            _(
                "{title}, revision {revision}",
                title=bundle.main.title,
                revision=bundle.main.revision,
            ),
        ),
        ("VEHICLE", f"{bundle.vehicle.label}: {kind_of(bundle.vehicle)}"),
        ("GUN", bundle.gun.label),
        ("FLUID", bundle.fluid.label),
        ("WORKSHOP", bundle.workshop.label),
        (_("WORK BY"), f"{person.name} ({person.role.value})"),
        ("HERE", ", ".join(chosen.here)),
    ):
        desk.say(f"{name:9} {shown(text, 100)}")
    while True:
        word = desk.line(
            _(
                "Type {begin} to open a real job, {change} to choose again",
                begin=BEGIN,
                change=CHANGE,
            ),
            (BEGIN, CHANGE, HELP, LEAVE),
        )
        if word in (BEGIN, CHANGE):
            return word == BEGIN
        for text in _BEGIN if word == HELP else (_("'{word}' begins nothing.", word=word[:20]),):
            desk.say(text)
