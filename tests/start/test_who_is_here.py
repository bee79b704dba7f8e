"""Who is here is asked once before a real job, and people may come and hand over in it."""

import json
import shutil
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.guided_job import who_is_here
from steplatch.runner.core.job import Job
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.runner.jobs.bundle import EXAMPLES, Sources, load_bundle
from steplatch.runner.screen import people as screen_people
from steplatch.runner.screen.context import Context
from steplatch.runner.screen.talk import Prompt
from steplatch.safety.bay import Bay, FluidIn, Trip

from tests.console.terminal import Program

WORKSHOP = EXAMPLES / "workshop"
BUNDLE = load_bundle(Sources.of_folder(WORKSHOP, PROCEDURES / "clean-above.yaml"))
WORKER = "technician-1"


class Typed:
    """Types the answers one after another."""

    def __init__(self, *answers: str) -> None:
        self.left = list(answers)
        self.said: list[str] = []

    def say(self, text: str = "", style: str = "") -> None:
        self.said.append(text)

    def ask(self, prompt: Prompt) -> str:
        return self.left.pop(0)


@pytest.mark.parametrize(
    ("typed", "here"),
    [
        ("none", (WORKER,)),
        ("NONE", (WORKER,)),
        ("2", (WORKER, "supervisor-1")),
        ("1, 2", (WORKER, "apprentice-1", "supervisor-1")),
        ("supervisor-1", (WORKER, "supervisor-1")),
        ("2 2", (WORKER, "supervisor-1")),
    ],
)
def test_only_who_is_named_counts_as_here(typed: str, here: tuple[str, ...]) -> None:
    assert who_is_here(BUNDLE, WORKER, None, Typed(typed)) == here


@pytest.mark.parametrize("typed", ["", "3", "0", "２", "1 nobody", "none 1", "all"])
def test_what_is_not_on_the_list_is_asked_again(typed: str) -> None:
    person = Typed(typed, "none")
    assert who_is_here(BUNDLE, WORKER, None, person) == (WORKER,)
    assert len(person.said) == 1 and not person.left


def test_stop_begins_nothing() -> None:
    with pytest.raises(KeyboardInterrupt):
        who_is_here(BUNDLE, WORKER, None, Typed("s"))


def test_the_option_is_not_asked_and_says_who_is_not_on_the_list() -> None:
    person = Typed()
    assert who_is_here(BUNDLE, WORKER, ["supervisor-1", "x-9"], person) == (WORKER, "supervisor-1")
    assert "'x-9' is not on the list" in person.said[0]
    assert who_is_here(BUNDLE, WORKER, [], person) == (WORKER,)


def commands(data: Path) -> list[tuple[str, dict[str, object]]]:
    """Who stands on each line of the one job, and what was told."""
    (folder,) = (data / "jobs").iterdir()
    lines = [json.loads(line) for line in (folder / "journal.jsonl").read_text().splitlines()]
    return [(line["actor"], line["command"]) for line in lines]


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (44, 12)])
def test_a_person_joins_and_takes_over_at_a_terminal(quick: Path, columns: int, rows: int) -> None:
    shop = quick / "shop"
    shutil.copytree(WORKSHOP, shop)
    words = ("run", "--vehicle", str(shop / "vehicle.yaml"), "--as", WORKER, "--with")
    program = Program(quick, *words, columns=columns, rows=rows)
    program.ready()
    program.answer("join")
    assert "Who has come and stays" in program.said()
    program.answer("supervisor-1")
    assert "JOINED supervisor-1" in program.said()
    program.answer("over")
    program.answer("apprentice-1")
    assert "is not here" in " ".join(program.said().split())
    program.answer("over")
    program.answer("supervisor-1")
    assert "supervisor-1 works from now on" in " ".join(program.said().split())
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN
    told = commands(quick)
    opened = told[0][1]
    assert opened["kind"] == "Open" and opened["here"] == [WORKER]
    assert (WORKER, "Join") in [(actor, command["kind"]) for actor, command in told]
    assert told[-1][0] == "supervisor-1", "the last line is the other's"


def test_who_is_here_is_asked_at_a_terminal_and_recorded(quick: Path) -> None:
    shop = quick / "shop"
    shutil.copytree(WORKSHOP, shop)
    words = ("run", "--vehicle", str(shop / "vehicle.yaml"), "--as", WORKER)
    program = Program(quick, *words, columns=44, rows=12)
    asked = " ".join(program.ready().split())
    assert "Who else stays to the end?" in asked and "supervisor-1 (supervisor)" in asked
    program.answer("2")
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN
    assert commands(quick)[0][1]["here"] == [WORKER, "supervisor-1"]


REQUIRED = """
competences:
  - id: hoses
    statement: Finds swapped hoses at the line test
    evidence: [{what: found, count: 1}]
    lasts_months: 12
required:
  - {competence: hoses, role: supervisor}
"""


def test_who_lacks_a_required_competence_joins_and_goes_but_takes_no_work_over(quick: Path) -> None:
    shop = quick / "shop"
    shutil.copytree(WORKSHOP, shop)
    (quick / "competence.yaml").write_text(REQUIRED, encoding="utf-8")
    words = ("run", "--vehicle", str(shop / "vehicle.yaml"), "--as", WORKER, "--with")
    program = Program(quick, *words, columns=100, rows=40)
    program.ready()

    def said(*answers: str) -> str:
        for answer in answers:
            program.answer(answer)
        return " ".join(program.said().split())

    told = said("join", "supervisor-1")
    assert "JOINED supervisor-1" in told and "not handed over to supervisor-1" in told
    told = said("over", "supervisor-1")
    assert "Not handed over" in told and "'hoses' for a supervisor who does the work" in told
    assert "GONE supervisor-1 is not on this job any more" in said("gone", "supervisor-1")
    assert "is not here" in said("over", "supervisor-1")
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN
    told_kinds = [(actor, command["kind"]) for actor, command in commands(quick)]
    assert {actor for actor, _ in told_kinds} == {WORKER}
    assert [kind for _, kind in told_kinds if kind in ("Join", "Depart")] == ["Join", "Depart"]


@pytest.mark.parametrize(
    ("bay", "over"),
    [
        (Bay(), False),
        (Bay(fluid_in=FluidIn.YES), True),
        (Bay(fluid_in=FluidIn.UNKNOWN), True),
        (Bay(trips=frozenset({Trip.FUMES})), True),
    ],
)
def test_once_fluid_may_be_in_somebody_goes_on_to_a_safe_end(
    monkeypatch: pytest.MonkeyPatch, bay: Bay, over: bool
) -> None:
    people = tuple({"id": name, "role": "technician"} for name in (WORKER, "technician-2"))
    job = Job(replace(Job().core, bay=bay), Job().log.but(people=people))
    talk = Typed()
    on = SimpleNamespace(
        session=SimpleNamespace(job=job, person=WORKER), talk=talk, lacks=lambda *_: "it is lacking"
    )
    monkeypatch.setattr(screen_people, "ask_line", lambda *_, **__: "technician-2")
    screen_people.hand_over(cast(Context, on))
    assert on.session.person == ("technician-2" if over else WORKER)
    assert ("safe end" in talk.said[-1]) is over and "it is lacking" in talk.said[-1]
