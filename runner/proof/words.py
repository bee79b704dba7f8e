"""What ``steplatch check`` prints about proofs: lines for people, plain JSON for programs."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from runner.engine import Judges, Plan
from runner.procedure import Procedure, load_procedure
from runner.proof.faults import Fault
from runner.proof.prove import ProofResult

SHOWN_FAULTS = 20


class Loaded:
    """A main procedure with its recoveries and cards, and where each step stands."""

    def __init__(self, main: Path, others: Path) -> None:
        """Load them. Raises BadFile."""
        self._places: dict[tuple[str, str], str] = {}
        procedure = self._load(main)
        rest: dict[str, Procedure] = {}
        for path in sorted(others.glob("*.yaml")):
            if path.resolve() == main.resolve():
                continue
            other = self._load(path)
            if other.role != "main":
                rest[other.id] = other
        self.plan = Plan(procedure, rest, _NO_JUDGES)

    def _load(self, path: Path) -> Procedure:
        procedure, document = load_procedure(path)
        for i, stage in enumerate(procedure.stages):
            for j, step in enumerate(stage.steps):
                place = document.where["stages", i, "steps", j]
                self._places[procedure.id, step.id] = f"{path.name}:{place.line}"
        return procedure

    def place(self, procedure: str, step: str) -> str:
        """``file:line`` of a step; the procedure's id where the step is not in a file."""
        return self._places.get((procedure, step), procedure)


def _judged(job: object) -> dict[str, Any]:
    raise RuntimeError("the proof puts its own judges in")


_NO_JUDGES = Judges(_judged, _judged, _judged)


def check_lines(result: ProofResult) -> list[str]:
    """One search in words: figures, and what does not hold and how to see it."""
    out = [
        f"{'ok   ' if result.proven else 'FAULT'}  {result.scenario}: {result.states} states, "
        f"{result.transitions} transitions, {result.seconds:.1f} s"
    ]
    for fault in result.faults[:SHOWN_FAULTS]:
        out += fault_lines(fault)
    more = len(result.faults) - SHOWN_FAULTS
    if more > 0:
        out.append(f"  ... and {more} more; mend these first")
    return out


def total_lines(results: Sequence[ProofResult], seconds: float) -> list[str]:
    """All searches of one procedure in words: figures, what was proven, what a trace may hold."""
    last = sum(r.search_seconds for r in results)
    decisions = sum(r.decisions for r in results)
    faults = sum(len(r.faults) for r in results)
    out = [
        f"total  {results[0].procedure}: {sum(r.states for r in results)} states, "
        f"{sum(r.transitions for r in results)} transitions, {seconds:.1f} s in {len(results)} runs"
        + (f"; {faults} faults" if faults else ""),
        f"  of which the passes that count made {decisions} decisions, "
        f"{decisions / last if last else 0.0:.0f} a second a process; the rest is finding out what "
        f"matters where ({sum(r.runs for r in results)} decisions for real)",
    ]
    if not faults:
        out += [
            f"  always: {', '.join(results[0].always)}",
            "  abandoned is in reach from every state, whatever the answers"
            if all(r.giving_up for r in results)
            else "  giving up was not searched",
            "  finished is in reach from every state without a terminal trip",
        ]
        apart = [r.scenario for r in results if not r.finishing]
        if apart:
            out[-1] += f" (not judged with a mishap: {'; '.join(apart)})"
    covered: dict[str, list[str]] = {}
    for result in results:
        covered.setdefault(what_is_covered(result), []).append(result.scenario)
    for said, names in covered.items():
        out.append(f"  {names[0] if len(names) == 1 else f'{len(names)} runs'}: {said}")
    return out


def what_is_covered(result: ProofResult) -> str:
    """What one trace of this search may hold."""
    giving_up = ", giving up anywhere" if result.giving_up else ""
    if result.well and not result.mishaps:
        return (
            "each trace: the answers of this run, all coming out well, any signature, ways back "
            f"from a refusal{giving_up}; no trip, lapse, interruption or stop"
        )
    answers = "answers that come out well" if result.well else "any answers and retries"
    if not result.mishaps:
        return f"each trace: {answers}{giving_up}; no trip, lapse, interruption or stop"
    if result.named_mishaps:
        named = " or ".join(result.named_mishaps)
        return f"each trace: {answers}{giving_up}, and at most {result.mishaps} of: {named}"
    return (
        f"each trace: {answers}{giving_up}, and at most {result.mishaps} of: trip from any cause, "
        "fact or permit grown too old, clock that cannot be trusted, false look, act done without "
        "a permit, somebody gone, correction, interruption, stop"
    )


def fault_lines(fault: Fault) -> list[str]:
    """One fault: what is wrong, and the shortest way to it, step by step."""
    at = f"{fault.place}: " if fault.place else ""
    out = [f"  {at}{fault.said} [{fault.name}]"]
    out += [f"      {number:3}. {line}" for number, line in enumerate(fault.trace, start=1)]
    return out


def check_json(result: ProofResult) -> dict[str, Any]:
    """One proof as plain JSON."""
    return {
        "procedure": result.procedure,
        "scenario": result.scenario,
        "mishaps": result.mishaps,
        "states": result.states,
        "transitions": result.transitions,
        "seconds": round(result.seconds, 3),
        "decisions": result.decisions,
        "decided_for_real": result.runs,
        "last_pass_seconds": round(result.search_seconds, 3),
        "proven": result.proven,
        "covered": what_is_covered(result),
        "always": list(result.always),
        "steps_reached": len(result.reached),
        "acts_permitted": sorted(result.acts),
        "tripped": sorted(result.trips),
        "reset": sorted(result.resets),
        "ends_reached": sorted(result.ended - {""}),
        "faults": [_fault_json(fault) for fault in result.faults],
    }


def _fault_json(fault: Fault) -> dict[str, Any]:
    return {
        "kind": fault.kind,
        "name": fault.name,
        "step": fault.step,
        "place": fault.place,
        "said": fault.said,
        "trace": [str(line) for line in fault.trace],
    }
