"""A procedure is data: what is changed in the file is what the next run shows, or is refused.

A wrong file is refused with file, line, column and remedy, before a job begins.
"""

import hashlib
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from steplatch.runner.core.loading import load_kept, load_procedure, load_written_out
from steplatch.runner.input.findings import BadFile
from steplatch.runner.input.shelf import PROCEDURES

from tests.played import Played, bundle_from, lesson_with, play
from tests.step_text import MAIN, in_step, lines_of, without_steps, written_out

TEXT = MAIN.read_text(encoding="utf-8")
WHOLE = written_out()


def changed(folder: Path, old: str, new: str, count: int = 1) -> Path:
    """The shipped main procedure with one text replaced."""
    text = TEXT if old in TEXT else WHOLE
    assert old in text, old
    path = folder / "clean-above.yaml"
    path.write_text(text.replace(old, new, count), encoding="utf-8")
    return path


def line_of(path: Path, text: str) -> int:
    return path.read_text(encoding="utf-8").split(text)[0].count("\n") + 1


def refused(path: Path) -> list[str]:
    """What loading says, each finding as file:line:column: ..."""
    with pytest.raises(BadFile) as caught:
        load_procedure(path)
    said = str(caught.value).splitlines()
    assert said
    return said


# -- a change is what the next run shows --------------------------------------------------------


def test_changed_text_order_and_a_new_step_are_what_the_next_run_shows(
    quick: Path, good: Played
) -> None:
    def edit(text: str) -> str:
        text = text.replace("Read, rub and smell the dip", "Pull, rub and smell the dip")
        lines = text.split("\n")
        first, second, third = (*lines_of(text, "contact"), lines_of(text, "measure-how")[1])
        lines[first:third] = [*lines[second:third], *lines[first:second]]
        zero = lines_of(text, "before-wait")[0]
        lines[zero:zero] = ["      - parked: Type where it is parked.", "        ask: text"]
        return "\n".join(lines)

    (quick / "clean-above.yaml").write_text(edit(WHOLE), encoding="utf-8")
    bundle = bundle_from(quick / "clean-above.yaml")
    lesson = lesson_with(faults=("zero-error",), answers={"parked": "bay 2, by the gate"})
    played = play(quick / "data", lesson, bundle)
    shown = "\n".join(played.talk.said)
    assert "Pull, rub and smell the dipstick." in shown
    marks = [mark.step for mark in played.session.job.log.marks]
    assert marks[marks.index("measure-how") + 1] == "contact"
    assert marks[marks.index("parked") + 1] == "before-wait"
    assert played.session.job.log.latest("parked") == {"text": "bay 2, by the gate"}
    before = [mark.step for mark in good.session.job.log.marks]
    assert before.index("contact") < before.index("measure-how")
    assert (
        played.session.job.log.files["procedure:clean-above"]
        != (good.session.job.log.files["procedure:clean-above"])
    )


def test_an_interlock_cannot_be_left_out_by_leaving_out_its_step(quick: Path) -> None:
    (quick / "clean-above.yaml").write_text(without_steps(TEXT, "secured"), encoding="utf-8")
    bundle = bundle_from(quick / "clean-above.yaml")
    played = play(quick / "data", lesson_with(faults=("zero-error",)), bundle)
    assert any("[run-secured]" in said for said in played.talk.said)


def test_the_job_keeps_its_text_with_the_shared_steps_written_out(good: Played) -> None:
    kept = good.folder.path / "texts"
    main = good.session.job.log.files["procedure:clean-above"]
    path = kept / f"{main}.yaml"
    text = path.read_text(encoding="utf-8")
    assert text == written_out()
    assert hashlib.sha256(MAIN.read_bytes()).hexdigest() in text.split("\n")[0]
    assert load_kept(path)[0] == load_procedure(MAIN)[0], "alone it is the same procedure"


def test_a_file_that_uses_no_shared_step_is_kept_as_it_is(quick: Path) -> None:
    path = quick / "mine.yaml"
    path.write_text(written_out(), encoding="utf-8")
    assert load_written_out(path)[2] == path.read_bytes()


# -- a wrong file is refused where it is wrong --------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("purpose: ", "purpos: ", "purpos"),
        ("look: oil\n        want: [ok, low]", "look: oil\n        wants: [ok, low]", "wants"),
        ("look: oil\n        want", "look: oli\n        want", "oli"),
        ("want: [ok, low]", "want: [gone]", "gone"),
        ("look: oil", "lokk: oil", 'Did you mean "look"?'),
        ("look: oil", "look: oil\n        act: start", "a step has one"),
        ("act: clear_codes", "act: clear_code", "clear_code"),
        ("answers: {drive:", "want: [fly]\n        answers: {drive:", "'fly'"),
        ("cautions: probe-misleads", "cautions: probe-misleds", "probe-misleds"),
        ("- customer-name:", "- crew:", "used twice"),
        ("- oil-level:", "- held:", "cannot be a step's id"),
        ("Read, rub and smell", "Carefully read and smell", "carefully"),
        ("Read, rub and smell", "Look at it. Smell", "more than one act"),
        ("Read, rub and smell the dipstick.", "look " * 21, "21 words"),
        ("- gun-away: gun-seen", "- gun-away: gun-sene", "Did you mean gun-seen"),
        ("- gun-away: gun-seen", "- gun-away: gun-seen\n        act: start", "act"),
        ("- gun-away: gun-seen", "- gun-away: gun-seen\n        want: away", "'want' cannot be"),
        ("line-try: start-tried", "line-try: start-tried\n        why: I say so.", "of its own"),
        ("revision: ", 'revision: "1" #', "revision"),
        ("when: {engine: stopped}", "when: {engine: halted}", "halted"),
        ("when: {engine: stopped}", "when: {engin: stopped}", "engin"),
        ("when: {engine: stopped}", "when: adlut", "Did you mean 'adult'"),
        ("when: goes_on", "when: goeson", "goes_on"),
        ("    returns: raised", "    return: raised", "Did you mean 'returns'"),
        ("role: main", "role: main\nrole: card", "role"),
        ("end: finished", "end: finished\n        when: {hose: on}", "may be left out"),
        ("point: witness", "point: wittness", "wittness"),
        ("between: [0 km, 3000000 km]", "held: 2 kg", "kg"),
    ],
)
def test_a_wrong_file_is_refused_with_file_line_column_and_what_is_wrong(
    quick: Path, old: str, new: str, said: str
) -> None:
    path = changed(quick, old, new)
    findings = "\n".join(refused(path))
    first = new.split("\n")[0].split("#")[0].rstrip()
    text = path.read_text(encoding="utf-8").split("\n")
    lines = [n for n, line in enumerate(text, start=1) if first in line]
    places = [int(n) for n in re.findall(r"clean-above\.yaml:(\d+):\d+", findings)]
    assert places, findings
    if said != "may be left out":  # that one stands at its stage
        assert any(abs(place - n) <= 1 for place in places for n in lines), findings
    assert said in findings


def test_a_job_without_an_end_a_loose_return_and_an_unanswered_trip_are_refused(
    quick: Path,
) -> None:
    text = without_steps(TEXT, "hand-over")
    (quick / "clean-above.yaml").write_text(text, encoding="utf-8")
    assert "does not end" in "\n".join(refused(quick / "clean-above.yaml"))

    others = quick / "others"
    shutil.copytree(PROCEDURES, others, ignore=shutil.ignore_patterns("schema"))
    spill = others / "recovery-spill.yaml"
    text = spill.read_text(encoding="utf-8")
    spill.write_text(text.replace("return_to: here", "return_to: nowhere"), encoding="utf-8")
    with pytest.raises(BadFile, match="no return point 'nowhere'"):
        bundle_from(MAIN, others)
    spill.unlink()
    with pytest.raises(BadFile, match="the trip 'spill' is answered by no procedure"):
        bundle_from(MAIN, others)


@pytest.mark.parametrize("change", [str.upper, lambda t: t.replace("\n", "\r\n")])
def test_only_the_meaning_of_a_file_counts_not_its_line_ends(
    quick: Path, change: Callable[[str], str]
) -> None:
    path = quick / "abandon.yaml"
    text = written_out(PROCEDURES / "abandon.yaml")
    path.write_bytes(change(text).encode())
    if change is str.upper:
        refused(path)
    else:
        assert load_procedure(path)[0] == load_procedure(PROCEDURES / "abandon.yaml")[0]


# -- what a number is asked for as ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("new", "said"),
    [
        ("ask: distanse", "there is no quantity 'distanse'. did you mean \"distance\"? known"),
        ("ask: volts", "there is no quantity 'volts'. known: "),
        ("ask: volume", '"km" is a unit of a distance driven'),
        ("between: [9 km, 3 km]", "9 km lies above 3 km"),
        ("ask: years", "an age in years has its own bounds"),
    ],
)
def test_a_number_of_no_known_quantity_or_bound_is_found_with_its_place(
    quick: Path, new: str, said: str
) -> None:
    old = "between: [0 km, 3000000 km]" if "between" in new else "ask: distance"
    path = changed(quick, old, new)
    line = line_of(path, new)
    told = refused(path)
    near = [f"{path}:{n}:" for n in (line, line + 1)]
    assert any(said in text and any(n in text for n in near) for text in told), told
    column = (
        path.read_text(encoding="utf-8").splitlines()[line - 1].index("ask:") + 1
        if ("ask" in new)
        else 0
    )
    if said.startswith("there is no"):
        assert f":{line}:{column + len('ask: ')}: " in told[0], told


def test_a_text_or_a_choice_has_no_quantity(quick: Path) -> None:
    path = quick / "mine.yaml"
    band = "ask: text\n        between: [1 L, 2 L]"
    path.write_text(in_step(WHOLE, "complaint", "ask: text", band), encoding="utf-8")
    assert "'low' belongs to a number; this asks for a text" in "\n".join(refused(path))
