"""Rules of style and meaning of a procedure that is written now: what ``steplatch check`` says
beyond whether it can be worked. A text that a job kept was checked when the job began.
"""

import difflib
import re

from steplatch.safety.bay import Act

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
            problem, remedy = "a completion line says what is so; it asks nothing", "State it"
            found.append(document.finding(("stages", i, "done"), problem, remedy))
        if procedure.role == "card" and len(stage.steps) > MAX_ON_A_CARD:
            problem = f"{len(stage.steps)} steps; a card's stage has {MAX_ON_A_CARD} at most"
            found.append(document.finding(("stages", i), problem, "Make it shorter"))
    return [*found, *_of_whole(procedure, document), *content_findings(procedure, document)]


def _of_words(step: Step, say: Say) -> None:
    words = step.do.split()
    lowered = step.do.lower()
    if len(words) < 2 or not step.do.endswith(".") or not step.do[0].isupper():
        say(("do",), "no sentence", "begin with a capital, end with a stop")
    if words[0].lower() in _NO_ACT:
        say(("do",), f"{words[0]!r} begins no act", "begin with what is to be done")
    if hit := VAGUE.search(lowered):
        say(("do",), f"{hit.group()!r} cannot be checked", "give a number or a named state")
    if _CONDITION_LATE.search(lowered[1:]):
        say(("do",), "the condition comes after the act", "put the condition first")
    for key in ("do", "why", "remedy"):
        text = getattr(step, key) or ""
        if _ASH.search(text.lower()):
            say((key,), "an ash counter is never set back", "leave it out")
        if hit := _NEVER.search(text) or _CLAIM.search(text):
            say((key,), f"{hit.group()!r} is promised to nobody", "leave it out")


def _of_meaning(step: Step, say: Say) -> None:
    turn = isinstance(step, ActStep) and step.act is Act.HAND_TURN
    if (turn or isinstance(step, SprayStep)) and not step.why:
        say(("id",), "a spray and a hand turn say why", "add 'why'")
    if isinstance(step, AskStep):
        _of_question(step, say)


def _of_question(step: AskStep, say: Say) -> None:
    """The name under which the program reads the answer, and that it can read it."""
    if step.personal and step.name not in PERSONAL:
        say(("personal",), f"{step.name!r} cannot be kept apart", f"only {', '.join(PERSONAL)}")
    if step.name in PERSONAL and not step.personal:
        say(("name",), f"{step.name!r} is a customer's data", "add 'personal: yes'")
    word = VOCABULARY.get(step.name)
    if word is None:
        near = difflib.get_close_matches(step.name, VOCABULARY, n=1, cutoff=0.85)
        if near:
            meaning = VOCABULARY[near[0]].meaning
            remedy = f"write {near[0]!r} ({meaning}), or give it a name that is less like it"
            say(("name",), f"{step.name!r} is nearly a name that the program reads", remedy)
        return
    form = step.form if step.form != "number" else step.quantity
    if form != word.form:
        say(("form",), f"{step.name!r} ({word.meaning}) is read as {word.form}", "ask it so")
    for k, option in enumerate(step.options):
        if word.values and option.value not in word.values:
            known = ", ".join(word.values)
            say(("options", k), f"{step.name} is never {option.value!r}", f"use {known}")


def _of_whole(procedure: Procedure, document: Document) -> list[Finding]:
    found: list[Finding] = []

    def say(key: tuple[str | int, ...], problem: str, remedy: str) -> None:
        found.append(document.finding(key, problem, remedy))

    steps = procedure.steps()
    applies = procedure.applies_to
    if procedure.role == "main" and isinstance(applies, str) and applies != ANY:
        problem = "no vehicle's file can be held against these words"
        say(("applies_to",), problem, f"write {{fuel: diesel, filter: above}}, or '{ANY}'")
    if procedure.role == "card":
        last = steps[-1]
        if "report stopped" not in {d for s in steps[:2] for d in s.doings}:
            problem = "a card sees to people, then stops the engine, before anything else"
            say(("stages", 0), problem, "make 'report: stopped' its first or second step")
        if not isinstance(last, EndStep) or last.how != "abandoned":
            say(("stages",), "a card never returns", "end with 'end: abandoned'")
    return found
