"""What a procedure must contain (``safety.registers.required``), told at the step that lacks it."""

import re
from collections.abc import Iterator, Sequence
from itertools import product

from steplatch.safety.bay import FACTS, Act
from steplatch.safety.catalogue import _
from steplatch.safety.interlocks import INTERLOCKS, Both, Condition, Either, Is
from steplatch.safety.interlocks.volumes import FLUID_COUNT
from steplatch.safety.kernel import LOOKED_AT
from steplatch.safety.registers.required import HOLDS_UP, REQUIRED, SAY_SO, Required

from ..input.findings import Finding
from ..input.strict_yaml import Document
from .procedure import Procedure, Step

ASSUMED = {"crew": ("pair", "alone_adult"), "triage": ("go", "warn"), "agreed": ("clean",)}
"""Where a job with fluid goes on: what is needed must be there then, in a main procedure."""
MOVING = frozenset({"engine", "hose", "gun", "bar", "hands", "key", "fluid_in", "fluid_count"})
"""Facts that move from step to step: a step left out by one of them has nothing to do then."""
_ORDER = r"(?:^|[,;:.?!(] ?|\b(?:and|then|or|now|to) )(?:then |now |again |just |simply |next )?"
_FORBIDS = re.compile(r"\b(?:no|not|never|nobody|don't|cannot|without|nothing|before|until)\b")


def content_findings(procedure: Procedure, document: Document) -> list[Finding]:
    """What is not there, stands at the wrong place, or orders an act that another step permits."""
    return [
        *_missing(procedure, document),
        *_let_through(procedure, document),
        *_orders(procedure, document),
    ]


def _missing(procedure: Procedure, document: Document) -> Iterator[Finding]:
    steps = procedure.steps()
    paths = [
        ("stages", i, "steps", j, "id")
        for i, stage in enumerate(procedure.stages)
        for j in range(len(stage.steps))
    ]
    done = [_done(step) for step in steps]
    answers = {f"answers {trip.value}" for trip in procedure.answers}
    has = answers.union(*done)
    for rule in REQUIRED:
        if rule.if_has and not has & {*rule.if_has}:
            continue
        at = [-1] if answers & {*rule.wherever} else []
        at += [n for n, doings in enumerate(done) if doings & {*rule.wherever}]
        if rule.once:
            first = min((n for n, doings in enumerate(done) if doings & {*rule.once}), default=-1)
            at = [n for n in at if -1 < first < n]
        for n in at:
            for need in rule.needs:
                if problem := _lacks(rule, need, n, steps, done, procedure):
                    path = ("answers",) if n < 0 else paths[n]
                    remedy = f"{problem[1]}: {rule.reason}"
                    yield document.finding(path, problem[0], remedy)
                    break


def _let_through(procedure: Procedure, document: Document) -> Iterator[Finding]:
    for i, stage in enumerate(procedure.stages):
        for j, step in enumerate(stage.steps):
            answers = {option.value for option in getattr(step, "options", ())}
            if step.gives in HOLDS_UP and answers <= {*(getattr(step, "want", None) or answers)}:
                problem = _("every answer to {gives!r} lets the job go on", gives=step.gives)
                remedy = _("Name in 'want' those that are safe: else what is missing stays missing")
                yield document.finding(("stages", i, "steps", j, "id"), problem, remedy)


def _done(step: Step) -> set[str]:
    """What is done at a step, a look also with each state that it passes with."""
    wanted = getattr(step, "want", ()) if step.looks_at else ()
    return {*step.doings, *(f"look {step.looks_at} {state}" for state in wanted)}


def _lacks(
    rule: Required,
    need: str,
    n: int,
    steps: Sequence[Step],
    done: Sequence[set[str]],
    procedure: Procedure,
) -> tuple[str, str] | None:
    """What is wrong with ``need`` for the step at ``n``, and what to do; None: nothing."""
    ways = {*need.split(" | ")}
    places = [k for k, doings in enumerate(done) if doings & ways and k != n]
    if rule.place == "never":
        return (_("{need!r} has no place here", need=need), _("Leave it out")) if places else None
    if not places:
        return _("{need!r} is missing", need=need), _("Put it {place} this", place=rule.place)
    between = [k for k, doings in enumerate(done) if doings & {*rule.between}]
    if rule.place == "before":
        after = max((k for k in between if k < n), default=-1)
        good = [k for k in places if after < k < n]
    else:
        until = min((k for k in between if k > n), default=len(steps))
        good = [k for k in places if n < k < until]
    if not good:
        return _("{need!r} does not stand {place} this", need=need, place=rule.place), _(
            "Put it {place} this", place=rule.place
        )
    given = steps[n] if n >= 0 else None
    if left := _left_out(rule, given, [steps[k] for k in good], procedure):
        return _("{need!r} is left out here when {left}", need=need, left=left), _(
            "Widen its 'when'"
        )
    return None


def _left_out(
    rule: Required, given: Step | None, steps: Sequence[Step], procedure: Procedure
) -> str:
    """A state under which ``given`` is worked and none of ``steps`` is; '' where there is none."""
    fixed = dict(rule.when)
    if procedure.role == "main":
        fixed = ASSUMED | fixed
    facts = sorted(
        {
            condition.fact
            for step in steps
            for condition in step.when
            if condition.fact not in MOVING or condition.fact in fixed
        }
    )
    own = {} if given is None else {c.fact: c.among for c in given.when}
    domains = []
    for fact in facts:
        allowed = fixed.get(fact) or _states(fact, procedure)
        here = own.get(fact)
        domains.append([s for s in allowed if here is None or s in here])
    for states in product(*domains):
        now = dict(zip(facts, states, strict=True))
        if not any(
            all(now[c.fact] in c.among for c in step.when if c.fact in now) for step in steps
        ):
            return " and ".join(
                _("{fact} is {state}", fact=fact, state=state) for fact, state in now.items()
            )
    return ""


def _states(name: str, procedure: Procedure) -> tuple[str, ...]:
    """Every known state of a fact, or every answer of a choice."""
    if name in FACTS:
        return tuple(state.value for state in FACTS[name] if not state.unknown)
    if name == "fluid_count":
        return tuple(FLUID_COUNT)
    found: dict[str, None] = {}
    for step in procedure.steps():
        if step.gives == name:
            found |= dict.fromkeys(option.value for option in step.options)
    return tuple(found)


def _orders(procedure: Procedure, document: Document) -> Iterator[Finding]:
    for i, stage in enumerate(procedure.stages):
        for j, step in enumerate(stage.steps):
            texts = {key: getattr(step, key) or "" for key in ("do", "why", "remedy")}
            texts |= {"options": " . ".join(o.say for o in getattr(step, "options", ()))}
            for key, text in texts.items():
                if act := ordered(text, step.doings):
                    problem = _("these words order what 'do' asks no permit for: {act}", act=act)
                    remedy = _("Make it a step of its own, or say it otherwise")
                    yield document.finding(("stages", i, "steps", j, key), problem, remedy)


_ORDERED = re.compile(_ORDER + f"(?:{'|'.join(words for _, words in SAY_SO)})")
_ORDERED_ACTS = tuple(
    (act, tuple(act.split(" | ")), re.compile(_ORDER + f"(?:{words})")) for act, words in SAY_SO
)


def ordered(text: str, doings: Sequence[str]) -> str:
    """The first guarded act that the text orders and that is not among ``doings``; '' for none."""
    lowered = text.lower()
    if not _ORDERED.search(lowered):  # most texts; a part of one begins where a sentence ends
        return ""
    for part in re.split(r"(?<=[.;:?!]) ", lowered):
        for act, ways, words in _ORDERED_ACTS:
            if any(doing.startswith(ways) for doing in doings):
                continue
            hit = words.search(part)
            if hit and not _FORBIDS.search(part[: hit.end()]):
                return act
    return ""


_ACTS = {
    "spray off": Act.SPRAY_OFF,
    "spray running": Act.SPRAY_RUNNING,
    "hold dry": Act.RUN_ON,
    "gun rate": Act.FILL_GUN,
    "end finished": Act.HAND_OVER,
    "end abandoned": Act.ABANDON,
} | {f"act {act.value}": act for act in Act}


def asked_anyway(procedure: Procedure) -> list[str]:
    """For a main procedure, each fact that it asks in no step before the act that needs it: the
    program refuses the act and asks it there. One line each, at the first such act."""
    told: dict[str, str] = {}
    known: set[str] = set()
    for step in procedure.steps() if procedure.role == "main" else ():
        acts = {_ACTS[doing] for doing in step.doings if doing in _ACTS}
        for row in INTERLOCKS:
            for fact in sorted(_must_be_known(row.allows) & LOOKED_AT - known - told.keys()):
                if acts & row.acts:
                    told[fact] = _(
                        "{id}: {id_2}: no step before asks {fact!r}; the program refuses "
                        "here ({id_3}) and asks it then",
                        id=procedure.id,
                        id_2=step.id,
                        fact=fact,
                        id_3=row.id,
                    )
        known |= step.settles()
    return list(told.values())


def _must_be_known(condition: Condition) -> frozenset[str]:
    """The facts without which a condition never holds."""
    match condition:
        case Is(fact):
            return frozenset({fact})
        case Both(parts):
            return frozenset().union(*(_must_be_known(part) for part in parts))
        case Either(parts):
            return frozenset.intersection(*(_must_be_known(part) for part in parts))
        case _:
            return frozenset()
