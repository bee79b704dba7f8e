"""The interlock list and the hazard register as pages, printed from the data that decide.

``python -m tests.safety.write_registers`` writes them to ``safety/INTERLOCKS.md`` and
``safety/HAZARDS.md`` (this room opens no file); a test holds the pages to the data.
"""

from collections.abc import Callable, Iterator, Sequence

from steplatch.safety.bay import FACTS, Act, Trip
from steplatch.safety.catalogue import spoken
from steplatch.safety.checks import CHECKS, CheckRule
from steplatch.safety.effects import EFFECTS, LASTS_S
from steplatch.safety.interlocks import INTERLOCKS, Both, Condition, Either, Interlock, Is, Rule
from steplatch.safety.kernel import Happened, Lapsed, Seen, apply, trips
from steplatch.safety.occurrences import ALWAYS_POSSIBLE, OUTCOMES, Happening
from steplatch.safety.registers.cautions import CAUTIONS
from steplatch.safety.registers.hazard import Hazard
from steplatch.safety.registers.hazards import HAZARDS
from steplatch.safety.registers.required import REQUIRED
from steplatch.safety.registers.trusted_reports import (
    CAUGHT_BY_A_LINK,
    TRUSTED_REPORTS,
    honesty_rows,
    spoken_lie,
)
from steplatch.safety.verify.alarms import alarm_monitors
from steplatch.safety.verify.kernel_model import LIMITS
from steplatch.safety.verify.matrix import MatrixRows, interlock_rows, render, words
from steplatch.safety.verify.needs import Needs
from steplatch.safety.verify.ready_bays import IDLING, READY
from steplatch.safety.verify.row_monitors import BREAKS, monitors_of
from steplatch.safety.verify.self_test import CAUSES, MONITORS, monitors_for

from tests.safety.assumed import ASSUMED
from tests.safety.rules_against import AGAINST
from tests.safety.second_questions import SECOND_QUESTIONS
from tests.safety.who_else import WHO_ELSE
from tests.safety.why_so_long import WHY_SO_LONG

COMMAND = "python -m tests.safety.write_registers"

ROW_TESTS = "tests/safety/test_interlock_rows.py"
WITHOUT_ROW = "test_without_the_row_its_monitor_is_broken"
ROW_ALONE = "test_there_is_a_state_in_which_the_row_alone_refuses"
KERNEL_TESTS = "tests/safety/test_kernel_proof.py"
WITH_ALL_ROWS = "test_whatever_is_permitted_is_truly_met"
"""The tests that prove a row; the page names them with their parameters."""

FLOODING = "hydraulic-lock"
"""The hazard by which the page shows how to read it."""


def proofs(row: Interlock) -> tuple[str, ...]:
    """The tests that prove a row: without it, with all rows, and it alone for each of its acts."""
    names = monitors_of(row.id)
    return (
        *(f"{WITHOUT_ROW}[{row.id}-{name}]" for name in names),
        *(f"{WITH_ALL_ROWS}[{name}]" for name in names),
        *(f"{ROW_ALONE}[{row.id}-{act}]" for act in sorted(act.value for act in row.acts)),
    )


def answers(row_id: str) -> tuple[Hazard, ...]:
    """The hazards that an interlock row answers."""
    return tuple(hazard for hazard in HAZARDS if row_id in hazard.interlocks)


# -- what a row does with what is not known ----------------------------------------------------


def without_knowing(condition: Condition, fact: str) -> Condition | None:
    """What is left of ``condition`` when ``fact`` is not known; None: it cannot hold.

    No condition takes unknown for good; a test holds this to what the rows do.
    """
    match condition:
        case Is() | Rule():
            return None if fact in condition.reads else condition
        case Both(parts):
            kept = [without_knowing(part, fact) for part in parts]
            left = tuple(part for part in kept if part is not None)
            return Both(left) if len(left) == len(parts) else None
        case _:
            kept = [without_knowing(part, fact) for part in condition.parts]
            left = tuple(part for part in kept if part is not None)
            return Either(left) if len(left) > 1 else next(iter(left), None)


def not_known(row: Interlock) -> list[str]:
    """What the row does with each fact that it reads when that is unknown, in words."""
    always: list[str] = []
    unless: list[str] = []
    for fact in sorted(row.reads - {"trips"}):
        left = without_knowing(row.allows, fact)
        if left is None:
            always.append(_fact(fact))
        else:
            unless.append(f"{_fact(fact)} unknown: refused unless {words(left)}")
    first = [f"{', '.join(always)} unknown: refused"] if always else []
    return first + unless or ["it reads nothing that can be unknown"]


def _fact(fact: str) -> str:
    return "`wet` (the fluid ledger)" if fact == "wet" else f"`{fact}`"


def _reads(row: Interlock) -> str:
    read = [
        f"{_fact(fact)} (stale after {LASTS_S[fact] // 60} min)" if fact in LASTS_S else _fact(fact)
        for fact in sorted(row.reads)
    ]
    return ", ".join(read) or "no fact, only what is asked for"


# -- trips ---------------------------------------------------------------------------------------


def latched_by(act: Act) -> frozenset[str]:
    """The trips that latch whenever ``act`` is reported done without its permit."""
    bay = READY[act][0]
    found = [
        {trip.value for trip in trips(bay, event, apply(bay, event), LIMITS)}
        for what in OUTCOMES[act]
        if what not in ALWAYS_POSSIBLE
        for event in [Happened(what)]
    ]
    return frozenset(set.intersection(*found)) if found else frozenset()


def latched_by_loss(row: Interlock) -> dict[str, tuple[str, ...]]:
    """Of what the row reads, that whose loss while the engine runs latches a trip, and which."""
    lost = {}
    for fact in sorted(row.reads & frozenset(FACTS)):
        after = apply(IDLING, Lapsed(fact))
        if tripped := trips(IDLING, Lapsed(fact), after, LIMITS):
            lost[fact] = tuple(trip.value for trip in tripped)
    return lost


def _latches(row: Interlock) -> str:
    if "trips" in row.reads:
        return "it reads the latched trips: each stays until its own reset, whatever its cause does"
    told = ["the refusal itself latches nothing: mend the reason and ask again"]
    by_trip: dict[str, list[str]] = {}
    for act in sorted(row.acts, key=lambda act: act.value):
        for trip in sorted(latched_by(act)):
            by_trip.setdefault(trip, []).append(spoken(act.value))
    for trip, acts in by_trip.items():
        told.append(f"done without a permit ({', '.join(acts)}): the trip `{trip}` latches")
    for fact, lost in latched_by_loss(row).items():
        told.append(f"`{fact}` lost while the engine runs: the trip `{', '.join(lost)}` latches")
    return "; ".join(told)


# -- the page of the interlocks ------------------------------------------------------------------


def interlocks_page(rows: Sequence[Interlock] = INTERLOCKS) -> str:
    """``safety/INTERLOCKS.md``: how to read it, the answer by example, every row, every fact."""
    said = {line["interlock"]: line for line in interlock_rows(rows)}
    parts = [
        "# Interlocks\n",
        f"Printed by `{COMMAND}` from the tables that decide; a test holds the page to them. "
        "Change the data, not the page.\n",
        *_flooding(said),
        *_how_to_read(rows),
        "## All rows\n",
        render([_index(row, said[row.id]) for row in rows], "markdown"),
        *(part for row in rows for part in _row(row, said[row.id])),
        "## The trips\n",
        "A trip latches what has happened, whatever its cause does afterwards. While one is "
        "latched, [`no-trip-latched`](#no-trip-latched) and "
        "[`start-no-fluid-trip`](#start-no-fluid-trip) refuse; stopping and making safe stay "
        "open.\n",
        render([_trip_row(trip) for trip in Trip], "markdown"),
        "## The monitors\n",
        "What must never truly happen, written apart from the rows. *Invariant 0* stands behind "
        "no harm: it keeps the record good.\n",
        render([_monitor_row(n, rows) for n in sorted(MONITORS.values(), key=_by)], "markdown"),
        "While the engine runs, "
        + ", ".join(f"`{alarm.name}`" for alarm in alarm_monitors())
        + " break when what it needs is lost and no trip `unattended` comes in the same moment.\n",
        "## The checks\n",
        "Who may sign, what must be there to be read back, and what ends it afterwards. A "
        "procedure may ask for more, never for less. A witness, a customer and an apprentice "
        "never count as another's look.\n",
        render([_check_row(rule) for rule in CHECKS.values()], "markdown"),
        "## The facts\n",
        "What a row can read, in the words in which people answer. Every fact begins as unknown "
        "(but for `fluid_in`).\n",
        render([_fact_row(fact) for fact in FACTS], "markdown"),
        "`wet` is the fluid ledger: an upper bound, in 0.1 mL, of all fluid that may still be "
        "liquid in the exhaust; it is a number or unknown, and does not age. `trips` are the "
        "latched trips.\n",
    ]
    return "\n".join(parts)


def _flooding(said: dict[str, dict[str, str]]) -> Iterator[str]:
    hazard = next(hazard for hazard in HAZARDS if hazard.id == FLOODING)
    first, *others = hazard.interlocks
    row = next(row for row in INTERLOCKS if row.id == first)
    monitor = MONITORS[BREAKS[first]]
    without, with_all, *alone = proofs(row)
    yield "## Which rule stops flooding a cylinder, and what proves it?\n"
    yield (
        f"The rule is [`{first}`](#{first}).\n\n"
        f"- It refuses the act **{said[first]['acts']}**. The apprentice reads: "
        f'"{said[first]["else refuses"]}"\n'
        f"- It permits when {said[first]['permits when']}.\n"
        f"- What proves it: the monitor `{monitor.name}`, written apart from the rows, watches "
        f'what truly happened and breaks at "{monitor.words}".\n'
        f"  - With all rows, nothing that is permitted breaks it: `{with_all}`.\n"
        f"  - Take this one row out, and the search finds a way to break it: `{without}`.\n"
        f"  - There is a state in which this row alone refuses: `{'`, `'.join(alone)}`.\n"
        f'  - See all three: `python -m pytest {ROW_TESTS} {KERNEL_TESTS} -k "{first} or '
        f'{monitor.name}"`. On your own machine, in a moment: `steplatch self-test`.\n'
        f"- What it cannot do: {hazard.left_over} See "
        f"[{hazard.title}](HAZARDS.md#{hazard.id}).\n"
    )
    yield "The other rows against it:\n"
    yield render(
        [
            {
                "row": f"[`{id}`](#{id})",
                "refuses": said[id]["acts"],
                "unless": said[id]["permits when"],
                "monitor that breaks without it": ", ".join(f"`{n}`" for n in monitors_of(id)),
            }
            for id in others
        ],
        "markdown",
    )


def _how_to_read(rows: Sequence[Interlock]) -> Iterator[str]:
    waivable = [f"`{row.id}`" for row in rows if row.waivable]
    yield "## How to read this page\n"
    yield (
        "- A row only denies. An act is permitted when no row that names it refuses; which rows "
        "apply follows from the kind of act, so no procedure can forget or switch off one.\n"
        "- *Unknown* is a fact that nobody has looked at, or that an act, an interruption or a "
        "contradiction has ended. *Stale* is one that grew older than the time named with it: it "
        "is then unknown. Both refuse, but where another part of the condition stands for it.\n"
        "- A refusal ends with its reason. A *trip* stays latched when its cause is gone, until "
        "its recovery is worked and it is reset; a reset permits and starts nothing.\n"
        "- A *monitor* is an invariant, written a second time and apart from the rows, over what "
        "truly happened. *Broken without it* names the monitor that the search breaks when this "
        "one row is taken out: so no row is there for nothing, and none can be lost unseen.\n"
        f"- *Proven by* names tests: `{WITHOUT_ROW}` and `{ROW_ALONE}` in `{ROW_TESTS}`, and "
        f"`{WITH_ALL_ROWS}` in `{KERNEL_TESTS}`. That last one is half of the kernel proof; the "
        "other half shows that a fact that is known is true (`tests/safety/README.md`).\n"
        f"- No row can be waived but {' and '.join(waivable)}, which keep the record good: once, "
        "by another person, with a reason that is printed.\n"
        "- An interlock acts on what people report. It senses and moves nothing: it is an "
        "administrative control. Local rules, the maker's data and the fluid's data sheet come "
        "first.\n"
    )


def _index(row: Interlock, said: dict[str, str]) -> dict[str, str]:
    return {
        "row": f"[`{row.id}`](#{row.id})",
        "refuses": said["acts"],
        "broken without it": ", ".join(f"`{name}`" for name in monitors_of(row.id)),
        "stands against": ", ".join(hazard.id for hazard in answers(row.id)),
    }


def _row(row: Interlock, said: dict[str, str]) -> Iterator[str]:
    yield f"### {row.id}\n"
    lines = {
        "Refuses": said["acts"],
        "The apprentice reads": said["else refuses"],
        "What would allow it": said["remedy"],
        "Permits when": said["permits when"],
        "Reads": _reads(row),
        "Unknown or stale": "; ".join(not_known(row)),
        "Latching": _latches(row),
        "Waiver": said["waiver"],
        "Source": said["source"],
        "Stands against": ", ".join(
            f"[{hazard.title}](HAZARDS.md#{hazard.id})" for hazard in answers(row.id)
        ),
        "Broken without it": "; ".join(_monitor(name) for name in monitors_of(row.id)),
        "Proven by": ", ".join(f"`{test}`" for test in proofs(row)),
    }
    yield "".join(f"- **{name}:** {text}\n" for name, text in lines.items())


def _monitor(name: str) -> str:
    needs = MONITORS[name]
    return f"monitor `{name}` (invariant {needs.invariant}): {needs.words}"


def _trip_row(trip: Trip) -> dict[str, str]:
    return {
        "trip": f"`{trip.value}`",
        "comes, for example, when": _cause(CAUSES[trip][1]),
        "reset": "none: made safe and abandoned" if trip.terminal else "after its recovery",
    }


def _cause(event: Happened | Seen | Lapsed) -> str:
    if isinstance(event, Happened):
        return f"it is reported: {event.what.said}"
    if isinstance(event, Seen):
        return f"with no permit for it, it is seen: {event.state.said}"
    return f"while the engine runs, `{event.fact}` grows too old to be believed"


def _by(needs: Needs) -> tuple[int, str]:
    return needs.invariant, needs.name


def _monitor_row(needs: Needs, rows: Sequence[Interlock]) -> dict[str, str]:
    return {
        "invariant": str(needs.invariant),
        "monitor": f"`{needs.name}`",
        "watches": ", ".join(spoken(act) for act in sorted(needs.acts)),
        "breaks at": needs.words,
        "held by": ", ".join(f"[`{id}`](#{id})" for id in held_by(needs, rows)),
    }


def held_by(needs: Needs, rows: Sequence[Interlock] = INTERLOCKS) -> tuple[str, ...]:
    """The rows without which a monitor breaks; two hold every latched trip between them."""
    return tuple(row.id for row in rows if needs in monitors_for(row.id))


def _check_row(rule: CheckRule) -> dict[str, str]:
    own = [f"{spoken(crew.value)}: {role}, counted as the same person" for crew, role
           in rule.own.items()]  # fmt: skip
    return {
        "check": rule.title,
        "least role": rule.role,
        "why": rule.why,
        "own work": "; ".join(own) or "never",
        "nothing to sign while one of these refuses": ", ".join(
            f"[`{id}`](#{id})" for id in rule.rows
        ),
        "ends when this moves": ", ".join(_fact(name) for name in rule.moves),
        "ends when this is corrected": ", ".join(rule.corrections),
        "beside": rule.lasts,
        "source": rule.source,
    }


def _fact_row(fact: str) -> dict[str, str]:
    interrupted = EFFECTS[Happening.INTERRUPTED]
    about = " ".join((FACTS[fact].__doc__ or "").split())
    return {
        "fact": f"`{fact}`",
        "what it is": about,
        "states": "; ".join(f"*{spoken(state.value)}*: {state.said}" for state in FACTS[fact]),
        "stale after": (
            f"{LASTS_S[fact] // 60} min: {WHY_SO_LONG[fact]}" if fact in LASTS_S else "no time"
        ),
        "after an interruption": "kept" if fact in interrupted.keeps else "unknown",
    }


# -- the page of the hazards -----------------------------------------------------------------------


def hazards_page(hazards: Sequence[Hazard] = HAZARDS) -> str:
    """``safety/HAZARDS.md``: every hazard, what answers it, what is left; what rests on honesty."""
    said = {line["interlock"]: line for line in interlock_rows()}
    index: MatrixRows = [
        {
            "hazard": f"[{hazard.title}](#{hazard.id})",
            "harm": hazard.harm,
            "who or what": hazard.who,
            "interlocks": str(len(hazard.interlocks)),
            "cautions": str(len(hazard.cautions)),
        }
        for hazard in hazards
    ]
    honest = honesty_rows()
    parts = [
        "# Hazard register\n",
        f"Printed by `{COMMAND}` from `safety/registers/hazards.py`, the cautions "
        "and the interlocks; a test holds the page to them. Change the data, not the page.\n",
        "For each hazard: the harm, whom it meets, how it comes about, what refuses "
        "([interlocks](INTERLOCKS.md)), what is shown before the step (cautions), **what is left "
        "over** in spite of both, and what only a person can do. An interlock refuses an act on "
        "what people report; it senses and moves nothing. Local rules, the maker's data and the "
        "fluid's data sheet stand above every line.\n",
        render(index, "markdown"),
        *(part for hazard in hazards for part in _hazard(hazard, said)),
        "## What rests on one honest answer\n",
        f"The search tried each false answer alone. Each of these {len(honest)} makes the tool "
        "believe what is not so; what is not listed takes two false answers, or none suffices.\n",
        render(honest, "markdown"),
        _with_a_link(),
        "## The ten worst, and what asks otherwise\n",
        render(_asked_otherwise(), "markdown"),
        "## What the proof takes for granted of the plant\n",
        "People obey and answer honestly, and of the plant what stands below. In a plant in which "
        "it is not so the same proof finds what then is wrongly believed; rows answer it as far as "
        "they can, and the hazard says what is left over.\n",
        render(_assumed(), "markdown"),
    ]
    return "\n".join(parts)


def _asked_otherwise() -> MatrixRows:
    return [
        {
            "false answer": spoken_lie(second.false_report),
            "a person would notice": second.noticed,
            "the car could say": second.car,
            "asked otherwise at": f"`{second.asked[1]}` ({second.asked[0]})",
            "left over": second.left,
        }
        for second in SECOND_QUESTIONS
    ]


def _assumed() -> MatrixRows:
    return [
        {
            "taken for granted": assumption.says,
            "else wrongly believed": _fact(assumption.refutes),
            "answered by": ", ".join(f"[`{id}`](INTERLOCKS.md#{id})" for id in assumption.rows),
            "left over": f"{assumption.left} ([{assumption.hazard}](#{assumption.hazard}))",
        }
        for assumption in ASSUMED
    ]


def _with_a_link() -> str:
    """What of it a link to the vehicle catches."""
    parts = []
    for name, caught in CAUGHT_BY_A_LINK.items():
        left = len(TRUSTED_REPORTS[name]) - len(caught)
        said = "; ".join(spoken_lie(false_report) for false_report in caught)
        parts.append(
            f"With a link to the vehicle whose report is true, {len(caught)} of the "
            f"{len(TRUSTED_REPORTS[name])} about `{name}` are contradicted or trip: {said}. {left} "
            "stay, most because a vehicle whose ignition is off says nothing. The other facts were "
            "not searched with a link.\n"
        )
    return "\n".join(parts)


def _hazard(hazard: Hazard, said: dict[str, dict[str, str]]) -> Iterator[str]:
    yield f"### {hazard.id}\n"
    yield (
        f"**{hazard.title}.**\n\n"
        f"- **Harm:** {hazard.harm}\n"
        f"- **Who or what:** {hazard.who}\n"
        f"- **How it comes about:** {'; '.join(hazard.causes)}\n"
        f"- **What refuses:**\n"
        + "".join(
            f"  - [`{id}`](INTERLOCKS.md#{id}) ({said[id]['acts']}): {said[id]['else refuses']}\n"
            for id in hazard.interlocks
        )
        + "- **What is shown before the step:**\n"
        + "".join(f"  - {_caution(id)}\n" for id in hazard.cautions)
        + "".join(_held_to(hazard))
        + f"- **What proves the rows:** {_proved_by(hazard)}\n"
        + f"- **What is left over:** {hazard.left_over}\n"
        f"- **What only a person can do:** {hazard.only_a_person_can}\n"
        f"- **Who else must act:** {WHO_ELSE[hazard.id]}\n"
        f"- **Source:** {hazard.source}\n"
    )


def _held_to(hazard: Hazard) -> Iterator[str]:
    """What a procedure must hold against it."""
    rules = [rule for rule in REQUIRED if AGAINST.get(rule.id) == hazard.id]
    if rules:
        yield "- **What a procedure must hold** (`steplatch check` refuses it else):\n"
    for rule in rules:
        needs = ", ".join(f"`{need}`" for need in rule.needs)
        where = ", ".join(f"`{doing}`" for doing in rule.wherever)
        yield f"  - {needs} {rule.place} {where}: {rule.reason} (`{rule.id}`)\n"


def _proved_by(hazard: Hazard) -> str:
    names = dict.fromkeys(name for id in hazard.interlocks for name in monitors_of(id))
    return "the monitors " + ", ".join(f"`{name}`" for name in names)


def _caution(id: str) -> str:
    caution = CAUTIONS[id]
    return f"{caution.word}: {caution.hazard} {caution.consequence} (`{id}`)"


PAGES: dict[str, Callable[[], str]] = {
    "INTERLOCKS.md": interlocks_page,
    "HAZARDS.md": hazards_page,
}
"""File name in ``safety/`` -> what it must hold."""
