"""Stages that a procedure takes from another one: ``- before: clean-above`` is that procedure's
stage ``before``, with the conditions that it names.

What is taken must be written out there, so nothing goes in a circle; ``when`` and ``returns`` may
be added. A job keeps its file with such stages written out, as with shared steps.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from typing import Any

from steplatch.safety.catalogue import _

from ..input.findings import BadFile, Finding
from ..input.strict_yaml import Document
from .form import as_list, near

Lender = Callable[[str], Document | None]
"""The file of the procedure with this id, as it is written; None where there is none."""
_ADDED = ("when", "returns")


def is_borrowed(stage: Any) -> bool:
    """Whether an entry of ``stages`` names a stage of another procedure."""
    return isinstance(stage, dict) and not {"steps", "done"} & stage.keys() and bool(stage)


def lenders(document: Document) -> tuple[str, ...]:
    """The procedures that a document takes stages from, as it names them."""
    data: Any = document.data
    stages = data.get("stages") if isinstance(data, dict) else None
    uses = stages if isinstance(stages, list) else ()
    named = (next(iter(stage.values())) for stage in uses if is_borrowed(stage))
    return tuple(dict.fromkeys(name for name in named if isinstance(name, str)))


def with_borrowed(document: Document, lender: Lender) -> Document:
    """The same document with every borrowed stage in its place; itself where there is none.

    Raises BadFile: no such procedure or stage, one that is borrowed there too, a key that cannot
    be added, or a name of conditions that means something else here.
    """
    data: Any = document.data
    stages = data.get("stages") if isinstance(data, dict) else None
    if not isinstance(stages, list) or not any(is_borrowed(stage) for stage in stages):
        return document
    found: list[Finding] = []
    conditions = dict(data.get("conditions") or {})
    lender = cache(lender)
    out: list[Any] = []
    for n, stage in enumerate(stages):
        if not is_borrowed(stage):
            out.append(stage)
            continue
        try:
            out.append(_borrowed(document, n, stage, lender, conditions))
        except BadFile as bad:
            found += bad.findings
    if found:
        raise BadFile(found)
    whole = {key: value for key, value in data.items() if key != "stages"}
    if conditions:
        whole["conditions"] = conditions
    return replace(document, data={**whole, "stages": out})


def _borrowed(
    document: Document, n: int, use: dict[str, Any], lender: Lender, conditions: dict[str, Any]
) -> dict[str, Any]:
    def bad(key: tuple[str, ...], problem: str, remedy: str) -> BadFile:
        return BadFile([document.finding(("stages", n, *key), problem, remedy, at_key=bool(key))])

    stage_id, source = next(iter(use.items()))
    for key in list(use)[1:]:
        if key not in _ADDED:
            said = _(
                "Leave it out ({added} may be added), or write the stage out",
                added=", ".join(_ADDED),
            )
            raise bad(
                (key,), _("{key!r} cannot be changed where a stage is taken over", key=key), said
            )
    lent = lender(source) if isinstance(source, str) else None
    if lent is None or not isinstance(lent.data, dict):
        said = _("Give the stage its 'done' and 'steps', or name the procedure that has it")
        raise bad(
            (stage_id,),
            _(
                "there is no procedure {source!r} to take {stage_id!r} from",
                source=source,
                stage_id=stage_id,
            ),
            said,
        )
    there: Any = lent.data.get("stages")
    written = {next(iter(one)): one for one in there if isinstance(one, dict) and one}
    whole = written.get(stage_id)
    if whole is None or is_borrowed(whole):
        named = [name for name, one in written.items() if not is_borrowed(one)]
        problem = _(
            "{source} has no stage {stage_id!r} written out", source=source, stage_id=stage_id
        )
        raise bad((stage_id,), problem, near(stage_id, named))
    given: Any = lent.data.get("conditions") or {}
    for name in _named(whole):
        meant = given.get(name)
        if name in conditions and conditions[name] != meant:
            problem = _(
                "its condition {name!r} means something else here than in {source}",
                name=name,
                source=source,
            )
            raise bad((stage_id,), problem, _("Give the one here another name"))
        if meant is not None:
            conditions[name] = meant
    out: dict[str, Any] = {key: whole[key] for key in list(whole) if key not in _ADDED}
    for key in _ADDED:
        both = [*as_list(whole.get(key, [])), *as_list(use.get(key, []))]
        if both:
            out[key] = both
    return out


def _named(stage: Mapping[str, Any]) -> dict[str, None]:
    """The names of conditions that a stage and its steps use."""
    parts = [stage, *(step for step in stage.get("steps", ()) if isinstance(step, dict))]
    whens = (one for part in parts for one in as_list(part.get("when", [])))
    return dict.fromkeys(one for one in whens if isinstance(one, str))
