"""Converts a procedure of the first form, and shows that every step comes back as it was."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from steplatch.safety.catalogue import _

from ..core.applies import ANY
from ..core.form import COMMON, Shared
from ..core.loading import load_kept, load_written_out, shared_by
from ..core.procedure import Procedure
from ..core.steps import KINDS
from ..input.strict_yaml import FileText, Source, load, read_text
from ..input.yaml_text import yaml_text

Conditions = tuple[tuple[str, tuple[str, ...]], ...]
POINTS = {
    **{"secured": "before-fluid", "run-hands": "fluid-in", "still-key": "stood-still"},
    **{"before-hands": "before-readings", "before-raise": "before-readings"},
    "hold-raise": "raised",
}
"""The steps that recoveries of the first form came back to, by the return points of now."""
RENAMED = {"reset": "reset-trip", "why": "reason"}
"""Step ids of the first form that are keys now."""
_KINDS = {kind.kind_name(): kind for kind in KINDS}
_HEAD = ("id", "revision", "title", "role", "purpose", "applies_to", "competence", "author")


class NotTheSame(ValueError):  # noqa: N818 - what it says
    """A converted procedure is not what it was; nothing is written."""


def converted_text(source: Source, names: Mapping[str, Conditions] | None = None) -> str:
    """The text of a procedure of the first form in the form of now.

    Raises BadFile where it is wrong in itself, NotTheSame where a step would not come back as it
    was.
    """
    before = load_kept(source)[0]
    document = load(source)
    data = document.data
    assert isinstance(data, dict)
    comment = "\n".join(_comments(source))
    name = read_text(source).name
    shared = shared_by(name)
    text = yaml_text(_converted(data, shared, names or {}), comment)
    _compare(before, FileText(name, text.encode()))
    return text


def _comments(source: Source) -> list[str]:
    """The comment lines at the head of a file."""
    lines = Path(source).read_text("utf-8").splitlines() if isinstance(source, str | Path) else []
    out = []
    for line in lines:
        if not line.startswith("#"):
            break
        out.append(line.lstrip("# "))
    return out


def _converted(data: dict[str, Any], shared: Shared, names: Mapping[str, Conditions]) -> Any:
    out = {key: value for key, value in data.items() if key != "stages"}
    if data["role"] == "main":  # words that no vehicle's file can be held against
        out |= {"purpose": f"{out['purpose']} {out['applies_to']}", "applies_to": ANY}
    for key in ("return_to", "return_with_fluid"):
        if key in out:
            out[key] = POINTS.get(out[key], out[key])
    known = {conditions: name for name, conditions in names.items()}
    stages = [_stage(stage, shared, known, data["role"] == "main") for stage in data["stages"]]
    used = str(stages)
    kept = {name: _facts(c) for name, c in names.items() if f"'{name}'" in used}
    return out | ({"conditions": kept} if kept else {}) | {"stages": stages}


def _stage(
    stage: dict[str, Any], shared: Shared, names: Mapping[Conditions, str], main: bool
) -> dict[str, Any]:
    every = [_conditions(step) for step in stage["steps"]]
    common = every[0]
    for one in every[1:]:
        same = [a == b for a, b in zip(common, one, strict=False)]
        common = common[: same.index(False) if False in same else len(same)]
    out: dict[str, Any] = {stage["id"]: stage["title"]}
    if common:
        out["when"] = _when(common, names)
    points = dict.fromkeys(POINTS[s["id"]] for s in stage["steps"] if main and s["id"] in POINTS)
    if points:
        out["returns"] = _short(list(points))
    out["done"] = stage["done"]
    steps = [
        _step(step, conditions[len(common) :], shared, names)
        for step, conditions in zip(stage["steps"], every, strict=True)
    ]
    return out | {"steps": steps}


def _conditions(step: Mapping[str, Any]) -> Conditions:
    return tuple((c["fact"], tuple(c["among"])) for c in step.get("when", ()))


def _step(
    step: dict[str, Any], conditions: Conditions, shared: Shared, names: Mapping[Conditions, str]
) -> Any:
    step_id = new_id(step["id"])
    when = {"when": _when(conditions, names)} if conditions else {}
    plain = step | {"id": step_id}
    own = _KINDS[step["kind"]].fold(plain)
    own |= {key: step[key] for key in ("why", "remedy") if key in step}
    uses = [
        (name, added)
        for name, base in shared.items()
        if (added := _beyond(base, name, step["do"], own, step.get("cautions", []))) is not None
    ]
    if uses:
        name, added = min(uses, key=lambda use: len(str(use[1])))
        return name if step_id == name and not (when or added) else {step_id: name} | when | added
    ordered = {key: _short(value) for key, value in own.items() if key not in COMMON}
    cautions = {"cautions": _short(step["cautions"])} if step.get("cautions") else {}
    said = {key: step[key] for key in ("why", "remedy") if key in step}
    return {step_id: step["do"]} | ordered | when | cautions | said


def _beyond(
    base: Mapping[str, Any], name: str, words: str, own: Mapping[str, Any], cautions: list[str]
) -> dict[str, Any] | None:
    """What a step adds to a shared one; None where it is another step."""
    if base[name] != words:
        return None
    of_base = {key: value for key, value in base.items() if key not in (name, "cautions")}
    mine = dict(own)
    if mine.get("name") == name.replace("-", "_"):
        del mine["name"]
    added = {key: value for key, value in mine.items() if key not in of_base}
    if any(_short(mine.get(key)) != _short(value) for key, value in of_base.items()):
        return None
    given = _listed(base.get("cautions", []))
    if set(added) - {"why", "remedy"} or cautions[: len(given)] != given:
        return None
    more = cautions[len(given) :]
    return ({"cautions": _short(more)} if more else {}) | added


def new_id(step_id: str) -> str:
    """The id of a step in the form of now."""
    if step_id in RENAMED:
        return RENAMED[step_id]
    taken = {*_KINDS, *COMMON, *(key for kind in KINDS for key in kind.own_keys())}
    return f"{step_id}-step" if step_id in taken else step_id


def _when(conditions: Conditions, names: Mapping[Conditions, str]) -> Any:
    """Conditions as a file has them, in their order: names where a run of them has one."""
    out: list[Any] = []
    rest = conditions
    while rest:
        fits = [n for n in range(len(rest), 0, -1) if rest[:n] in names]
        if fits:
            out.append(names[rest[: fits[0]]])
            rest = rest[fits[0] :]
            continue
        fact, among = rest[0]
        if out and isinstance(out[-1], dict) and fact not in out[-1]:
            out[-1][fact] = _short(list(among))
        else:
            out.append({fact: _short(list(among))})
        rest = rest[1:]
    return _short(out)


def _facts(conditions: Conditions) -> dict[str, Any]:
    return {fact: _short(list(among)) for fact, among in conditions}


def _short(value: Any) -> Any:
    """A list of one as the one."""
    return value[0] if isinstance(value, list | tuple) and len(value) == 1 else value


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


def _compare(before: Procedure, text: FileText) -> None:
    """Raises NotTheSame where the text does not load to the same steps."""
    after = load_written_out(text, judged=False)[0]
    known: Sequence[str] = [*_HEAD, "approver", "date", "sources", "answers"]
    if before.role == "main":
        known = [key for key in known if key not in ("purpose", "applies_to")]
    for key in known:
        if getattr(before, key) != getattr(after, key):
            raise NotTheSame(_("{key} would be another one", key=key))
    one, other = before.steps(), after.steps()
    if [new_id(step.id) for step in one] != [step.id for step in other]:
        raise NotTheSame(_("the steps would be others, or in another order"))
    for old, new in zip(one, other, strict=True):
        if old.model_copy(update={"id": new.id}) != new:
            raise NotTheSame(_("step {id!r} would not come back as it was", id=old.id))
