"""The monitors bite: with one interlock row out of the table, walks soon find the harm.

Each row is dropped alone. With the row back, the same moves breach nothing, and that very row
refuses one of them.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

import pytest
from steplatch.runner.core import engine
from steplatch.runner.core.commands import Begin
from steplatch.safety import kernel
from steplatch.safety.effects import LASTS_S
from steplatch.safety.interlocks import INTERLOCKS

from tests.walk.desks import InMind
from tests.walk.moves import Breach, Move, Played
from tests.walk.truth_beside import Untrue
from tests.walk.walker import Fate
from tests.walk.walks import drawn

MOST_WALKS = 60
MOST_STEPS = 400


@contextmanager
def without(row_id: str, diverting: bool = True) -> Iterator[None]:
    """The table without one row; and, at will, no way to the procedure that answers a trip."""
    fewer = tuple(row for row in INTERLOCKS if row.id != row_id)
    with pytest.MonkeyPatch.context() as patch:
        assert kernel.permit.__defaults__ == (INTERLOCKS,)
        if row_id:
            assert len(fewer) == len(INTERLOCKS) - 1
            patch.setattr(kernel.permit, "__defaults__", (fewer,))
        if not diverting:
            patch.setattr(engine, "_divert", lambda draft, known: None)
        yield


@dataclass(frozen=True)
class Bite:
    """A row, the monitors one of which must break without it, and where mishaps come often."""

    row: str
    monitors: tuple[str, ...]
    weights: dict[str, float]
    at: tuple[str, ...] = ()
    rate: float = 0.01
    slip: float = 0.01
    theme: str = ""
    diverting: bool = True
    low_ceiling: bool = False
    last: str = ""
    given: dict[str, str] = field(default_factory=dict)


SPRAY_OFF = ("off-cool", "off-spray")
BITES = (
    Bite("spray-off-ledger", ("spray-off-ledger",), {"same look": 1}, slip=0.3),
    Bite("spray-running-ledger", ("spray-running-ledger",), {"same look": 1}, slip=0.3),
    Bite(
        "start-soak",
        ("start-soaked",),
        {"kill": 1},
        ("off-check", "run-hands", "run-start"),
        given={"tier": "strict"},
    ),
    Bite("turn-soaked", ("turn-soaked",), {"kill": 1}, ("off-hands", "off-couple", "off-turn")),
    Bite("spray-off-cool", ("spray-off-cool",), {"pause": 1}, SPRAY_OFF),
    Bite("hose-cool", ("hose-cool",), {"pause": 1}, ("line-hands", "line-off", "access-off")),
    Bite("run-fumes", ("run-fumes",), {"worse": 1}, ("before-start", "run-start"), rate=0.03),
    Bite(
        "revs-hose-on",
        ("revs-hose-on", "read-hose-on", "hand-over-hose"),
        {"kill": 1},
        ("hold-raise", "before-raise", "before-raised", "idle-out", "before-zero-read"),
    ),
    Bite("revs-ceiling", ("revs-under-ceiling",), {"same look": 1}, low_ceiling=True),
    Bite("spray-off-still", ("spray-off-still",), {"worse": 1}, SPRAY_OFF, rate=0.03),
    Bite(  # a trip leads away from the main procedure; here the way is closed as well
        "no-trip-latched",
        ("latched-spill",),
        {"same look": 1},
        ("advice", "return-date", "release", "received"),
        theme="spilled",
        diverting=False,
        last="hand-over",
    ),
    Bite("run-controls", ("run-attended",), {"worse": 1}, ("before-start", "run-start"), rate=0.03),
    Bite("fluid-kit", ("spray-kit",), {"long pause": 1}, ("gun-rate", *SPRAY_OFF)),
    Bite("spray-check", ("fluid-checked",), {"kill": 1}, SPRAY_OFF),
    Bite("start-hands-clear", ("hands-clear",), {"long pause": 1}, ("before-start", "run-start")),
    Bite(
        "after-only-dried",
        ("after-is-dry",),
        {"stop": 1, "back": 1, "kill": 2},
        ("hold-level", "after-raised", "after-idle", "after-zero"),
    ),
    Bite("hand-over-signed", ("hand-over-signed",), {"kill": 1}, ("received", "hand-over")),
)
QUICK = ("spray-off-ledger", "spray-off-cool", "revs-ceiling")


def hunted(bite: Bite, walks: int = MOST_WALKS) -> Breach | None:
    """The first breach of one of the monitors of ``bite`` in so many walks."""
    for seed in range(walks):
        fate = Fate(
            rate=bite.rate,
            kills=0.0,
            slip=bite.slip,
            theme=bite.theme,
            weights=dict(bite.weights),
            at=frozenset(bite.at),
        )
        given = {"crew": "pair", "agreed": "clean", "tier": "extended", **bite.given}
        walk = drawn(seed, fate, low_ceiling=bite.low_ceiling, **given)
        try:
            walk.walk(MOST_STEPS)
        except Breach as breach:
            assert breach.name in bite.monitors, breach.said
            return breach
    return None


@pytest.mark.parametrize(
    "bite",
    [pytest.param(b, id=b.row, marks=[] if b.row in QUICK else [pytest.mark.slow]) for b in BITES],
)
def test_a_walk_without_this_row_comes_to_the_harm_that_it_stops(bite: Bite) -> None:
    with without(bite.row, bite.diverting):
        breach = hunted(bite)
    assert breach is not None, f"{MOST_WALKS} walks without '{bite.row}' found nothing"
    assert bite.row in refused_by(bite, breach, breach.moves)
    if bite.last:
        assert breach.moves[-1].command == Begin(bite.last)


def test_a_walk_in_which_facts_live_too_long_comes_to_a_permit_that_rests_on_an_old_one() -> None:
    bite = Bite("hose-cool", ("no-old-fact",), {"pause": 1}, ("line-off", "access-off"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engine, "LASTS_S", {fact: 10 * s for fact, s in LASTS_S.items()})
        breach = hunted(bite)
    assert breach is not None and breach.name == "no-old-fact"


def test_a_breach_is_made_short_and_told_in_plain_words() -> None:
    bite = next(b for b in BITES if b.row == "revs-ceiling")
    with without(bite.row):
        breach = hunted(bite)
        assert breach is not None
        lines = str(breach).splitlines()
    assert lines[0] == "BREACH  revs-under-ceiling: revs over the ceiling asked for"
    assert "work as the screen says: crew to " in lines[1]
    assert "begin: Raise the revs into the band and hold them." in lines[-1]
    assert len(lines) < 12 < len(breach.short) < len(breach.moves)
    assert bite.row in refused_by(bite, breach, breach.short)


def refused_by(bite: Bite, breach: Breach, moves: Sequence[Move]) -> set[str]:
    """What refuses any of the moves with the row back in the table; nothing is breached then."""
    found: set[str] = set()
    with without("", bite.diverting):
        played = Played(InMind(breach.opening.worker, breach.opening.limits), breach.opening.dry)
        for move in moves:
            try:
                outcome = played.play(move)
            except Untrue:
                continue
            found |= {r.interlock for r in outcome.refusals} if outcome is not None else set()
        assert not played.truth.breaches
    return found
