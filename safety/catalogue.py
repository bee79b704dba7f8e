"""Every text for people, looked up in the language that was chosen.

The English text is the id of a text, so that English needs no catalogue. Another language is chosen
once, as the program starts and before any table is read; nothing decides by a text. What belongs in
a text stands in it as a named field, since another language may put it elsewhere.
"""

from collections.abc import Callable, Mapping

_TEXTS: dict[str, tuple[str, ...]] = {}
_FORM: list[Callable[[int], int]] = []


def choose(texts: Mapping[str, tuple[str, ...]], form: Callable[[int], int]) -> None:
    """From now on give these ``texts``: of each English text (of two forms, the one for one) its
    forms in the other language; ``form`` says which of them stands at a number."""
    _TEXTS.clear()
    _TEXTS.update(texts)
    _FORM[:] = [form]


def _(text: str, /, **fields: object) -> str:
    """``text`` in the chosen language, ``fields`` put in where it names them; English where the
    catalogue has none. Raises KeyError for a field that is not given."""
    forms = _TEXTS.get(text)
    said = text if forms is None else forms[0]
    return said.format(**fields) if fields else said


def ngettext(one: str, many: str, number: int, /, **fields: object) -> str:
    """The form for ``number`` things, ``fields`` put in. Raises as ``_`` does."""
    forms = _TEXTS.get(one)
    if forms is None:
        return (one if number == 1 else many).format(**fields)
    return forms[min(_FORM[0](number), len(forms) - 1)].format(**fields)


def spoken(name: str) -> str:
    """An id as a person says it: ``hand_turn`` as "hand turn", in the chosen language."""
    return _(name.replace("_", " "))
