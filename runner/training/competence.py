"""Competences of a workshop: what somebody must have shown, who may sign it, how long it holds.

``competence.yaml`` in the data folder; ``examples/workshop/competence.yaml`` shows the form. What
counts as evidence is worked out from records alone (``progress``). ``required`` only tightens:
without the competence a real job does not begin, and with it every rule decides as before.
"""

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import AfterValidator, Field
from steplatch.safety.catalogue import _

from ..core.plan import Plan
from ..input.findings import BadFile, BadValue, Finding
from ..input.strict_yaml import Document, StrictModel, load_model
from ..record import DataFolder
from ..simulator.faults import FAULTS
from ..workshop.files import Role

FILE_NAME: Final = "competence.yaml"
MOST: Final = 60
EvidenceKind = Literal["practised", "exercise", "found", "supervised", "alone"]
Text = Annotated[str, Field(min_length=5, max_length=300)]
StepName = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*/[a-z0-9][a-z0-9_-]*$", max_length=90)]


def _fault(name: str) -> str:
    if name not in FAULTS:
        raise BadValue(
            _("{name!r} is no fault", name=name), _("See: steplatch practise --list-faults")
        )
    return name


class Evidence(StrictModel):
    """So many records that show one thing.

    practised: practice jobs worked by hand to their end; exercise: exercises ended as set with all
    noticed; found: practice jobs in which a fault that was in was found (one of ``faults`` where
    they are named, each counted once); supervised, alone: real jobs. ``procedure`` and ``step``
    narrow what counts: ``step`` is one that the person did.
    """

    what: EvidenceKind
    count: Annotated[int, Field(ge=1, le=1000)]
    procedure: Annotated[str, Field(max_length=40)] = ""
    step: StepName | None = None
    faults: tuple[Annotated[str, AfterValidator(_fault)], ...] = ()


class Competence(StrictModel):
    """One competence. ``refresh`` is what stands for ``evidence`` when it is signed again: only
    what was done since the last signature counts for it."""

    id: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{1,39}$")]
    statement: Text
    evidence: Annotated[tuple[Evidence, ...], Field(min_length=1, max_length=20)]
    signed_by: Literal["technician", "supervisor"] = "supervisor"
    lasts_months: Annotated[int, Field(ge=1, le=120)]
    refresh: tuple[Evidence, ...] = ()

    @property
    def sha256(self) -> str:
        """Hash of all of it: a signature holds for what was signed, not for what it became."""
        plain = json.dumps(self.model_dump(), sort_keys=True, ensure_ascii=False)
        return hashlib.sha256(plain.encode("utf-8")).hexdigest()


class Required(StrictModel):
    """A competence without which no real job begins: for a ``role``, whoever of it does the work
    holds it; for a ``step``, who does the work or somebody who stays to the end holds it."""

    competence: str
    role: Role | None = None
    step: StepName | None = None


class CompetenceFile(StrictModel):
    """The workshop's list."""

    competences: Annotated[tuple[Competence, ...], Field(min_length=1, max_length=MOST)]
    required: Annotated[tuple[Required, ...], Field(max_length=MOST)] = ()

    def named(self, name: str) -> Competence | None:
        """The competence of this id."""
        return next((one for one in self.competences if one.id == name), None)


def competence_path(data: DataFolder) -> Path:
    """Where the list of a data folder stands."""
    return data.path / FILE_NAME


def load_competences(data: DataFolder) -> tuple[CompetenceFile, Document] | None:
    """The workshop's list; None where it has none. Raises BadFile with every finding."""
    path = competence_path(data)
    if not path.exists():
        return None
    listed, document = load_model(path, CompetenceFile)
    wrong = [document.finding(*problem) for problem in _problems(listed)]
    if wrong:
        raise BadFile(wrong)
    return listed, document


def _problems(listed: CompetenceFile) -> Iterator[tuple[tuple[Any, ...], str, str]]:
    ids = [one.id for one in listed.competences]
    for number, one in enumerate(listed.competences):
        if one.id in ids[:number]:
            yield (
                ("competences", number, "id"),
                _("{id} stands here twice", id=one.id),
                _("Take one out"),
            )
        for key in ("evidence", "refresh"):
            for at, evidence in enumerate(getattr(one, key)):
                if evidence.faults and evidence.what != "found":
                    yield (
                        ("competences", number, key, at, "faults"),
                        _("faults narrow 'found', not '{what}'", what=evidence.what),
                        _("Take the line out, or write what: found"),
                    )
                if evidence.faults and evidence.count > len(set(evidence.faults)):
                    yield (
                        ("competences", number, key, at, "count"),
                        _(
                            "{count} of {count_2} named faults",
                            count=evidence.count,
                            count_2=len(set(evidence.faults)),
                        ),
                        _("Each named fault counts once: name more, or ask for fewer"),
                    )
    for number, need in enumerate(listed.required):
        if need.competence not in ids:
            yield (
                ("required", number, "competence"),
                _("'{competence}' is none of the list", competence=need.competence),
                _("Use one of: {ids}", ids=", ".join(ids)),
            )
        if (need.role is None) == (need.step is None):
            yield (
                ("required", number),
                _("what it is required for is not clear"),
                _("Give either role or step"),
            )


def unknown_steps(listed: CompetenceFile, document: Document, plan: Plan) -> list[Finding]:
    """Required steps that the procedures of a job do not have: nothing would ever ask for those."""
    there = {plan.main.id, *plan.others}
    out = []
    for number, need in enumerate(listed.required):
        of, _other, step = (need.step or "").partition("/")
        if of in there and plan.step(of, step) is None:
            out.append(
                document.finding(
                    ("required", number, "step"),
                    _("the procedure '{of}' has no step '{step}'", of=of, step=step),
                    _("See its steps: steplatch procedure show {of}", of=of),
                )
            )
    return out
