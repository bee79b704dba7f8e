"""Checks: the least role that each needs, what it reads back, when it lapses. Data; it only denies.

A check is a second look by a person who has not done the work that is looked at. A procedure may
ask a higher role and show more; it can ask for no less. A witness, a customer and an apprentice
are no checkers: the one exception is stated (``own``), and it is never recorded as another's look.

What a check reads back is told by the interlock rows that stand on the same facts: while one of
them would refuse, there is nothing to read back and nothing is signed. What it was signed upon
and that moves afterwards (``moves``), or that is corrected (``corrections``), ends it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from .acts import Act
from .bay import Bay, DoseLimits
from .catalogue import _
from .facts import Check, Crew, FluidIn
from .interlocks import INTERLOCKS, Ask, Interlock, Refusal
from .interlocks.sources import AMC

ROLE_RANK: Mapping[str, int] = {"apprentice": 0, "technician": 1, "supervisor": 2}
"""Who may answer for what. A customer, or anybody else, has no rank and checks nothing."""


@dataclass(frozen=True, slots=True)
class CheckRule:
    """One check: ``name`` is the fact that it settles (``waiver``: it settles none).

    ``own`` are those who, alone, may sign for their own work, by crew, with the least role: it
    counts as ``same``, never as another's look. ``work`` names what is done by the
    work that is looked at (a fact, or ``spray``): who did it does not sign. ``rows`` are ids of
    interlock rows; ``moves``
    names in the bay; ``corrections`` names of records. ``told_outside``: its work may be reported
    outside its step, where nobody stands as who did it; then it is that of all who worked here.
    """

    name: str
    title: str
    role: str
    meaning: str
    why: str
    source: str = AMC
    own: Mapping[Crew, str] = field(default_factory=dict)
    work: frozenset[str] = frozenset()
    rows: tuple[str, ...] = ()
    moves: tuple[str, ...] = ()
    corrections: tuple[str, ...] = ()
    lasts: str = ""
    told_outside: bool = False

    @property
    def reads_back(self) -> tuple[str, ...]:
        """What is read back to whoever signs: all that its rows read and all whose move ends it."""
        found = [fact for id in self.rows for fact in sorted(ROWS[id].reads)]
        return tuple(dict.fromkeys((*found, *self.moves)))


ROWS: Mapping[str, Interlock] = {row.id: row for row in INTERLOCKS}

CHECKS: Mapping[str, CheckRule] = {
    rule.name: rule
    for rule in (
        CheckRule(
            "fluid_check",
            _("the look before any fluid"),
            "technician",
            "checked",
            _(
                "Too much, too hot or into the wrong engine cannot be taken back: who looks "
                "must be able to judge volume, rate and temperature, and to refuse."
            ),
            own={Crew.ALONE_ADULT: "technician"},
            work=frozenset(
                {"tier", "rate", "port", "touch", "sheet", "kit", "spill", "hose", "gun"}
            ),
            rows=(
                *("spray-identity", "spray-agreed", "spray-triage", "spray-before-first"),
                *("spray-rate", "spray-running-band", "spray-sheet", "fluid-kit", "spray-spill"),
            ),
            moves=("identity", "agreed", "triage", "tier", "sheet", "crew"),
            corrections=("reading", "exhaust", "gun"),
            lasts=_(
                "Rate, temperature, protection and drains have rows that ask for them anew "
                "at each spray; a correction ends it while no fluid is in, and afterwards it "
                "counts in the ledger and in the triage."
            ),
        ),
        CheckRule(
            "start_check",
            _("the look before a start with fluid in"),
            "technician",
            "checked",
            _(
                "A wrong start locks a cylinder: who looks must be able to judge the count, "
                "the soak and whether the port is shut."
            ),
            own={Crew.ALONE_ADULT: "technician"},
            work=frozenset({"spray", "soak", "hose", "gun"}),
            rows=("start-ledger", "start-soak", "start-port-shut", "start-only-when-stopped"),
            moves=("engine", "wet", "soak", "hose", "gun", "crew"),
            lasts=_(
                "A corrected burst counts for more or for as much, never for less: where it "
                "counts for more the count is unknown, and that ends it. Alone it is one's "
                "own second look, after the soak, and carries a start within the strict "
                "limit only."
            ),
        ),
        CheckRule(
            "hand_turn",
            _("the look at the turning by hand"),
            "technician",
            "checked",
            _(
                "A stop in the turn is the only sign of a full cylinder: who watches must "
                "know it and must not be the one with the weight on the bar."
            ),
            work=frozenset({"hand_turn"}),
            rows=("turn-soaked",),
            told_outside=True,
        ),
        CheckRule(
            "release_check",
            _("the release"),
            "technician",
            "released",
            _(
                "The vehicle goes back to somebody who cannot see what was left off, wet or "
                "uncleared."
            ),
            own={Crew.ALONE_ADULT: "technician", Crew.ALONE_JUNIOR: "apprentice"},
            work=frozenset({"hose", "gun", "line", "run_on"}),
            rows=(
                *("hand-over-still", "hand-over-codes", "hand-over-dry", "revs-hose-on"),
                "revs-gun-away",
            ),
            moves=("hose", "gun", "engine", "codes", "wet"),
            lasts=_(
                "An apprentice alone signs for readings and advice only: with fluid in, another "
                "person releases."
            ),
        ),
        CheckRule(
            "recovery",
            _("the check of a recovery and its reset"),
            "technician",
            "checked",
            _(
                "A reset lets the work go on after something went wrong: who resets must be "
                "able to say that it is put right."
            ),
            own={Crew.ALONE_ADULT: "technician"},
            work=frozenset({"recovery"}),
            lasts=_("Alone it resets only what has nothing to do with fluid."),
        ),
        CheckRule(
            "waiver",
            _("the approval of a waiver"),
            "technician",
            "approved",
            _("A rule is lifted on this person's word alone."),
        ),
    )
}
"""Every check by the fact that it settles, and what approves a waiver."""

WORK: frozenset[str] = frozenset().union(*(rule.work for rule in CHECKS.values()))
"""All work that some check looks at."""
ADDS_UP = frozenset({"spray", "recovery"})
"""Work that all who did any of it have done. Other work is that of who did it last: done anew by
another, what stands there is the other's."""
EVERYTHING = "everything"
"""The work of a step of which the record does not say what it was: it bars from every check."""


def at_least(role: str, needed: str) -> bool:
    """Whether ``role`` stands at or above ``needed``; a role without a rank never does."""
    return ROLE_RANK.get(role, -1) >= ROLE_RANK[needed]


def counts_as(rule: CheckRule, role: str, did_it: bool, bay: Bay) -> Check | str:
    """How a signature counts: as another's look, as one's own, or why it does not count.

    ``did_it`` is whether the person did the work that is checked. The reasons are ``role`` and
    ``checker-is-doer``.
    """
    if not did_it and at_least(role, rule.role):
        return Check.OTHER
    own = next((least for crew, least in rule.own.items() if bay.among("crew", (crew,))), None)
    no_fluid = bay.among("fluid_in", (FluidIn.NO,))
    if own is not None and at_least(role, own) and (at_least(role, rule.role) or no_fluid):
        return Check.SAME
    return "checker-is-doer" if did_it else "role"


def nothing_to_read_back(rule: CheckRule, bay: Bay, limits: DoseLimits) -> tuple[Refusal, ...]:
    """Every reason why there is nothing to sign yet; empty when all that is read back stands."""
    return tuple(
        Refusal(row.id, row.reason, row.remedy, row.source)
        for row in (ROWS[id] for id in rule.rows)
        if not row.allows.holds(bay, Ask(Act.RESET), limits)
    )


def moved_on(before: Bay, after: Bay) -> tuple[str, ...]:
    """The checks that stood ``before`` and still stand ``after``, though what they were signed
    upon has moved in between: they lapse."""
    return tuple(
        rule.name
        for rule in CHECKS.values()
        if rule.moves
        and any(after.moved(before, name) for name in rule.moves)
        and before.knows(rule.name)
        and after.knows(rule.name)
    )


def corrected(name: str, bay: Bay) -> tuple[str, ...]:
    """The checks that stand and were signed upon a record called ``name``: they lapse.

    The look before fluid is over once fluid is in: what it was signed upon then counts in the
    ledger and in the triage, each of which is worked out again.
    """
    return tuple(
        rule.name
        for rule in CHECKS.values()
        if name in rule.corrections
        and bay.knows(rule.name)
        and (rule.name != "fluid_check" or bay.among("fluid_in", (FluidIn.NO,)))
    )
