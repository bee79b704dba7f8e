"""What '?' shows: the step, its terms, its limits with their working, what is refused and why."""

import textwrap

from runner.session import Session
from safety.bay import FACTS

TERMS = {
    "permit": "the tool's leave for one act, now; it lapses with the next command",
    "trip": "a latched alarm: only worked recovery and a reset by another person end it",
    "hold point": "work stops until the named role signs",
    "witness point": "the role is told; work may go on",
    "ledger": "an upper bound of all fluid that may still be liquid in the exhaust",
    "strict limit": "fluid with which the engine may be started as it is",
    "extended limit": "fluid with which it may be started after the hand-turn check only",
    "hand-turn check": "two full turns by hand in running direction, seen by a second person",
    "run-on": "running on with the gun shut until the heat balance says dry",
    "zero": "the pressure shown with the engine stopped and the hose on",
}

WORDS = (
    "s        stop: hold the procedure; needs no reason, works everywhere (also Ctrl-C)",
    "?        this help",
    "back     go back one step and answer it again; the first answer stays on the record",
    "event    report something that happened: stall, fumes, fire, injury, spill ...",
    "dk       I don't know: never wrong; the tool then makes safe or asks",
    "leave    close the program; 'steplatch resume' comes back to this job",
)


def help_lines(session: Session, key: str, width: int) -> list[str]:
    """Help for the prompt called ``key``: the step in full, the working of its limits, words."""
    job = session.job
    out = ["", "HELP", *WORDS, ""]
    procedure = session.plan.procedure(job.core.procedure)
    step = procedure.step(job.core.step)
    if step.remedy:
        out += textwrap.wrap(f"If it is not so: {step.remedy}", width)
    fact = getattr(step, "fact", None)
    if fact in FACTS:
        out += [f"  {state.value}: {state.said}" for state in FACTS[fact]]
    for name, worked in job.log.working.items():
        if isinstance(worked, dict) and "lines" in worked and _belongs(name, step.kind):
            out.append(f"{worked['name']}: {worked['whole']} {worked['whole_unit']}")
            out += [f"    {line}" for line in worked["lines"]]
            out.append(f"    source: {worked['source']}")
    out.append("")
    for term, meaning in TERMS.items():
        out += textwrap.wrap(f"{term}: {meaning}", width, subsequent_indent="    ")
    return out


def _belongs(name: str, kind: str) -> bool:
    kinds = {
        "spray": ("dose_strict", "dose_extended", "running_dose"),
        "look": ("dose_strict", "dose_extended"),
        "temperature": ("exhaust_engine_off", "exhaust_running", "touch"),
        "act": ("rev_ceiling", "raised_lower", "raised_upper"),
        "read": ("rev_ceiling", "raised_lower", "raised_upper"),
        "wait": ("soak",),
        "hold": ("rev_ceiling",),
    }
    return name in kinds.get(kind, ())
