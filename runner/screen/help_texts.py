"""What '?' shows: the step, its terms, its limits with their working, what is refused and why."""

import re
import textwrap
from typing import Any

from steplatch.safety.bay import FACTS
from steplatch.safety.catalogue import _

from ..jobs.session import Session
from .notices import TO_KNOW
from .page import context_lines
from .reasons import reason_for
from .screen import caution_texts, known_text, page_of
from .terms import terms

WORDS = (
    _("s      stop: hold the procedure; needs no reason, works everywhere (also Esc and Ctrl-C)"),
    _("?      this help; ?? explains every term"),
    _("dk     I don't know: never wrong; the tool then makes safe or asks"),
    _("back   go back one step and answer it again; the first answer stays on the record"),
    _("fix    correct a value of an earlier step; both values and the reason stay on the record"),
    _("na     this step does not apply here; only where that is allowed, with a reason"),
    _("ahead  the paperwork to come, to be read while something cools or soaks"),
    _("write  write such paper in a wait; it is kept, and offered when its step comes"),
    _("join   somebody has come and stays: from now on they may sign what their role allows"),
    _("gone   somebody has gone and comes back no more: who is here is asked anew"),
    _("over   hand the work over to somebody else who is here"),
    _("photo  keep a picture with the job, for the record or for the customer's page too"),
    _("event  report something that happened: stall, fumes, fire, injury, spill ..."),
    _(
        "aside  you looked, and what the vehicle reports is wrong: it is not used any more, "
        "and stands in the record (with a link alone)"
    ),
    _("leave  hold and close the program; 'steplatch resume' comes back to this job"),
    _("<      the part before (page up too), on a screen that shows a step in parts"),
)


def help_lines(session: Session, job_id: str, key: str, width: int) -> list[str]:
    """Help for the prompt called ``key``: this step, its limits with their working, its terms,
    then the words that work everywhere."""
    job = session.job
    procedure = session.plan.procedure(job.core.procedure)
    step = procedure.step(job.core.step)
    out = ["", _("HELP on: {do}", do=step.do)]
    page = page_of(session.plan, procedure, step, job)
    out += [text for text, _ in context_lines(page)]
    out += _hung(_("KNOWN  {known_text}", known_text=known_text(job)), width)
    if why := step.why or reason_for(step):
        out += _hung(f"Why: {why}", width)
    for word, body in caution_texts(page.cautions):
        out += _hung(f"{_(word)}: {body}", width)
    if step.remedy:
        out += _hung(_("If it is not so: {remedy}", remedy=step.remedy), width)
    fact = key.removeprefix("look:") if key.startswith("look:") else getattr(step, "fact", None)
    if fact in FACTS:
        out += _hung(_("To know it: {to_know}.", to_know=TO_KNOW[fact]), width)
    for name, worked in session.plan.working.items():
        if isinstance(worked, dict) and "lines" in worked and _belongs(name, step):
            out += _hung(f"{worked['name']}: {worked['whole']} {worked['whole_unit']}", width)
            out += [line for text in worked["lines"] for line in _hung(f"  {text}", width)]
            out += _hung(_("  source: {source}", source=worked["source"]), width)
    said = f"{step.do} {step.why or ''} {step.remedy or ''} {step.kind}".lower()
    for term, meaning in terms().items():
        if re.search(rf"\b{re.escape(term)}\b", said) or term in _SHOWN_WITH.get(step.kind, ()):
            out += _hung(f"{term}: {meaning}", width)
    return [*out, "", *(line for word in WORDS for line in _hung(word, width))]


def term_lines(width: int) -> list[str]:
    """Every term that the screen uses, explained."""
    every = (f"{term}: {said}" for term, said in terms().items())
    return ["", *(line for text in every for line in _hung(text, width))]


_SHOWN_WITH = {
    "act": (_("permit"),),
    "end": (_("permit"),),
    "spray": (_("permit"), _("ledger"), _("strict limit"), _("extended limit")),
    "hold": (_("run-on"),),
    "sign": (_("hold point"),),
    "reset": (_("trip"),),
}
"""Terms that the screen of a kind of step always shows."""


def _hung(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent="       ") or [""]


def _belongs(name: str, step: Any) -> bool:
    if getattr(step, "fact", None) in ("tier", "hand_turn"):
        return name in ("dose_strict", "dose_extended")
    kinds = {
        "spray": ("dose_strict", "dose_extended", "running_dose"),
        "temperature": ("exhaust_engine_off", "exhaust_running", "touch", "gloved"),
        "act": ("rev_ceiling", "raised_lower", "raised_upper"),
        "read": ("rev_ceiling", "raised_lower", "raised_upper"),
        "wait": ("soak",),
        "hold": ("rev_ceiling",),
    }
    return name in kinds.get(step.kind, ())
