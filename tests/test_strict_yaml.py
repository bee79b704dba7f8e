"""The strict YAML loader: what it takes, what it refuses, and where it says the fault is."""

import hashlib
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from steplatch.runner.input import strict_yaml
from steplatch.runner.input.findings import BadFile, Finding
from steplatch.runner.input.strict_yaml import (
    MAX_BYTES,
    MAX_DEPTH,
    Place,
    load,
    load_bytes,
    load_text,
)

from tests.each import each

PARSERS = [yaml.CSafeLoader, yaml.SafeLoader]


@pytest.fixture(params=PARSERS, ids=["c", "pure"], autouse=True)
def parser(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Run every test with the C parser and with the pure one."""
    monkeypatch.setattr(strict_yaml, "_LOADER", request.param)
    return request.param


def findings(text: str) -> tuple[Finding, ...]:
    with pytest.raises(BadFile) as refused:
        load_text(text, "f.yaml")
    return refused.value.findings


def only(text: str) -> Finding:
    (finding,) = findings(text)
    return finding


# --- what is taken ------------------------------------------------------------------------


@each(
    ("written", "value"),
    [
        ("true", True),
        ("false", False),
        ("null", None),
        ("12", 12),
        ("-3", -3),
        ("0", 0),
        ("2.50", 2.5),
        ("-0.5", -0.5),
        ("yes", "yes"),
        ("NO", "NO"),
        ("on", "on"),
        ("True", "True"),
        ("~", "~"),
        ("Null", "Null"),
        ("12:30:45", "12:30:45"),
        ("1e3", "1e3"),
        ("0x1F", "0x1F"),
        ("0o17", "0o17"),
        ("017", "017"),
        ("1_000", "1_000"),
        ("+5", "+5"),
        (".5", ".5"),
        ("5.", "5."),
        (".inf", ".inf"),
        (".nan", ".nan"),
        ("2024-05-31", "2024-05-31"),
        ("2,0 L", "2,0 L"),
        ('"12"', "12"),
        ("'true'", "true"),
        ('""', ""),
        ("= 5", "= 5"),
        ("[]", []),
        ("{}", {}),
    ],
)
def test_only_plain_switches_null_and_numbers_are_resolved(written: str, value: object) -> None:
    data = load_text(f"key: {written}\n", "f.yaml").data
    assert data == {"key": value}
    assert isinstance(data, dict) and type(data["key"]) is type(value)


def test_a_key_stays_text_whatever_it_looks_like() -> None:
    assert load_text("1: a\ntrue: b\nnull: c\n", "f.yaml").data == {
        "1": "a",
        "true": "b",
        "null": "c",
    }


def test_every_key_and_value_has_its_line_and_column() -> None:
    document = load_text("a: 1\nb:\n  - x: yes\n    é: [2, 'z']\n", "f.yaml")
    assert document.where == {
        (): Place(1, 1, 1, 1),
        ("a",): Place(1, 1, 1, 4),
        ("b",): Place(2, 1, 3, 3),
        ("b", 0): Place(3, 5, 3, 5),
        ("b", 0, "x"): Place(3, 5, 3, 8),
        ("b", 0, "é"): Place(4, 5, 4, 8),
        ("b", 0, "é", 0): Place(4, 9, 4, 9),
        ("b", 0, "é", 1): Place(4, 12, 4, 12),
    }


def test_the_hash_covers_the_exact_bytes_also_a_mark_at_the_start(tmp_path: Path) -> None:
    raw = "\ufeffa: 1\r\n".encode()
    path = tmp_path / "f.yaml"
    path.write_bytes(raw)
    document = load(path)
    assert document.data == {"a": 1}
    assert document.sha256_of_bytes == hashlib.sha256(raw).hexdigest()
    assert document.path == str(path)


def test_one_explicit_document_start_is_taken() -> None:
    assert load_text("# head\n---\na: 1\n", "f.yaml").data == {"a": 1}


def test_twelve_levels_are_taken_and_thirteen_are_not() -> None:
    def nest(levels: int) -> str:
        return "[" * levels + "]" * levels

    load_text(nest(MAX_DEPTH), "f.yaml")
    refused = only(nest(MAX_DEPTH + 1))
    assert (refused.line, refused.column) == (1, MAX_DEPTH + 1)
    assert "more than 12 levels deep" in refused.problem


def test_a_file_at_the_size_bound_is_taken_and_one_byte_more_is_not() -> None:
    text = "a: " + "x" * (MAX_BYTES - 3)
    load_text(text, "f.yaml")
    assert "larger than 256 KiB" in only(text + "x").problem


# --- what is refused, and where -----------------------------------------------------------

REFUSALS = [
    ("a: 1\nb: 2\na: 3\n", 3, 1, "a", "this key already stands in line 1"),
    ("x:\n  a: 1\n  'a': 2\n", 3, 3, "x.a", "this key already stands in line 2"),
    ("a: &k 1\n", 1, 4, "a", "anchors (&) are not used here"),
    ("a: *k\n", 1, 4, "a", "aliases (*) are not used here"),
    ("a: !!str 1\n", 1, 4, "a", "tags (!) are not used here"),
    ("a: !python/object:os.system x\n", 1, 4, "a", "tags (!) are not used here"),
    ("a: ! b\n", 1, 4, "a", "tags (!) are not used here"),
    ("!!map\na: 1\n", 1, 1, "file", "tags (!) are not used here"),
    ("a:\n  - &k [1]\n", 2, 5, "a[1]", "anchors (&) are not used here"),
    ("&k a: 1\n", 1, 1, "file", "anchors (&) are not used here"),
    ("a: 1\n---\nb: 2\n", 2, 1, "file", "a second document starts here"),
    ("%YAML 1.1\n---\na: 1\n", 1, 1, "file", "directives (%) are not used here"),
    ("# x\n%TAG ! !x\n---\na: 1\n", 2, 1, "file", "directives (%) are not used here"),
    ("a: 1\n<<: {b: 2}\n", 2, 1, "file", "merge keys (<<) are not used here"),
    ("a: 1\n? [x]\n: 2\n", 2, 3, "file", "a key must be a plain word"),
    ("a: 1\n'': 2\n", 2, 1, "file", "a key is empty"),
    ("a: 1\n' ': 2\n", 2, 1, "file", "a key is empty"),
    ("a:\nb: 1\n", 1, 3, "a", "it has no value"),
    ("a:\n  - 1\n  -\n", 3, 4, "a[2]", "it has no value"),
    ("", 1, 1, "file", "the file is empty"),
    ("# only a comment\n", 1, 1, "file", "the file is empty"),
    ("a: 1\nb:\t2\n", 2, 3, "file", "a tab stands here"),
    ("a: 1\n\tb: 2\n", 2, 1, "file", "a tab stands here"),
    ("a: x\u202ey\n", 1, 5, "file", "the character U+202E is not allowed here"),
    ("a: x\u200by\n", 1, 5, "file", "the character U+200B is not allowed here"),
    ("a: x\x07y\n", 1, 5, "file", "the character U+0007 is not allowed here"),
    ("a: x\x85y\n", 1, 5, "file", "the character U+0085 is not allowed here"),
    ("a: 1\rb: 2\n", 1, 5, "file", "the character U+000D is not allowed here"),
    ("a: 1\n\ufeffb: 2\n", 2, 1, "file", "the character U+FEFF is not allowed here"),
    ('a: "x\\x1b[2J"\n', 1, 4, "a", "the text holds the hidden character U+001B"),
    ('a: "\\u202e"\n', 1, 4, "a", "the text holds the hidden character U+202E"),
    ('a: "\\t"\n', 1, 4, "a", "the text holds the hidden character U+0009"),
    ('"\\x00": 1\n', 1, 1, "\\x00", "the text holds the hidden character U+0000"),
    ("a: 1234567890123456\n", 1, 4, "a", "more than 15 digits"),
    ("a: 0.1234567890123456\n", 1, 4, "a", "more than 15 digits"),
]


@each(("text", "line", "column", "key", "problem"), REFUSALS)
def test_a_refusal_names_line_column_key_and_remedy(
    text: str, line: int, column: int, key: str, problem: str
) -> None:
    finding = next(f for f in findings(text) if f.problem == problem)
    assert (finding.file, finding.line, finding.column) == ("f.yaml", line, column)
    assert str(finding).startswith(f"f.yaml:{line}:{column}: ")
    assert finding.key == key
    assert finding.remedy


@pytest.mark.parametrize(
    ("text", "line", "hint"),
    [
        ("a: b: c\n", 1, "Quote a text that holds a colon"),
        ("a: [1,\nb: 2\n", 3, ""),
        ("a: 1\n  b: 2\n", 2, ""),
        ("a: @x\n", 1, "Put the text in quotes"),
        ("a: 'x\nb: 2\n", 3, "Close the quote or the bracket"),
        ("a: *\n", 1, "aliases"),
        ('a: "\\q"\n', 1, ""),
    ],
)
def test_broken_yaml_is_one_finding_with_its_line(text: str, line: int, hint: str) -> None:
    finding = only(text)
    assert finding.problem.startswith("not valid YAML (")
    assert finding.line == line
    assert hint in finding.remedy


@pytest.mark.parametrize("escape", ["\\UFFFFFFFF", "\\U00110000", "\\uD800"])
def test_an_escape_that_is_no_character_is_refused(escape: str) -> None:
    assert only(f'a: 1\nb: "{escape}"\n').file == "f.yaml"


def test_a_quote_that_is_never_closed_says_where_it_was_opened() -> None:
    assert "begun in line 2" in only("a: 1\nb: 'x\nc: 2\n").problem


@pytest.mark.parametrize(
    ("raw", "line", "column"),
    [(b"a: 1\nb: \xe9\n", 2, 4), (b"\xff\xfea\x00", 1, 1), (b"\xc3\xa9: \xed\xa0\x80", 1, 4)],
)
def test_bytes_that_are_not_utf_8_are_refused_where_they_stand(
    raw: bytes, line: int, column: int
) -> None:
    with pytest.raises(BadFile) as refused:
        load_bytes(raw, "f.yaml")
    (finding,) = refused.value.findings
    assert (finding.line, finding.column) == (line, column)
    assert finding.problem == "this is not UTF-8 text"


def test_all_findings_come_in_one_error_in_the_order_of_the_file() -> None:
    found = findings("a: &k 1\nb: *k\na: 2\nc:\n  - !x y\n  -\n")
    assert [(f.line, f.key) for f in found] == [
        (1, "a"), (2, "b"), (3, "a"), (5, "c[1]"), (6, "c[2]"),
    ]  # fmt: skip
    with pytest.raises(BadFile) as refused:
        load_text("a: &k 1\nb: *k\n", "f.yaml")
    assert str(refused.value) == (
        "f.yaml:1:4: a: anchors (&) are not used here. Remove it.\n"
        "f.yaml:2:4: b: aliases (*) are not used here. Write the value out."
    )


def test_a_long_list_of_findings_says_how_many_are_left() -> None:
    with pytest.raises(BadFile) as refused:
        load_text("\t\n" * 250, "f.yaml")
    assert len(refused.value.findings) == 250
    assert str(refused.value).endswith("... and 150 more findings; mend these first")


def test_a_finding_is_printed_without_characters_that_a_terminal_obeys() -> None:
    finding = Finding("x\x1b[2J.yaml", 1, 1, "k\u202e", "p\n", "r")
    assert str(finding) == "x\\x1b[2J.yaml:1:1: k\\u202e: p\\x0a. r."
    assert str(finding).isprintable()


@pytest.mark.parametrize(
    ("name", "problem"), [("missing.yaml", "no such file"), (".", "not an ordinary file")]
)
def test_a_file_that_is_not_there_is_a_finding(tmp_path: Path, name: str, problem: str) -> None:
    with pytest.raises(BadFile, match=problem):
        load(tmp_path / name)


def test_a_name_that_no_file_can_have_is_a_finding() -> None:
    with pytest.raises(BadFile):
        load("a\x00b.yaml")


def test_a_bomb_of_aliases_is_refused_without_being_expanded() -> None:
    lines = ["a0: &a0 [x, x]"]
    lines += [f"a{i}: &a{i} [*a{i - 1}, *a{i - 1}]" for i in range(1, 40)]
    found = findings("\n".join(lines))
    assert len(found) == 40 + 2 * 39


@pytest.mark.parametrize("text", ["[" * 200_000, "{a: " * 60_000, "- " * 100_000])
def test_deep_nesting_is_refused_at_the_bound_without_exhausting_the_stack(text: str) -> None:
    assert only(text).remedy == "Nest less"


# --- anything at all ----------------------------------------------------------------------

YAML_PIECES = st.sampled_from(
    ["a", "b: ", "\n", "\n  ", "- ", "[", "]", "{", "}", ", ", ": ", "'", '"', "|\n", ">-\n", "#",
     " #", "&x ", "*x", "!t ", "? ", "---\n", "...\n", "%Y\n", "<<: ", "1", "0.5", "null", "true",
     "yes", "\\x1b", "\\uD800", "\\UFFFFFFFF", "é", "\U0001f527", "\t", "\r\n", "\r", "\u2028",
     "\x85", "\ufeff", "-\n", ":\n"]
)  # fmt: skip
YAML_LIKE = st.lists(YAML_PIECES, max_size=25).map("".join)


def outcome(text: str, monkeypatch: pytest.MonkeyPatch, parser: Any) -> object:
    monkeypatch.setattr(strict_yaml, "_LOADER", parser)
    try:
        document = load_text(text, "f.yaml")
    except BadFile as refused:
        assert all(f.line >= 1 and f.column >= 1 and f.remedy for f in refused.findings)
        assert all(line.isprintable() for line in str(refused).split("\n"))
        return None
    return document.data, dict(document.where)


@settings(max_examples=150, deadline=None)
@given(text=st.one_of(st.text(max_size=200), YAML_LIKE))
def test_any_text_either_loads_or_is_refused_with_places(text: str) -> None:
    with pytest.MonkeyPatch.context() as patch:
        outcome(text, patch, strict_yaml._LOADER)


@settings(max_examples=150, deadline=None)
@given(raw=st.binary(max_size=100))
def test_any_bytes_either_load_or_are_refused(raw: bytes) -> None:
    try:
        load_bytes(raw, "f.yaml")
    except BadFile as refused:
        assert refused.findings


@settings(max_examples=150, deadline=None)
@given(text=YAML_LIKE)
def test_both_parsers_read_the_same_where_both_take_the_file(text: str) -> None:
    with pytest.MonkeyPatch.context() as patch:
        with_c, pure = (outcome(text, patch, parser) for parser in PARSERS)
    if with_c is not None and pure is not None:
        assert with_c == pure
