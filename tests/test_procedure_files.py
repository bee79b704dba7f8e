"""A procedure is data: what is changed in the file is what the next run shows, or is refused.

A wrong file is refused with file, line, column and remedy, before a job begins.
"""

import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.input.findings import BadFile
from steplatch.runner.jobs.bundle import PROCEDURES

from tests.played import MAIN, Played, bundle_from, lesson_with, play

TEXT = MAIN.read_text(encoding="utf-8")


def changed(folder: Path, old: str, new: str, count: int = 1) -> Path:
    """The shipped main procedure with one text replaced."""
    assert old in TEXT, old
    path = folder / "clean-above.yaml"
    path.write_text(TEXT.replace(old, new, count), encoding="utf-8")
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
        contact = next(n for n, line in enumerate(lines) if "id: contact," in line)
        lines[contact], lines[contact + 1] = lines[contact + 1], lines[contact]
        new = "{id: parked, kind: ask, do: Type where it is parked., name: parked, form: text}"
        age = next(n for n, line in enumerate(lines) if "id: age," in line)
        lines.insert(age + 1, f"      - {new}")
        return "\n".join(lines)

    (quick / "clean-above.yaml").write_text(edit(TEXT), encoding="utf-8")
    bundle = bundle_from(quick / "clean-above.yaml")
    lesson = lesson_with(faults=("zero-error",), answers={"parked": "bay 2, by the gate"})
    played = play(quick / "data", lesson, bundle)
    shown = "\n".join(played.talk.said)
    assert "Pull, rub and smell the dipstick." in shown
    marks = [mark.step for mark in played.session.job.log.marks]
    assert marks[marks.index("registration") + 1] == "contact"
    assert marks[marks.index("age") + 1] == "parked"
    assert played.session.job.log.latest("parked") == {"text": "bay 2, by the gate"}
    before = [mark.step for mark in good.session.job.log.marks]
    assert before.index("contact") < before.index("registration")
    assert (
        played.session.job.log.files["procedure:clean-above"]
        != (good.session.job.log.files["procedure:clean-above"])
    )


def test_an_interlock_cannot_be_left_out_by_leaving_out_its_step(quick: Path) -> None:
    lines = [line for line in TEXT.split("\n") if "{id: secured," not in line]
    (quick / "clean-above.yaml").write_text("\n".join(lines), encoding="utf-8")
    others = quick / "others"
    shutil.copytree(PROCEDURES, others, ignore=shutil.ignore_patterns("clean-above.yaml", "schema"))
    for path in others.glob("*.yaml"):
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace("return_to: secured", "return_to: fumes"), encoding="utf-8")
    bundle = bundle_from(quick / "clean-above.yaml", others)
    played = play(quick / "data", lesson_with(faults=("zero-error",)), bundle)
    assert any("[run-secured]" in said for said in played.talk.said)


def test_the_job_rests_on_the_text_that_it_began_with(good: Played) -> None:
    kept = good.folder.path / "texts"
    main = good.session.job.log.files["procedure:clean-above"]
    assert (kept / f"{main}.yaml").read_text(encoding="utf-8") == TEXT


# -- a wrong file is refused where it is wrong --------------------------------------------------

KEY_LOOK = "do: Look where the gun is., fact: gun, want: [away, coupled]"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("purpose: ", "purpos: ", "purpos"),
        ("fact: gun, want: [away, coupled]", "fact: gun, wants: [away, coupled]", "wants"),
        ("fact: gun, want: [away, coupled]", "fact: gnu, want: [away, coupled]", "gnu"),
        ("fact: gun, want: [away, coupled]", "fact: gun, want: [gone]", "gone"),
        ("kind: look, " + KEY_LOOK, "kind: peek, " + KEY_LOOK, "peek"),
        ("act: raise,", "act: rise,", "rise"),
        ("options: [{value: drive,", "want: [fly]\n        options: [{value: drive,", "'fly'"),
        ("cautions: [over-revs]", "cautions: [over-rev]", "over-rev"),
        ("id: customer-name,", "id: crew,", "used twice"),
        ("do: Look where the gun is.", "do: Look carefully where the gun is.", "carefully"),
        ("do: Look where the gun is.", "do: Look at the gun. Put it away.", "more than one act"),
        ("do: Look where the gun is.", "do: " + "look " * 21, "21 words"),
        ("timer: soak", "timer: sock", "sock"),
        ("revision: ", 'revision: "1" #', "revision"),
        ("{fact: engine, among: [stopped]}", "{fact: engine, among: [halted]}", "halted"),
        ("{fact: engine, among: [stopped]}", "{fact: engin, among: [stopped]}", "engin"),
        ("role: main", "role: main\nrole: card", "role"),
        (
            "how: finished}",
            'how: finished, when: [{fact: hose, among: ["on"]}]}',
            "may be left out",
        ),
        ("point: witness", "point: wittness", "wittness"),
    ],
)
def test_a_wrong_file_is_refused_with_file_line_column_and_what_is_wrong(
    quick: Path, old: str, new: str, said: str
) -> None:
    path = changed(quick, old, new)
    findings = "\n".join(refused(path))
    line = line_of(path, new.split("\n")[0].split("#")[0].rstrip())
    places = [int(n) for n in re.findall(r"clean-above\.yaml:(\d+):\d+", findings)]
    assert places, findings
    if said != "may be left out":  # that one stands at its stage
        assert any(abs(place - line) <= 1 for place in places), (line, findings)
    assert said in findings


def test_a_job_without_an_end_a_loose_return_and_an_unanswered_trip_are_refused(
    quick: Path,
) -> None:
    lines = TEXT.split("\n")
    end = next(n for n, line in enumerate(lines) if "{id: hand-over, kind: end" in line)
    (quick / "clean-above.yaml").write_text("\n".join(lines[:end]) + "\n", encoding="utf-8")
    assert "does not end" in "\n".join(refused(quick / "clean-above.yaml"))

    others = quick / "others"
    shutil.copytree(PROCEDURES, others, ignore=shutil.ignore_patterns("schema"))
    spill = others / "recovery-spill.yaml"
    text = spill.read_text(encoding="utf-8")
    spill.write_text(text.replace("return_to: here", "return_to: nowhere"), encoding="utf-8")
    with pytest.raises(BadFile, match="no step 'nowhere'"):
        bundle_from(MAIN, others)
    spill.unlink()
    with pytest.raises(BadFile, match="the trip 'spill' is answered by no procedure"):
        bundle_from(MAIN, others)


@pytest.mark.parametrize("change", [str.upper, lambda t: t.replace("\n", "\r\n")])
def test_only_the_meaning_of_a_file_counts_not_its_line_ends(
    quick: Path, change: Callable[[str], str]
) -> None:
    path = quick / "abandon.yaml"
    text = (PROCEDURES / "abandon.yaml").read_text(encoding="utf-8")
    path.write_bytes(change(text).encode())
    if change is str.upper:
        refused(path)
    else:
        assert load_procedure(path)[0] == load_procedure(PROCEDURES / "abandon.yaml")[0]


# -- what a number is asked for as ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("new", "said"),
    [
        ("quantity: distanse", "there is no quantity 'distanse'. did you mean \"distance\"? known"),
        ("quantity: volts", "there is no quantity 'volts'. known: "),
        ("quantity: volume", '"km" is a unit of a distance driven'),
        ("quantity: distance, low: 9 km, high: 3 km", "9 km lies above 3 km"),
        ("quantity: years, low: 0 km", "an age in years has its own bounds"),
    ],
)
def test_a_number_of_no_known_quantity_or_bound_is_found_with_its_place(
    quick: Path, new: str, said: str
) -> None:
    old = "quantity: distance, low: 0 km, high: 3000000 km"
    keep = ", low: 0 km, high: 3000000 km" if "low" not in new else ""
    path = changed(quick, old, new + keep)
    line = line_of(path, new)
    told = refused(path)
    assert any(said in text and f"{path}:{line}:" in text for text in told), told
    column = path.read_text(encoding="utf-8").splitlines()[line - 1].index("quantity:") + 1
    if said.startswith("there is no"):
        assert f":{line}:{column + len('quantity: ')}: " in told[0], told


def test_a_text_or_a_choice_has_no_quantity(quick: Path) -> None:
    old = "name: complaint, form: text}"
    path = changed(quick, old, "name: complaint, form: text, quantity: volume}")
    assert "'quantity' belongs to a number; this asks for a text" in "\n".join(refused(path))
