"""How a catalogue is read, and that every text is marked so that it is found."""

import string
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from steplatch.runner.system.language import NoCatalogueError, choose_language, fields_of
from steplatch.safety import catalogue
from steplatch.safety.catalogue import _, ngettext

from tests.words.marked import calls_of, rooms, sources

HEAD = 'msgid ""\nmsgstr ""\n"Plural-Forms: nplurals={number}; plural={plural};\\n"\n\n'
ONE_TEXT = 'msgid "Do {what} now"\nmsgstr "{what}, jetzt"\n'
LOOKED_UP = ("_(word)", "_(c.word)")
Choose = Callable[[str], None]


@pytest.fixture
def choose(tmp_path: Path) -> Iterator[Choose]:
    """Chooses a language of one catalogue; English again afterwards."""

    def chosen(text: str) -> None:
        (tmp_path / "cli.po").write_text(text, encoding="utf-8")
        choose_language({"STEPLATCH_LANGUAGE": str(tmp_path)})

    yield chosen
    catalogue.choose({}, lambda number: 0)


def test_a_text_is_said_as_its_catalogue_has_it_with_its_fields_where_they_belong(
    choose: Choose,
) -> None:
    choose(HEAD.format(number=2, plural="n != 1") + ONE_TEXT)
    assert _("Do {what} now", what="x") == "x, jetzt"
    assert _("Stop") == "Stop"


def test_each_number_has_the_form_of_its_language(choose: Choose) -> None:
    polish = "n==1 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || n%100>=20) ? 1 : 2"
    forms = 'msgstr[0] "zadanie"\nmsgstr[1] "{n} zadania"\nmsgstr[2] "{n} zadan"\n'
    text = f'msgid "{{n}} job"\nmsgid_plural "{{n}} jobs"\n{forms}'
    choose(HEAD.format(number=3, plural=polish) + text)
    said = [ngettext("{n} job", "{n} jobs", n, n=n) for n in (1, 2, 5, 12, 22)]
    assert said == ["zadanie", "2 zadania", "5 zadan", "12 zadan", "22 zadania"]


def test_english_needs_no_catalogue() -> None:
    assert [ngettext("{n} job", "{n} jobs", n, n=n) for n in (0, 1, 2)] == [
        "0 jobs", "1 job", "2 jobs",
    ]  # fmt: skip
    assert _("{a} of {b:.1f}", a=1, b=2) == "1 of 2.0"


@pytest.mark.parametrize(
    "entry",
    [
        'msgid "Do {what} now"\nmsgstr "jetzt"\n',  # what it is about would be lost
        'msgid "Do {what} now"\nmsgstr "{was} jetzt"\n',
        'msgid "Do {what} now"\nmsgstr ""\n',
        '#, fuzzy\nmsgid "Do {what} now"\nmsgstr "{what}, jetzt"\n',
    ],
)
def test_a_text_that_does_not_fit_is_said_in_english(entry: str, choose: Choose) -> None:
    choose(HEAD.format(number=2, plural="n != 1") + entry)
    assert _("Do {what} now", what="x") == "Do x now"


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("msgid no quotes\n", "cli.po:1"),
        (f"{ONE_TEXT}garbage\n", "cli.po:3"),
        (HEAD.format(number=2, plural="import os"), "Plural-Forms"),
    ],
)
def test_a_catalogue_that_cannot_be_read_is_told_with_its_place(
    text: str, where: str, choose: Choose
) -> None:
    with pytest.raises(NoCatalogueError, match=where):
        choose(text)


def test_a_language_that_is_not_there_is_told(tmp_path: Path) -> None:
    for name in ("xx", str(tmp_path / "none")):
        with pytest.raises(NoCatalogueError, match="no catalogues"):
            choose_language({"STEPLATCH_LANGUAGE": name})


def test_every_text_is_marked_whole_so_that_it_is_found() -> None:
    """A text in a call is a literal: a name instead comes from a table, an id or a fixed text."""
    import ast

    for path in sources():
        for call in calls_of(path):
            first = call.args[0]
            assert not isinstance(first, ast.JoinedStr | ast.BinOp), f"{path}:{call.lineno}"
            if isinstance(first, ast.Constant) and call.keywords and call.func.id == "_":  # type: ignore[attr-defined]
                named = {one.arg for one in call.keywords}
                assert _names(first.value) == named, f"{path}:{call.lineno}"


def _names(text: str) -> set[str]:
    """The fields of a text, those in the form of another included."""
    out: set[str] = set()
    for _plain, name, form, _how in string.Formatter().parse(text):
        if name is not None:
            out |= {name} | _names(form or "")
    return out


def test_every_room_has_its_texts_and_a_text_with_two_forms_has_both() -> None:
    found = rooms()
    assert {"safety", "assess", "cli", "core", "input", "jobs", "record", "screen", "sheet"} <= set(
        found
    )
    assert sum(map(len, found.values())) > 5000
    for room in found.values():
        for text in room.values():
            if text.many:
                assert fields_of(text.text) <= fields_of(text.many)
