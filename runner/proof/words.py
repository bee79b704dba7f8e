"""What ``steplatch check`` prints about proofs: lines for people, plain JSON for programs."""

from collections.abc import Sequence
from itertools import zip_longest
from pathlib import Path
from typing import Any

from steplatch.safety.catalogue import _

from ..core.loading import load_procedure
from ..core.plan import Judges, Plan
from ..core.procedure import Procedure
from ..input.findings import BadFile, Finding
from ..input.strict_yaml import Document
from .faults import TraceLine, Violation
from .prove import ProofResult

SHOWN_FAULTS = 20
SHOWN_STEPS = 12
SHOWN_MISSED = 5


class LoadedProcedures:
    """A main procedure with its recoveries and cards, and where each step stands."""

    def __init__(self, main: Path, others: Sequence[Path]) -> None:
        """Load them; of the others those that are main procedures are left out. Raises BadFile,
        also where the main one lacks a return point that one of the others names."""
        self._places: dict[tuple[str, str], str] = {}
        procedure, written = load_procedure(main)
        self._keep_places(main, procedure, written)
        lacking: list[Finding] = []
        rest: dict[str, Procedure] = {}
        for path in others:
            if path.resolve() == main.resolve():
                continue
            other, document = load_procedure(path)
            if other.role != "main":
                self._keep_places(path, other, document)
                rest[other.id] = other
                for point in (getattr(other, key) for key in other.missing_points(procedure)):
                    problem = _(
                        "no stage returns {point!r}, where {id} comes back to",
                        point=point,
                        id=other.id,
                    )
                    remedy = _(
                        'Write "returns: {point}" on the stage to begin again with', point=point
                    )
                    lacking.append(written.finding(("stages",), problem, remedy))
        if lacking and procedure.role == "main":
            raise BadFile(lacking)
        self.plan = Plan(procedure, rest, _NO_JUDGES)

    def _keep_places(self, path: Path, procedure: Procedure, document: Document) -> None:
        for i, stage in enumerate(procedure.stages):
            for j, step in enumerate(stage.steps):
                place = document.place(("stages", i, "steps", j))
                self._places[procedure.id, step.id] = f"{path.name}:{place.line}"

    def place(self, procedure: str, step: str) -> str:
        """``file:line`` of a step; the procedure's id where the step is not in a file."""
        return self._places.get((procedure, step), procedure)


def _judged(job: object, recorded: object = None) -> dict[str, Any]:
    raise RuntimeError("the proof puts its own judges in")


_NO_JUDGES = Judges(*[_judged] * 5)


def check_lines(result: ProofResult, told: set[tuple[str, ...]] | None = None) -> list[str]:
    """One search in words: figures, and what does not hold and how to see it.

    ``told`` are the faults that were told with an earlier search: they are named only.
    """
    told = set() if told is None else told
    out = [
        _(
            "{part}  {scenario}: {states} states, {transitions} transitions, {seconds:.1f} s",
            part="ok   " if result.proven else "FAULT",
            scenario=result.scenario,
            states=result.states,
            transitions=result.transitions,
            seconds=result.seconds,
        )
    ]
    again = [f for f in result.faults if _known_by(f) in told]
    new = [f for f in result.faults if _known_by(f) not in told]
    ways: set[tuple[TraceLine, ...]] = set()
    for fault in new[:SHOWN_FAULTS]:
        out += fault_lines(fault, way=fault.trace not in ways)
        ways.add(fault.trace)
    if len(new) > SHOWN_FAULTS:
        out.append(_("  ... and {count} more; mend these first", count=len(new) - SHOWN_FAULTS))
    if again:
        out.append(
            _("  told above: {again}", again=", ".join(f"{f.step} [{f.name}]" for f in again))
        )
    told |= {_known_by(f) for f in new}
    return out


def _known_by(fault: Violation) -> tuple[str, ...]:
    """What makes two faults one: recoveries have steps of the same name in other places."""
    return fault.kind, fault.name, fault.step, fault.place


def transitions_a_second(results: Sequence[ProofResult]) -> int:
    """Of one process, in the passes whose states are reported."""
    last = sum(r.search_seconds for r in results)
    return round(sum(r.transitions for r in results) / last) if last else 0


def total_lines(
    results: Sequence[ProofResult], missed: Sequence[str], seconds: float, whole: bool = True
) -> list[str]:
    """All searches of one procedure in words: figures, what was proven, what a trace may hold.

    ``missed`` says which steps and ends no search came to: a fault of a ``whole`` job; of a
    recovery some steps want more than one disturbance, and are only told.
    """
    decisions = sum(r.decisions for r in results)
    faults = sum(len(r.faults) for r in results)
    out = [
        _(
            "total  {procedure}: {results} states, {results_2} transitions, {seconds:.1f} s "
            "in {count} runs",
            procedure=results[0].procedure,
            results=sum(r.states for r in results),
            results_2=sum(r.transitions for r in results),
            seconds=seconds,
            count=len(results),
        )
        + (_("; {faults} faults", faults=faults) if faults else ""),
        _(
            "  the passes that count: {decisions} decisions, {transitions_a_second} "
            "transitions a second a process; the rest is finding out what matters where "
            "({results} decisions for real)",
            decisions=decisions,
            transitions_a_second=transitions_a_second(results),
            results=sum(r.runs for r in results),
        ),
    ]
    mark = "[sometimes]" if whole else _("(not judged)")
    out += [f"  {said} {mark}" for said in missed[:SHOWN_MISSED]]
    if len(missed) > SHOWN_MISSED:
        out.append(
            _(
                "  ... and {count} more steps that are never reached",
                count=len(missed) - SHOWN_MISSED,
            )
        )
    if not faults:
        out += [
            f"  always: {', '.join(results[0].always)}",
            _("  abandoned is in reach from every state, whatever the answers")
            if any(r.giving_up for r in results)
            else _("  giving up was not searched"),
            _("  finished is in reach from every state without a terminal trip"),
            _("  no step is refused while all goes well")
            if any(r.well and not r.disturbances for r in results)
            else _("  that no step is refused while all goes well was not searched"),
        ]
        apart = [r.scenario for r in results if not r.finishing]
        if apart:
            out[-2] += _(" (not judged with a disturbance: {apart})", apart="; ".join(apart))
    covered: dict[str, list[str]] = {}
    for result in results:
        covered.setdefault(what_is_covered(result), []).append(result.scenario)
    for said, names in covered.items():
        out.append(f"  {names[0] if len(names) == 1 else f'{len(names)} runs'}: {said}")
    return out


def what_is_covered(result: ProofResult) -> str:
    """What one trace of this search may hold."""
    giving_up = _(", giving up anywhere") if result.giving_up else ""
    if result.well and not result.disturbances:
        return _(
            "each trace: the answers of this run, all coming out well, any signature, ways "
            "back from a refusal{giving_up}; no trip, lapse, interruption or stop",
            giving_up=giving_up,
        )
    answers = _("answers that come out well") if result.well else _("any answers and retries")
    if not result.disturbances:
        return _(
            "each trace: {answers}{giving_up}; no trip, lapse, interruption or stop",
            answers=answers,
            giving_up=giving_up,
        )
    if result.named_disturbances:
        named = " or ".join(result.named_disturbances)
        return _(
            "each trace: {answers}{giving_up}, and at most {disturbances} of: {named}",
            answers=answers,
            giving_up=giving_up,
            disturbances=result.disturbances,
            named=named,
        )
    return _(
        "each trace: {answers}{giving_up}, and at most {disturbances} of: trip from any "
        "cause, fact or permit grown too old, clock that cannot be trusted, false look, act "
        "done without a permit, somebody gone, correction, interruption, stop",
        answers=answers,
        giving_up=giving_up,
        disturbances=result.disturbances,
    )


def fault_lines(fault: Violation, way: bool = True) -> list[str]:
    """One fault: what is wrong, and the end of the shortest way to it, one line a step."""
    at = f"{fault.place}: " if fault.place and fault.place not in fault.said else ""
    out = [f"  {at}{fault.said} [{fault.name}]"]
    if not way:
        return [*out, _("      (the way above)")]
    steps = [
        line
        for line, after in zip_longest(fault.trace, fault.trace[1:])
        if after is None or line.said != "begin" or after.step != line.step
    ]
    before = len(steps) - SHOWN_STEPS
    if before > 1:
        out.append(_("      ... {before} steps before (--json tells them)", before=before))
        steps = steps[-SHOWN_STEPS:]
    return [*out, *(f"      {line}" for line in steps)]


def check_json(result: ProofResult) -> dict[str, Any]:
    """One proof as plain JSON."""
    return {
        "procedure": result.procedure,
        "scenario": result.scenario,
        "disturbances": result.disturbances,
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


def _fault_json(fault: Violation) -> dict[str, Any]:
    return {
        "kind": fault.kind,
        "name": fault.name,
        "step": fault.step,
        "place": fault.place,
        "said": fault.said,
        "trace": [str(line) for line in fault.trace],
    }
