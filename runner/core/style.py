"""Rules of style and meaning of a procedure that is written now: what ``steplatch check`` says
beyond whether it can be worked. A text that a job kept was checked when the job began.
"""

import difflib
import re

from steplatch.safety.bay import Act
from steplatch.safety.catalogue import _

from ..input.findings import Finding
from ..input.strict_yaml import Document
from .applies import ANY
from .content import content_findings
from .procedure import Procedure, Say, Step
from .steps import ActStep, AskStep, EndStep, SprayStep
from .vocabulary import PERSONAL, VOCABULARY

VAGUE = re.compile(
    r"\b(gradually|sufficiently|thoroughly|briefly|soon|approximately|etc|appropriately|"
    r"adequate|suitable|as required|where necessary|with care|gently as)\b"
)
_NO_ACT = ("the", "a", "an", "it", "there", "this", "is", "are", "you", "we", "should", "must")
_CONDITION_LATE = re.compile(r"\sif\s|,\s(if|when|once|unless)\s")
_ASH = re.compile(r"(zero|reset|set back|clear)\w* the ash")
_NEVER = re.compile(r"\b(restored|like new|guaranteed?|owner's risk|\d+ ?% clean)\b", re.I)
_CLAIM = re.compile(r"\b(SIL ?\d?|PL ?[a-e]|ASIL|safety integrity|performance level)\b")
MAX_ON_A_CARD = 7


def style_findings(procedure: Procedure, document: Document) -> list[Finding]:
    """What is against the rules, each with its place and remedy."""
    found: list[Finding] = []
    for i, stage in enumerate(procedure.stages):
        for j, step in enumerate(stage.steps):

            def say(
                key: tuple[str | int, ...],
                problem: str,
                remedy: str,
                at: tuple[str | int, ...] = ("stages", i, "steps", j),
            ) -> None:
                found.append(document.finding((*at, *key), problem, remedy))

            _of_words(step, say)
            _of_meaning(step, say)
        if "?" in stage.done:
            problem, remedy = _("a completion line says what is so; it asks nothing"), _("State it")
            found.append(document.finding(("stages", i, "done"), problem, remedy))
        if procedure.role == "card" and len(stage.steps) > MAX_ON_A_CARD:
            problem = _(
                "{count} steps; a card's stage has {max_on_a_card} at most",
                count=len(stage.steps),
                max_on_a_card=MAX_ON_A_CARD,
            )
            found.append(document.finding(("stages", i), problem, _("Make it shorter")))
    return [*found, *_of_whole(procedure, document), *content_findings(procedure, document)]


def _of_words(step: Step, say: Say) -> None:
    words = step.do.split()
    lowered = step.do.lower()
    if len(words) < 2 or not step.do.endswith(".") or not step.do[0].isupper():
        say(("do",), _("no sentence"), _("begin with a capital, end with a stop"))
    if words[0].lower() in _NO_ACT:
        say(
            ("do",),
            _("{words!r} begins no act", words=words[0]),
            _("begin with what is to be done"),
        )
    if hit := VAGUE.search(lowered):
        say(
            ("do",),
            _("{group!r} cannot be checked", group=hit.group()),
            _("give a number or a named state"),
        )
    if _CONDITION_LATE.search(lowered[1:]):
        say(("do",), _("the condition comes after the act"), _("put the condition first"))
    for key in ("do", "why", "remedy"):
        text = getattr(step, key) or ""
        if _ASH.search(text.lower()):
            say((key,), _("an ash counter is never set back"), _("leave it out"))
        if hit := _NEVER.search(text) or _CLAIM.search(text):
            say((key,), _("{group!r} is promised to nobody", group=hit.group()), _("leave it out"))


def _of_meaning(step: Step, say: Say) -> None:
    turn = isinstance(step, ActStep) and step.act is Act.HAND_TURN
    if (turn or isinstance(step, SprayStep)) and not step.why:
        say(("id",), _("a spray and a hand turn say why"), _("add 'why'"))
    if isinstance(step, AskStep):
        _of_question(step, say)


def _of_question(step: AskStep, say: Say) -> None:
    """The name under which the program reads the answer, and that it can read it."""
    if step.personal and step.name not in PERSONAL:
        say(
            ("personal",),
            _("{name!r} cannot be kept apart", name=step.name),
            _("only {personal}", personal=", ".join(PERSONAL)),
        )
    if step.name in PERSONAL and not step.personal:
        say(("name",), _("{name!r} is a customer's data", name=step.name), _("add 'personal: yes'"))
    word = VOCABULARY.get(step.name)
    if word is None:
        near = difflib.get_close_matches(step.name, VOCABULARY, n=1, cutoff=0.85)
        if near:
            meaning = VOCABULARY[near[0]].meaning
            remedy = _(
                "write {near!r} ({meaning}), or give it a name that is less like it",
                near=near[0],
                meaning=meaning,
            )
            say(
                ("name",),
                _("{name!r} is nearly a name that the program reads", name=step.name),
                remedy,
            )
        return
    form = step.form if step.form != "number" else step.quantity
    if form != word.form:
        say(
            ("form",),
            _(
                "{name!r} ({meaning}) is read as {form}",
                name=step.name,
                meaning=word.meaning,
                form=word.form,
            ),
            _("ask it so"),
        )
    for k, option in enumerate(step.options):
        if word.values and option.value not in word.values:
            known = ", ".join(word.values)
            say(
                ("options", k),
                _("{name} is never {value!r}", name=step.name, value=option.value),
                _("use {known}", known=known),
            )


def _of_whole(procedure: Procedure, document: Document) -> list[Finding]:
    found: list[Finding] = []

    def say(key: tuple[str | int, ...], problem: str, remedy: str) -> None:
        found.append(document.finding(key, problem, remedy))

    steps = procedure.steps()
    applies = procedure.applies_to
    if procedure.role == "main" and isinstance(applies, str) and applies != ANY:
        problem = _("no vehicle's file can be held against these words")
        say(("applies_to",), problem, f"write {{fuel: diesel, filter: above}}, or '{ANY}'")
    if procedure.role == "card":
        last = steps[-1]
        if "report stopped" not in {d for s in steps[:2] for d in s.doings}:
            problem = _("a card sees to people, then stops the engine, before anything else")
            say(("stages", 0), problem, _("make 'report: stopped' its first or second step"))
        if not isinstance(last, EndStep) or last.how != "abandoned":
            say(("stages",), _("a card never returns"), _("end with 'end: abandoned'"))
    return found
