"""A procedure in words: its flow with branches and return points, as a checklist, and what changed
between two revisions of it."""

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from steplatch.safety.bay import FACTS
from steplatch.safety.catalogue import _, spoken
from steplatch.safety.registers.cautions import CAUTIONS

from ..core.applies import in_words
from ..core.procedure import Procedure, Stage, Step, WhenCondition

SAFETY = ("kind", "act", "engine", "timer", "role", "point", "slot", "want", "cautions", "when",
          "reads_back", "phase", "condition", "fact", "how", "happenings", "held", "name", "form",
          "quantity", "low", "high", "options", "fields", "may_not_apply")  # fmt: skip
"""Fields whose change can matter to somebody's safety; the others are words."""


ENFORCES = _("Paper does not enforce: no step is refused here, and nothing is recorded.")
NO_BOX = _("Where no box says what you see, the work stops there.")


def said_of(condition: WhenCondition) -> str:
    """One condition in words: ``engine: stopped or idling``."""
    states = {s.value: s.said for s in FACTS.get(condition.fact, ())}
    plain = [spoken(state) for state in condition.among]
    known = [states[state] for state in condition.among if state in states]
    if len(known) == 1:
        return known[0]
    return spoken(condition.fact) + " " + _(" or ").join(plain)


def common_of(stage: Stage) -> tuple[WhenCondition, ...]:
    """The conditions that all steps of a stage begin with."""
    first = stage.steps[0].when
    n = 0
    while n < len(first) and all(step.when[n : n + 1] == first[n : n + 1] for step in stage.steps):
        n += 1
    return first[:n]


def flow(main: Procedure) -> dict[str, Any]:
    """The flow as plain values: stages with their return points, steps with when they are worked;
    a condition that all steps of a stage begin with stands at each of them."""
    return {
        "procedure": main.id,
        "revision": main.revision,
        "title": main.title,
        "role": main.role,
        "purpose": main.purpose,
        "stages": [
            {
                "id": stage.id,
                "title": stage.title,
                "returns": list(stage.returns),
                "steps": [
                    {
                        "id": step.id,
                        "kind": type(step).kind_name(),
                        "do": step.do,
                        "when": [[c.fact, *c.among] for c in step.when],
                    }
                    for step in stage.steps
                ],
            }
            for stage in main.stages
        ],
    }


def flow_lines(main: Procedure, others: Mapping[str, Procedure]) -> Iterator[str]:
    """The flow as text: stages in a line, branches to the right, return points with who comes
    back to them, and where a trip leads from anywhere."""
    yield _("{title}, revision {revision}", title=main.title, revision=main.revision)
    yield f"  {main.purpose}"
    yield _("  o begin")
    for number, stage in enumerate(main.stages, start=1):
        common = common_of(stage)
        yield "  |"
        for point in stage.returns:
            back = [o.title for o in others.values() if point in (o.return_to, o.return_with_fluid)]
            yield _(
                "  |<=== {point}: back from {back}",
                point=point,
                back=", ".join(back) or _("nothing"),
            )
        if common:
            yield _("  +-- only when {common}", common=_(" and ").join(said_of(c) for c in common))
        yield f"  [{number}] {stage.title}"
        for place, step in enumerate(stage.steps, start=1):
            own = step.when[len(common) :]
            branch = (
                _("   <- when {own}", own=_(" and ").join(said_of(c) for c in own)) if own else ""
            )
            yield f"  |   {number}.{place:<2} {_mark(step)} {step.do}{branch}"
        yield f"  |   = {stage.done}"
    yield _("  o end")
    yield ""
    yield _("From anywhere:")
    for other in others.values():
        trips = ", ".join(trip.value for trip in other.answers) or _("given up")
        way = (
            _("comes back to {return_to}", return_to=other.return_to)
            if other.return_to
            else _("ends the job")
        )
        if other.return_with_fluid:
            way += _(
                ", with fluid in to {return_with_fluid}", return_with_fluid=other.return_with_fluid
            )
        yield _(
            "  {trips}: {title} ({count} steps), {way}",
            trips=trips,
            title=other.title,
            count=len(other.steps()),
            way=way,
        )


def _mark(step: Step) -> str:
    """What a step is, in one sign: ! an act under permit, # a signature, ? a question, o a look."""
    kind = type(step).kind_name()
    return {"act": "!", "spray": "!", "sign": "#", "reset": "#", "look": "o", "ask": "?"}.get(
        kind, "-"
    )


def checklist(
    main: Procedure, sha256: str, limits: Sequence[tuple[str, str, str]] = (), label: str = ""
) -> dict[str, Any]:
    """A checklist for paper as plain values. ``limits`` are name, value with unit, source, for the
    vehicle ``label``."""
    stages = []
    fluid = main.role != "main" or bool(main.sprays())
    for number, stage in enumerate(main.stages, start=1):
        common = common_of(stage)
        stages.append(
            {
                "title": f"{number}. {stage.title}",
                "when": _(" and ").join(said_of(c) for c in common),
                "steps": [
                    {
                        "number": f"{number}.{place}",
                        "when": _(" and ").join(said_of(c) for c in step.when[len(common) :]),
                        "do": step.do,
                        "why": step.why or "",
                        "cautions": [
                            f"{_(CAUTIONS[c].word)}: {CAUTIONS[c].hazard}"
                            for c in step.shown_cautions(fluid)
                        ],
                        "signs": spoken(str(getattr(step, "role", ""))),
                        "ticks": _to_tick(step),
                        "writes": type(step).kind_name() in ("ask", "read", "temperature", "gun")
                        and not getattr(step, "options", ()),
                    }
                    for place, step in enumerate(stage.steps, start=1)
                ],
                "done": stage.done,
            }
        )
    return {
        "title": main.title,
        "head": _(
            "{id}, revision {revision}, {date}; approver: {approver}",
            id=main.id,
            revision=main.revision,
            date=main.date,
            approver=main.approver,
        ),
        "hash": sha256,
        "no_box": NO_BOX,
        "limits": [list(row) for row in limits],
        "vehicle": label,
        "stages": stages,
    }


def _to_tick(step: Step) -> list[str]:
    """The answers of a choice, or the states with which a look passes, each with a box."""
    states = {s.value: s.said for s in FACTS.get(step.looks_at, ())}
    wanted = getattr(step, "want", ()) if states else ()
    return [o.say for o in getattr(step, "options", ())] or [states[value] for value in wanted]


def _printed(plain: Mapping[str, Any]) -> dict[str, str]:
    """What the page itself says around a checklist."""
    return {
        "paper": _("Paper does not enforce."),
        "enforces": ENFORCES,
        "page": _("page"),
        "of": _("of"),
        "limits": _("Limits for {vehicle}", vehicle=plain["vehicle"]),
        "none": _("No limits are worked on this page: see the worked limits of the vehicle."),
        "when": _("When"),
        "only": _("Only when"),
        "signs": _("signs"),
        "time": _("time"),
    }


def checklist_pdf(plain: Mapping[str, Any]) -> bytes:
    """The checklist as a tagged PDF. Raises NoPrinter where typst is not installed."""
    import json

    from .html_page import LANGUAGE, TEMPLATES
    from .pdf_page import NO_DATE, STANDARD, load_printer

    fonts = load_printer()
    import typst

    made = typst.compile(
        (TEMPLATES / "checklist.typ").read_bytes(),
        font_paths=fonts,
        format="pdf",
        sys_inputs={
            "list": json.dumps(
                {**plain, "lang": LANGUAGE, "words": _printed(plain)}, ensure_ascii=False
            )
        },
        pdf_standards=STANDARD,
        timestamp=NO_DATE,
    )
    assert isinstance(made, bytes)  # one document, asked for without a file
    return made


def checklist_lines(plain: Mapping[str, Any], width: int = 80) -> Iterator[str]:
    """The checklist as text: boxes, limits, lines to sign on."""

    def wrapped(text: str, behind: str = "") -> list[str]:
        return textwrap.wrap(behind + text, width, subsequent_indent=" " * len(behind))

    yield plain["title"].upper()
    yield from wrapped(plain["head"])
    yield f"SHA-256 {plain['hash']}"
    yield ENFORCES
    yield NO_BOX
    if plain["limits"]:
        yield _("Limits for {plain}:", plain=plain["vehicle"])
        for name, value, source in plain["limits"]:
            yield from wrapped(f"{name}: {value} ({source})", "  ")
    else:
        yield _("Limits: none worked here; see steplatch limits --vehicle FILE.")
    for stage in plain["stages"]:
        yield ""
        when = _("  (only when {stage})", stage=stage["when"]) if stage["when"] else ""
        yield from wrapped(f"{stage['title']}{when}")
        for step in stage["steps"]:
            for caution in step["cautions"]:
                yield from wrapped(caution, "      ")
            when = _("When {step}: ", step=step["when"]) if step["when"] else ""
            yield from wrapped(f"{when}{step['do']}", f"  [ ] {step['number']:<5} ")
            for one in step["ticks"]:
                yield from wrapped(one, "            ( ) ")
            if step["writes"]:
                yield f"            {'_' * (width - 14)}"
            if step["signs"]:
                at = _("time")
                yield f"            {step['signs']}: {'_' * 24} {at}: {'_' * 8}"
        yield from wrapped(stage["done"], "  [ ] ")


def changes(old: Procedure, new: Procedure) -> tuple[list[str], list[str]]:
    """What changed between two revisions, in plain words: what can matter to safety, then words."""
    grave: list[str] = []
    words: list[str] = []
    was = {step.id: step for step in old.steps()}
    now = {step.id: step for step in new.steps()}
    for step_id in was.keys() - now.keys():
        grave.append(_("step {step_id} is gone: {do}", step_id=step_id, do=was[step_id].do))
    for step_id in now.keys() - was.keys():
        grave.append(_("step {step_id} is new: {do}", step_id=step_id, do=now[step_id].do))
    kept_old = [s for s in was if s in now]
    kept_new = [s for s in now if s in was]
    for step_id in _moved(kept_old, kept_new):
        grave.append(
            _("step {step_id} stands at another place: {do}", step_id=step_id, do=now[step_id].do)
        )
    for step_id in kept_new:
        one, other = _in_order(was[step_id]), _in_order(now[step_id])
        for key in dict.fromkeys([*one, *other]):
            if one.get(key) != other.get(key):
                said = _(
                    "{plain} is now {plain_2}",
                    plain=_plain(one.get(key)),
                    plain_2=_plain(other.get(key)),
                )
                (grave if key in SAFETY else words).append(
                    _("step {step_id}, {key}: {said}", step_id=step_id, key=_key(key), said=said)
                )
    for key in ("return_to", "return_with_fluid", "answers", "role"):
        if getattr(old, key) != getattr(new, key):
            said = _(
                "{plain} is now {plain_2}",
                plain=_plain(getattr(old, key)),
                plain_2=_plain(getattr(new, key)),
            )
            grave.append(f"{_key(key)}: {said}")
    points = [{p: s.id for s in x.stages for p in s.returns} for x in (old, new)]
    for point in sorted(points[0].keys() | points[1].keys()):
        before, after = (at.get(point, "none") for at in points)
        if before != after:
            grave.append(
                _(
                    "return point {point}: stage {before} is now {after}",
                    point=point,
                    before=before,
                    after=after,
                )
            )
    if old.applies_to != new.applies_to:
        said = _(
            "{in_words!r} is now {in_words_2!r}",
            in_words=in_words(old.applies_to),
            in_words_2=in_words(new.applies_to),
        )
        grave.append(_("applies to: {said}", said=said))
    for key in ("title", "purpose", "competence", "author", "approver", "date"):
        if getattr(old, key) != getattr(new, key):
            words.append(
                _(
                    "{key}: {getattr!r} is now {getattr_2!r}",
                    key=_key(key),
                    getattr=getattr(old, key),
                    getattr_2=getattr(new, key),
                )
            )
    titles = [{s.id: (s.title, s.done) for s in x.stages} for x in (old, new)]
    for stage in titles[0].keys() & titles[1].keys():
        if titles[0][stage] != titles[1][stage]:
            words.append(_("stage {stage}: title or completion line is another", stage=stage))
    return sorted(grave), sorted(words)


def _in_order(step: Step) -> dict[str, Any]:
    """A step's fields; what stands in any order, all of which must hold, in one order."""
    plain = step.model_dump()
    for key in ("when", "cautions", "want", "reads_back"):
        if key in plain:
            plain[key] = sorted(plain[key], key=str)
    return plain


def _moved(old: list[str], new: list[str]) -> list[str]:
    """The steps that stand behind another one now, the fewest."""
    import difflib

    same = difflib.SequenceMatcher(a=old, b=new, autojunk=False).get_matching_blocks()
    stay = {new[block.b + n] for block in same for n in range(block.size)}
    return [step for step in new if step not in stay]


def _key(key: str) -> str:
    return spoken(key)


def _plain(value: Any) -> str:
    if value in (None, (), [], ""):
        return "nothing"
    if isinstance(value, list | tuple):
        return ", ".join(_plain(inner) for inner in value)
    if isinstance(value, Mapping):
        if {"fact", "among"} <= value.keys():
            return said_of(WhenCondition(fact=value["fact"], among=tuple(value["among"])))
        return " ".join(_plain(inner) for inner in value.values())
    return str(getattr(value, "value", value))
