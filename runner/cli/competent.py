"""Competences that the workshop requires, asked before a real job begins and at a hand-over.

Not when a job is come back to, and handed over all the same once fluid is in or something has
tripped: whoever finds fluid in an engine must be able to go on to a safe end. What is required here
only denies; the rules decide the job as ever.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from steplatch.safety.catalogue import _

if TYPE_CHECKING:
    from ..core.job import Job
    from ..jobs.bundle import Bundle
    from ..record import DataFolder


def not_competent(
    data: DataFolder, bundle: Bundle, person: str, here: tuple[str, ...], today: date,
    joined: tuple[Mapping[str, Any], ...] = (),
) -> str:  # fmt: skip
    """Why ``person`` must not do the work of a real job so, with what would help; '' where nothing
    is lacking. ``joined`` are the people of the job, where others than the bundle's came to it.

    Raises BadFile: the list is wrong, or requires a step that the procedure does not have;
    BadSideFile, JournalFailed.
    """
    from ..input.findings import BadFile
    from ..training.competence import load_competences, unknown_steps
    from ..training.progress import holds
    from ..training.signoffs import kept_of

    found = load_competences(data)
    if found is None:
        return ""
    listed, document = found
    if wrong := unknown_steps(listed, document, bundle.plan):
        raise BadFile(wrong)
    who = {p.id: p.role.value for p in bundle.people} | {p["id"]: p["role"] for p in joined}
    kept = {one: kept_of(data, one) for one in (person, *here)}
    lacking = []
    for need in listed.required:
        of, _other, step = (need.step or "").partition("/")
        able: tuple[str, ...]
        if need.role is not None and who.get(person) == need.role.value:
            able, whose = (person,), _("a {value} who does the work", value=need.role.value)
        elif need.step is not None and of == bundle.main.id and bundle.plan.step(of, step):
            able, whose = (person, *here), _("step {step}", step=need.step)
        else:
            continue
        if not any(holds(listed, kept[one], need.competence, today) for one in able):
            lacking.append((need.competence, whose))
    if not lacking:
        return ""
    said = "; ".join(_("'{name}' for {whose}", name=name, whose=whose) for name, whose in lacking)
    return _(
        "this workshop requires a competence that is not signed or has ended: {said}. Have "
        "somebody who holds it do the work or stay, or see what is lacking: steplatch "
        "progress {person}",
        said=said,
        person=person,
    )


def lacks_at_work(data: DataFolder, bundle: Bundle, job: Job, person: str) -> str:
    """The same of a job that goes on, of those who are here now. What cannot be read is lacking."""
    from datetime import datetime

    from ..core.signers import here
    from ..input.findings import BadFile
    from ..record import RecordError

    ids = tuple(str(p["id"]) for p in here(job) if p["id"] != person)
    today = datetime.now().astimezone().date()
    try:
        return not_competent(data, bundle, person, ids, today, job.log.people)
    except (BadFile, RecordError) as error:
        return _("what this workshop requires cannot be read: {error}", error=error)
