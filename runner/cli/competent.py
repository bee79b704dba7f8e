"""Competences that the workshop requires, asked once before a real job begins.

Not when a job is come back to: whoever finds fluid in an engine must be able to go on to a safe
end. What is required here only denies a beginning; the rules decide the job as ever.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from steplatch.safety.catalogue import _

if TYPE_CHECKING:
    from ..jobs.bundle import Bundle
    from ..record import DataFolder


def not_competent(
    data: DataFolder, bundle: Bundle, person: str, here: tuple[str, ...], today: date
) -> str:
    """Why a real job must not begin so, with what would help; '' where nothing is lacking.

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
    who = {p.id: p.role for p in bundle.people}
    kept = {one: kept_of(data, one) for one in (person, *here)}
    lacking = []
    for need in listed.required:
        of, _other, step = (need.step or "").partition("/")
        able: tuple[str, ...]
        if need.role is not None and who.get(person) is need.role:
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
