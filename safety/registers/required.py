"""What a procedure must contain, and in which order, whoever writes it: data with its reasons.

The interlocks refuse an act at the vehicle; what stands here is what they cannot see, or see when
it is too late: evidence that cannot be had any more, a yes that was given before the findings, a
crank bolt that nobody can reach once fluid is in. What is done is named as a procedure names it
(``act start``, ``look tier extended``, ``ask price``, ``answers fire`` for a trip that a recovery
or card answers).
"""

from dataclasses import dataclass
from typing import Literal

from ..acts import Trip
from ..catalogue import _

Place = Literal["before", "after", "never"]


@dataclass(frozen=True, slots=True)
class Required:
    """Wherever one of ``wherever`` is done, each of ``needs`` is done ``before`` or ``after`` it
    (``never``: nowhere in the procedure); ``a | b`` is either. ``between``: none of these is done
    between the two. ``once``: only where one of these stands before. ``if_has``: only in a
    procedure where one of these is done. ``when`` is what is so then: what is needed must not be
    left out under it."""

    id: str
    wherever: tuple[str, ...]
    place: Place
    needs: tuple[str, ...]
    reason: str
    between: tuple[str, ...] = ()
    once: tuple[str, ...] = ()
    if_has: tuple[str, ...] = ()
    when: tuple[tuple[str, tuple[str, ...]], ...] = ()


SPRAYS = ("spray off", "spray running")
_BEFORE = ("read before raised", "read before idle", "read before zero")
_AFTER = ("read after raised", "read after idle", "read after zero")

REQUIRED: tuple[Required, ...] = (
    # -- evidence ------------------------------------------------------------------------------
    Required(
        *("triage-sets", ("judge triage",), "before", _BEFORE),
        _("triage weighs a raised, an idle and a zero reading"),
    ),
    Required(
        *("line-tested", ("judge triage", "judge verdict", "judge change"), "before"),
        ("ask line_test",),
        _("a pressure from a split, blocked or swapped line shows nothing"),
        when=(("line_today", ("yes",)),),
    ),
    Required(
        *("verdict-sets", ("judge verdict",), "before", (*_BEFORE, *_AFTER)),
        _("a verdict compares a raised, an idle and a zero reading before with the same after"),
    ),
    Required(
        *("change-sets", ("judge change",), "before"),
        (*_BEFORE, "kept raised", "kept idle", "kept zero"),
        _("what changed compares today's three readings with the three that were kept"),
        when=(("kept_from", ("record", "sheet")),),
    ),
    Required(
        *("three-pours", ("judge retained",), "before"),
        tuple(f"ask {what}_{n}" for n in (1, 2, 3) for what in ("poured", "came_back")),
        _("the smallest of three pours counts, each with what came back"),
    ),
    Required(
        *("number-stood-for", ("judge retained",), "after", ("sign technician checked",)),
        _("a number that lifts a dose limit has somebody with a name behind it"),
    ),
    Required(
        *("before-closed", _BEFORE[:2], "after", _BEFORE[2:]),
        _("the zero closes a set: a sensor that drifted is found by it alone"),
    ),
    Required(
        *("after-closed", _AFTER[:2], "after", _AFTER[2:]),
        _("the zero closes a set: a sensor that drifted is found by it alone"),
    ),
    Required(
        *("before-fluid", SPRAYS, "before", ("read before raised", "read before zero")),
        _("once fluid is in, nothing can be compared with how it was"),
    ),
    Required(
        *("after-fluid", SPRAYS, "after", ("read after raised", "read after zero")),
        _("the customer pays for a result that is measured"),
    ),
    Required(
        *("dried-first", _AFTER, "before", ("hold dry",)),
        _("a wet filter reads high, and the number misleads the verdict"),
        between=SPRAYS,
    ),
    # -- the customer ----------------------------------------------------------------------------
    Required(
        *("found-before-yes", ("look agreed clean",), "before", ("judge triage",)),
        _("a yes that is given before the findings are told is none"),
    ),
    Required(
        *("told-before-yes", ("look agreed clean",), "before", ("ask alternatives", "ask price")),
        _("what else could be done, and the price, are told before the yes"),
    ),
    Required(
        *("warned-before-yes", ("look agreed clean",), "before", ("ask warning",)),
        _("where triage warns, the warning is given in writing before the yes"),
        when=(("triage", ("warn",)),),
    ),
    Required(
        *("yes-signed", SPRAYS, "before", ("look agreed clean", "sign customer agreed")),
        _("no second yes, no fluid; a yes timed after the work is worth nothing"),
    ),
    # -- before fluid ----------------------------------------------------------------------------
    Required(
        *("judged-first", SPRAYS, "before", ("judge triage",)),
        _("fluid goes into nothing that was not judged"),
    ),
    Required(
        *("line-proven", SPRAYS, "before", ("look sensor", "ask line_test")),
        _("fluid goes through the line: it is traced to the filter and blown before"),
    ),
    Required(
        *("start-tried", SPRAYS, "before", ("look starter disabled", "act try_start")),
        _("with fluid in nobody may press the start to see whether it is disabled"),
        when=(("gun", ("away",)), ("hose", ("on",))),
    ),
    Required(
        *("refit-planned", SPRAYS, "before", ("look reach", "ask refit")),
        _("once fluid is in, the engine must not simply be stopped to reach the hose"),
    ),
    Required(
        *("crank-reached", ("spray off",), "before", ("look bar on",)),
        _("above the strict dose it is turned by hand: the crank bolt is reached before any fluid"),
        if_has=("look tier extended",),
        when=(("tier", ("extended",)), ("crew", ("pair",))),
    ),
    Required(
        *("spill-looked-at", ("look spill",), "before"),
        ("ask drains_covered", "ask eyewash_here", "ask others_away"),
        _(
            "four things in one answer are answered by the first that is seen: each has its "
            "own look"
        ),
        if_has=(*SPRAYS, "gun rate"),
    ),
    Required(
        *("battery-supported", SPRAYS, "before", ("ask battery_supported",)),
        _("a battery that sags cranks slowly and hides a locked cylinder"),
    ),
    Required(
        *("sensors-known", SPRAYS, "before", ("ask hot_sensors",)),
        _("hot wet ceramic cracks: where such sensors sit is looked up before the yes"),
    ),
    Required(
        *("fluid-checked", SPRAYS, "before", ("sign fluid_check",)),
        _("what goes in cannot be taken back: it is looked at before"),
    ),
    Required(
        "check-sees-all",
        ("sign fluid_check",),
        "before",
        (
            *("look identity", "judge triage", "look agreed clean", "look tier", "gun rate"),
            *("look trigger", "look sheet", "look flash", "look kit", "look spill"),
        ),
        _("a check stands behind what it checks"),
    ),
    # -- fluid in --------------------------------------------------------------------------------
    Required(
        *("soaked", ("spray off",), "after", ("wait soak", "sign start_check")),
        _("what runs back needs its time, and somebody looks before the first start"),
        between=("act start",),
    ),
    Required(
        *("count-looked-at", ("spray off",), "after", ("ask gun_level",)),
        _(
            "one false count, or a slip that nobody told, locks the engine: the level in the "
            "gun shows it and rests on neither"
        ),
        between=("act start",),
    ),
    Required(
        *("gun-off-in-soak", ("wait soak",), "before", ("act uncouple_gun",)),
        _("gun off and air off through the soak: a gun that leaks makes the count unknown"),
        between=("act couple_gun", "spray off"),
        when=(("gun", ("coupled",)), ("hands", ("clear",))),
    ),
    Required(
        *("turn-seen", ("act hand_turn",), "after", ("sign hand_turn", "look bar off")),
        _("a turn that nobody watched shows nothing, and a bar that stays on is thrown"),
    ),
    Required(
        *("turn-not-before-soak", ("act hand_turn",), "before", ("wait soak",)),
        _("a turn before fluid has settled finds nothing"),
    ),
    Required(
        *("stop-start-off", ("spray running",), "before", ("look stop_start",)),
        _("each start may wake it, and it stops the engine in the spray"),
        between=("act start",),
    ),
    Required(
        *("duct-before-revs", ("act raise",), "before", ("ask hot_duct",)),
        _(
            "a burn that begins in the hold sets fire to a foam hose or a duct that bears no "
            "hot gas"
        ),
        between=SPRAYS,
        once=SPRAYS,
    ),
    Required(
        *("dried", SPRAYS, "after", ("hold dry",)),
        _("fluid that stays in locks the next start"),
    ),
    Required(
        *("line-blown", SPRAYS, "after", ("act uncouple_gun", "act clear_line", "act put_hose_on")),
        _("the sensor returns to a hose that is blown clear"),
    ),
    Required(
        *("blown-before-hose", ("act put_hose_on",), "before", ("act clear_line",)),
        _("fluid left in the hose reaches the sensor and fakes the result"),
        between=SPRAYS,
        once=SPRAYS,
        when=(("fluid_in", ("yes",)),),
    ),
    # -- codes, road, release ----------------------------------------------------------------------
    Required(
        "codes-kept",
        ("act clear_codes",),
        "before",
        ("ask codes_stored", "ask codes_pending", "ask freeze_frame", "look codes saved"),
        _("clearing destroys the evidence for cause and customer"),
    ),
    Required(
        *(
            "codes-again",
            ("act clear_codes",),
            "after",
            ("ask codes_after", "look codes read_again"),
        ),
        _("a code that comes back at once is a fault that is still there"),
    ),
    Required(
        *("road-ready", ("act road_test",), "before", ("look road", "look driver", "hold dry")),
        _("chocks, hoses, tools, leaks and the driver are settled before it leaves"),
    ),
    Required(
        "left-whole",
        ("sign release_check",),
        "before",
        ("look hose", "look gun", "look oil", "ask leaks_seen", "ask tools_counted", "ask waste"),
        _("a release stands behind what was left: leaks, oil and tools come before it"),
        between=SPRAYS,
        if_has=SPRAYS,
    ),
    Required(
        *("verdict-released", ("sign release_check",), "before", ("judge verdict",)),
        _("who releases has seen the verdict"),
        if_has=("judge verdict",),
    ),
    Required(
        *("handed-over", ("end finished",), "before"),
        ("sign release_check", "sign customer received", "ask advice"),
        _("the vehicle goes back released, with its sheet and what was advised"),
    ),
    # -- recoveries and cards ----------------------------------------------------------------------
    Required(
        *("tagged", ("end abandoned",), "before", ("look tag",)),
        _("whoever comes next must see that it may not be started"),
    ),
    Required(
        *("notice-signed", ("end abandoned",), "before", ("sign customer received",)),
        _("who receives it with fluid in, or burnt, has signed for the notice"),
        when=(("tag", ("do_not_start",)),),
    ),
    Required(
        *("wet-looked-at", ("answers overdose", "answers stalled"), "after"),
        ("report drained", "look oil", "sign start_check"),
        _("what may be wet is drained, and looked at before a start"),
    ),
    Required(
        *("opened-above", ("answers overdose", "answers stalled", "answers unpermitted"), "after"),
        ("report cylinders_opened",),
        _(
            "above what one cylinder bears, or not known, only an open cylinder shows that "
            "it is empty"
        ),
        when=(("fluid_count", ("above", "not_known")),),
    ),
    Required(
        *("cause-stall", ("answers stalled",), "after", ("ask stall_cause",)),
        _("a reset without the cause lets it happen again"),
    ),
    Required(
        *("cause-overdose", ("answers overdose",), "after", ("ask overdose_cause",)),
        _("a reset without the cause lets it happen again"),
    ),
    Required(
        *("cause-unexpected", ("answers self_started", "answers unpermitted"), "after"),
        ("ask unexpected_cause",),
        _("a reset without the cause lets it happen again"),
    ),
    Required(
        *("cause-over-ceiling", ("answers over_ceiling",), "after"),
        ("ask over_ceiling_cause", "look oil"),
        _("a reset without the cause lets it happen again; oil in the intake is the worst of them"),
    ),
    Required(
        *("cause-spill", ("answers spill",), "after", ("ask spill_cause", "look spill")),
        _("a reset without the cause lets it happen again"),
    ),
    Required(
        *("cause-unattended", ("answers unattended",), "after", ("ask unattended_cause",)),
        _("a reset without the cause lets it happen again"),
    ),
    Required(
        *("carried-first", ("act hands_in",), "before", ("look lift",)),
        _(
            "in a recovery or on a card what carries the vehicle is looked at before hands "
            "go in: the act is refused while nobody knows"
        ),
        if_has=tuple(f"answers {trip.value}" for trip in Trip),
        when=(("gun", ("coupled",)),),
    ),
    Required(
        *("fire-people", ("answers fire",), "after", ("ask fire_counted", "ask fire_called")),
        _("people are out and counted, and help is called"),
    ),
    Required(
        *("fire-hands-off", ("answers fire",), "never"),
        ("act hands_in", "act hands_at_hose", "act uncouple_gun", "act put_hose_on", "look key"),
        _("nobody handles a burnt vehicle to end the job"),
    ),
    Required(
        *("fumes-people", ("answers fumes",), "after", ("ask fumes_counted", "ask fumes_notes")),
        _("people are in fresh air and counted, and help is called for the unwell"),
    ),
    Required(
        *("injury-water", ("answers injury",), "after", ("ask injury_rinse", "ask injury_called")),
        _("water at once, help next"),
    ),
    Required(
        *("injury-paper-last", ("ask injury_notes", "look tag", "act hands_in"), "before"),
        ("ask injury_rinse", "ask injury_called"),
        _("people, then the engine, then paper"),
        if_has=("answers injury",),
    ),
    Required(
        *("nobody-cranks", ("answers hard_turn", "answers uneven_crank"), "never"),
        ("act start", "act try_start", "act hand_turn", "act ignition_on"),
        _("a cylinder holds fluid or a rod is bent: nothing turns it again here"),
    ),
    Required(
        *("cylinders-seen-to", ("answers hard_turn", "answers uneven_crank"), "after"),
        ("ask cylinder_notes",),
        _("it is known who opens the cylinders"),
    ),
)
"""What must be there, and where."""

HOLDS_UP: frozenset[str] = frozenset(
    {
        *("drains_covered", "eyewash_here", "battery_supported", "others_away"),
        *("leaks_seen", "tools_counted", "hot_duct", "gun_level"),
        *("stall_cause", "overdose_cause", "unexpected_cause", "over_ceiling_cause"),
        *("spill_cause", "unattended_cause"),
    }
)
"""Questions of which one answer at least must hold the job up: with every answer let through, what
is missing is written down and worked on with all the same."""

SAY_SO: tuple[tuple[str, str], ...] = (
    ("act start", r"(?:re)?start (?:it|the engine|up)\b|crank (?:it|the engine)?\b|fire it up"),
    ("act try_start", r"(?:press|push) the start\b|try the start\b"),
    ("act ignition_on", r"(?:switch|turn|put) (?:the )?(?:ignition|key) on\b|ignition on\b"),
    (
        "act stop_engine | report stopped",
        r"(?:stop|kill|switch off|turn off|shut off) (?:it|the engine|the motor)\b"
        r"|(?:switch|turn|shut) (?:it|the engine|the motor|the ignition|the key) off\b",
    ),
    ("act raise", r"(?:raise|lift|bring up) the revs\b|rev (?:it|the engine|up)\b|blip\b"),
    ("act hands_in", r"reach in(?:to)?\b|put (?:a hand|your hands?|hands) in\b"),
    ("act take_hose_off", r"(?:take|pull|twist|lever|slip) (?:the )?(?:pressure )?hose off\b"),
    ("act couple_gun", r"(?:couple|seat|fit) the (?:gun|adaptor)\b|put the gun on\b"),
    ("act uncouple_gun", r"(?:take|pull) the (?:gun|adaptor) off\b|uncouple\b"),
    ("spray", r"spray (?:it|the|a|some|more|again|fluid)\b|(?:pull|press) the trigger\b"),
    (
        "act hand_turn",
        r"turn (?:it|the crank|the engine)(?: over| round)? by hand\b|bar it over\b"
        r"|turn the crank\b|rock the crank\b",
    ),
    (
        "act put_hose_on",
        r"(?:put|push) (?:the )?(?:pressure )?hose (?:back )?on\b|refit the hose\b",
    ),
    ("act clear_line", r"blow (?:the )?(?:line|hose) (?:clear|dry)\b"),
    ("gun rate | spray", r"(?:fill|refill|load) the gun\b"),
    ("act clear_codes", r"(?:clear|erase|delete) (?:the |all |every )?codes?\b"),
    ("act road_test", r"drive (?:it|the car|the vehicle|round)\b|take it (?:out )?on the road\b"),
)
"""The words that order a guarded act, as a sentence or a part of one begins with them: only the
step that asks the permit for it may say them; ``a | b`` is a step that does either. ``spray`` is
either spray."""
