"""The form in which a procedure is written, read into the one that the models check.

In a file the first key of a step is its id and its value the words; the next key that is a kind's
name is the kind. A step that is only a name, or whose words are the name of a shared step, is that
shared step. ``when`` stands on a stage or a step, and is a map of facts to states, the name of a
set of conditions, or a list of both. What comes out has one entry for each field of the models, and
remembers where in the file each came from.
"""

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, get_origin

from steplatch.safety.catalogue import _

from ..input.findings import BadFile, Finding
from ..input.model_findings import KeyPath
from ..input.strict_yaml import Document
from .procedure import Step

EXTRA = ("when", "cautions", "why", "remedy")
"""What a use of a shared step may add."""
COMMON = (*EXTRA, "held", "from")
"""What a step of any kind may hold beside its kind's own keys."""
_STAGE = ("done", "when", "returns", "steps")
_BOOLEANS = {"yes": True, "no": False}

Shared = Mapping[str, dict[str, Any]]
"""The shared steps by name, each as a file writes it."""


def is_first_form(data: Any) -> bool:
    """Whether a file is in the first form, where a step names its ``kind`` and its ``do``."""
    stages = data.get("stages") if isinstance(data, dict) else None
    stage = stages[0] if isinstance(stages, list) and stages else None
    return isinstance(stage, dict) and "id" in stage


def read_form(document: Document, kinds: Sequence[type[Step]], shared: Shared) -> Document:
    """The same document as the models have it. Raises BadFile: what the form does not allow."""
    reader = _Reader(document, {kind.kind_name(): kind for kind in kinds}, shared)
    data = reader.read()
    if reader.findings:
        raise BadFile(reader.findings)
    moved = {path: document.in_file(at) for path, at in reader.moved.items()}
    return replace(document, data=data, moved={**document.moved, **moved})


def shared_steps(document: Document) -> Shared:
    """The steps of a file of shared steps, by name. Raises BadFile."""
    data = document.data
    steps = data.get("steps") if isinstance(data, dict) else None
    if not isinstance(steps, list):
        problem, remedy = (
            _("these are no shared steps"),
            _('Write "steps:" and each step on a line'),
        )
        raise BadFile([document.finding((), problem, remedy)])
    found: dict[str, dict[str, Any]] = {}
    wrong: list[Finding] = []
    for n, step in enumerate(steps):
        name = next(iter(step), "") if isinstance(step, dict) else ""
        if not isinstance(step, dict) or not name or name in found or "when" in step:
            problem = _("{name!r} is there twice, has a 'when', or is no step", name=name)
            wrong.append(document.finding(("steps", n), problem, _("Write it like a step, once")))
        else:
            found[name] = step
    if wrong:
        raise BadFile(wrong)
    return found


def written_out(data: Any, shared: Shared, kinds: Iterable[type[Step]]) -> Any:
    """A procedure's file with every shared step written out at its place; ``data`` itself where
    there is none. Only for what ``read_form`` has taken."""
    names = {kind.kind_name() for kind in kinds}

    def step_of(item: Any) -> Any:
        if isinstance(item, str):
            return shared[item]
        if names & item.keys():
            return item
        return _added(item, shared)

    stages = [
        {key: [step_of(s) for s in value] if key == "steps" else value for key, value in st.items()}
        for st in data["stages"]
    ]
    return data if stages == data["stages"] else data | {"stages": stages}


def _added(use: Mapping[str, Any], shared: Shared) -> dict[str, Any]:
    """A shared step under the id of its use, with what the use adds."""
    step_id, name = next(iter(use.items()))
    base = shared[name]
    words = next(iter(base.values()))
    out = {step_id: words} | {key: base[key] for key in list(base)[1:]}
    if "ask" in out:
        out.setdefault("name", next(iter(base)).replace("-", "_"))
    for key in list(use)[1:]:
        more = use[key]
        out[key] = [*as_list(out.get(key, [])), *as_list(more)] if key == "cautions" else more
    return out


def as_list(value: Any) -> Any:
    """A single value as a list of it."""
    return value if isinstance(value, list) else [value]


@dataclass
class _Reader:
    document: Document
    kinds: Mapping[str, type[Step]]
    shared: Shared
    findings: list[Finding] = field(default_factory=list)
    moved: dict[KeyPath, KeyPath] = field(default_factory=dict)
    conditions: dict[str, list[dict[str, Any]]] = field(default_factory=dict)

    def say(self, path: KeyPath, problem: str, remedy: str, *, at_key: bool = False) -> None:
        self.findings.append(self.document.finding(path, problem, remedy, at_key=at_key))

    def read(self) -> Any:
        data = self.document.data
        if not isinstance(data, dict):
            return data  # the model says that a group of keys is wanted
        named = data.get("conditions", {})
        if not isinstance(named, dict):
            self.say(
                ("conditions",), _("a group of names is wanted"), 'Write "name: {fact: state}"'
            )
            named = {}
        for name, conditions in named.items():
            path = ("conditions", name)
            self.conditions[name] = [c for c, _ in self._facts(conditions, path)]
        out = {key: value for key, value in data.items() if key != "conditions"}
        if "answers" in out:
            out["answers"] = as_list(out["answers"])
        if isinstance(applies := out.get("applies_to"), dict):
            out["applies_to"] = {key: as_list(states) for key, states in applies.items()}
        if isinstance(out.get("sources"), str):
            out["sources"] = [out["sources"]]
        stages = out.get("stages")
        if isinstance(stages, list):
            out["stages"] = [self._stage(stage, i) for i, stage in enumerate(stages)]
        return out

    def _stage(self, stage: Any, i: int) -> Any:
        path: KeyPath = ("stages", i)
        if not isinstance(stage, dict) or not stage:
            self.say(
                path, _("this is no stage"), _('Write "- name: Title", and under it done and steps')
            )
            return {}
        name = next(iter(stage))
        for key in list(stage)[1:]:
            if key not in _STAGE:
                self.say((*path, key), _("unknown key"), near(key, _STAGE), at_key=True)
        self.moved |= {(*path, "id"): (*path, name), (*path, "title"): (*path, name)}
        out: dict[str, Any] = {"id": name, "title": stage[name]}
        out |= {key: stage[key] for key in ("done",) if key in stage}
        if "returns" in stage:
            out["returns"] = as_list(stage["returns"])
        when = self._when(stage["when"], (*path, "when")) if "when" in stage else []
        steps = stage.get("steps")
        if isinstance(steps, list):
            steps = [self._step(step, (*path, "steps", j), when) for j, step in enumerate(steps)]
        return out | ({} if steps is None else {"steps": steps})

    def _step(
        self, step: Any, path: KeyPath, stage_when: list[tuple[dict[str, Any], KeyPath]]
    ) -> Any:
        if isinstance(step, str):
            step = {step: step}
        if not isinstance(step, dict) or not step:
            self.say(
                path, _("this is no step"), _('Write "- name: Words.", or the name of a shared one')
            )
            return {}
        step_id = next(iter(step))
        named = [key for key in list(step)[1:] if key in self.kinds]
        words = step[step_id]
        if not named or (isinstance(words, str) and words in self.shared):
            return self._use(step, path, stage_when)
        if len(named) > 1:
            problem = _("{named} are kinds: a step has one", named=" and ".join(named))
            self.say((*path, named[1]), problem, _("Make two steps of it"), at_key=True)
            return {}
        return self._full(step_id, step, path, stage_when)

    def _use(
        self, use: dict[str, Any], path: KeyPath, when: list[tuple[dict[str, Any], KeyPath]]
    ) -> Any:
        step_id, name = next(iter(use.items()))
        base = self.shared.get(name) if isinstance(name, str) else None
        if base is None:
            kinds = ", ".join(self.kinds)
            strange = [key for key in list(use)[1:] if key not in COMMON]
            guess = difflib.get_close_matches(strange[0], self.kinds, n=1) if strange else []
            remedy = _("Give its kind ({kinds}), or the name of a shared step", kinds=kinds)
            near = difflib.get_close_matches(str(name), self.shared, n=3)
            if guess:
                remedy = _('Did you mean "{guess}"? ', guess=guess[0]) + remedy
            elif near:
                remedy = _("Did you mean {near}? ", near=" or ".join(near)) + remedy
            at = (*path, strange[0]) if strange else path
            self.say(at, _("step {step_id!r} has no kind", step_id=step_id), remedy, at_key=True)
            return {}
        before = len(self.findings)
        for key in list(use)[1:]:
            if key not in EXTRA:
                problem = _("{key!r} cannot be changed where a shared step is used", key=key)
                remedy = _(
                    "Leave it out ({extra} may be added), or write the step out",
                    extra=", ".join(EXTRA),
                )
                self.say((*path, key), problem, remedy, at_key=True)
            elif key in ("why", "remedy") and key in base:
                problem = _("the shared step {name!r} has a {key!r} of its own", name=name, key=key)
                self.say(
                    (*path, key), problem, _("Leave it out, or write the step out"), at_key=True
                )
        if len(self.findings) > before:
            return {}
        return self._full(step_id, _added(use, self.shared), path, when)

    def _full(
        self,
        step_id: str,
        step: dict[str, Any],
        path: KeyPath,
        when: list[tuple[dict[str, Any], KeyPath]],
    ) -> Any:
        (name,) = (key for key in list(step)[1:] if key in self.kinds)
        kind = self.kinds[name]
        own = kind.own_keys()
        if step_id in self.kinds or step_id in COMMON or step_id in own:
            problem = _(
                "{step_id!r} is a key of the form and cannot be a step's id", step_id=step_id
            )
            self.say((*path, step_id), problem, _("Give the step another id"), at_key=True)
        written = {key: value for key, value in step.items() if key in own and key != step_id}
        for key in list(step)[1:]:
            if key not in own and key not in COMMON:
                known = (*own, *COMMON)
                self.say((*path, key), _("unknown key"), near(key, known), at_key=True)
        if not kind.head and name != "ask" and written.get(name) != kind.word:
            self.say(
                (*path, name),
                _("{name} has one word here", name=name),
                _('Write "{name}: {word}"', name=name, word=kind.word),
            )
        if name == "ask":
            written.setdefault("name", step_id.replace("-", "_"))
        unfolded = kind.unfold(written)
        out = {"id": step_id, "do": step[step_id], "kind": name} | unfolded.data
        out |= {key: step[key] for key in ("cautions", "why", "remedy", "held") if key in step}
        if "from" in step:
            out["offered"] = step["from"]
        self.moved |= {
            **{(*path, key): (*path, step_id) for key in ("id", "do")},
            (*path, "kind"): (*path, name),
            (*path, "offered"): (*path, "from"),
            **{(*path, *a): (*path, *b) for a, b in unfolded.moved.items()},
        }
        conditions = [*when, *(self._when(step["when"], (*path, "when")) if "when" in step else ())]
        if conditions:
            out["when"] = [condition for condition, _ in conditions]
            self.moved |= {(*path, "when", k): at for k, (_, at) in enumerate(conditions)}
        return _as_fields(out, kind)

    def _when(self, value: Any, path: KeyPath) -> list[tuple[dict[str, Any], KeyPath]]:
        """Conditions in their order, each with its place."""
        found: list[tuple[dict[str, Any], KeyPath]] = []
        for n, item in enumerate(as_list(value)):
            at = (*path, n) if isinstance(value, list) else path
            if isinstance(item, dict):
                found += self._facts(item, at)
            elif isinstance(item, str) and item in self.conditions:
                found += [(condition, at) for condition in self.conditions[item]]
            else:
                remedy = near(str(item), self.conditions, _("Name one of 'conditions'"))
                self.say(at, _("there are no conditions named {item!r}", item=item), remedy)
        return found

    def _facts(self, value: Any, path: KeyPath) -> list[tuple[dict[str, Any], KeyPath]]:
        if not isinstance(value, dict):
            self.say(
                path, _("conditions are wanted"), "Write {fact: state}, such as {engine: stopped}"
            )
            return []
        return [
            ({"fact": fact, "among": as_list(among)}, (*path, fact))
            for fact, among in value.items()
        ]


def _as_fields(step: dict[str, Any], kind: type[Step]) -> dict[str, Any]:
    """A single value where the model has a list is a list of it; yes and no where it has a
    switch."""
    for key, value in step.items():
        info = kind.model_fields.get(key)
        if info is None:
            continue
        if get_origin(info.annotation) is tuple:
            step[key] = as_list(value)
        elif info.annotation is bool and value in ("yes", "no"):
            step[key] = _BOOLEANS[value]
    return step


def near(given: str, known: Iterable[str], otherwise: str = "") -> str:
    """A remedy: what may have been meant, else what is known."""
    near = difflib.get_close_matches(given, list(known), n=3, cutoff=0.6)
    if near:
        return _("Did you mean {near}?", near=" or ".join(repr(word) for word in near))
    return f"{otherwise or 'Known here'}: {', '.join(known)}" if known else _("Remove it")
