"""Every mode of the engine with every command: refused as the table says, and as it said before."""

from dataclasses import replace
from typing import Any, get_args

import pytest
from steplatch.runner.core import commands
from steplatch.runner.core.commands import (
    Answer,
    AnswerMeanwhile,
    Back,
    Begin,
    Command,
    Correct,
    Depart,
    Fill,
    GiveUp,
    GoOn,
    Interrupted,
    Join,
    Look,
    NotApplicable,
    Note,
    Open,
    Report,
    SetAside,
    SetLimits,
    Sign,
    Stop,
    Tick,
    VehicleReport,
    Waive,
)
from steplatch.runner.core.job import Job, Log
from steplatch.runner.core.modes import IS, REFUSED, Mode

from tests.each import each
from tests.played import Stands

STEP = "hands-codes"
PEOPLE = ({"id": "technician-1", "name": "One", "role": "technician", "under_18": False},)
COMMANDS: dict[type, Command] = {
    type(c): c
    for c in (
        Open(True, PEOPLE),
        Join("technician-9", "Nine", "technician"),
        Depart("technician-9"),
        SetLimits(1, 2, 3, {}, {}),
        Tick(),
        Begin(STEP),
        Answer(STEP, "clear"),
        Report("stopped"),
        Look("hands", "clear"),
        Sign(STEP, "technician-1"),
        AnswerMeanwhile("no"),
        Stop(),
        GoOn(),
        Back("identity"),
        Interrupted("restarted"),
        GiveUp(),
        Correct("reading", 0, "x", "typed wrongly before"),
        NotApplicable(STEP, "it has none"),
        Waive("measured-before", "technician-1", "a reason for it"),
        Note("event", {"text": "seen"}),
        VehicleReport("trip", "stalled", "1", 0, 0, {}),
        SetAside("speed"),
        Fill(STEP, "1", (), "1", 0, 0),
    )
}
BY_A_MODE = {refusal for row in REFUSED.values() for refusal in row.values()}


def job_in(stands: Stands, mode: Mode) -> Job:
    """A job of the shipped clean that is in ``mode``, at one of its first steps."""
    waiting, begun = stands.at(STEP), stands.at(STEP, begun=True)
    match mode:
        case Mode.NEW:
            return Job(log=Log(last=waiting.log.last))
        case Mode.WAITING:
            return waiting
        case Mode.BEGUN:
            return begun
        case Mode.HELD:
            return stands.after(waiting, Stop())
        case Mode.ASKING:
            return stands.after(begun, Interrupted("restarted"), GoOn())
        case Mode.ENDED:
            return replace(waiting, core=replace(waiting.core, ended="abandoned"))
        case Mode.UNLIMITED:
            return replace(waiting, log=replace(waiting.log, numbers={}))


def mode_of(job: Job) -> Mode:
    return next(mode for mode, is_so in IS.items() if is_so(job))


def test_every_command_there_is_stands_in_the_table_and_here() -> None:
    known = set(get_args(commands.Command))
    assert set(COMMANDS) == known
    assert {command for row in REFUSED.values() for command in row} == known


@pytest.mark.parametrize("mode", Mode)
def test_a_job_is_in_one_mode(stands: Stands, mode: Mode) -> None:
    assert mode_of(job_in(stands, mode)) is mode


@each("mode", Mode)
@each("kind", COMMANDS, ids=lambda kind: kind.__name__)
def test_a_mode_refuses_what_the_table_says_and_nothing_else(
    stands: Stands, mode: Mode, kind: type
) -> None:
    outcome = stands.decide(job_in(stands, mode), COMMANDS[kind])
    ids = {refusal.interlock.split("/")[0] for refusal in outcome.refusals}
    expected = REFUSED[mode].get(kind)
    if expected is not None:
        assert ids == {expected}
    else:
        assert not ids & (BY_A_MODE - {"reconfirm"}), outcome.refusals


@pytest.mark.parametrize(
    ("mode", "command", "after"),
    [
        (Mode.WAITING, Begin(STEP), Mode.BEGUN),
        (Mode.BEGUN, Look("hands", "clear"), Mode.WAITING),
        (Mode.BEGUN, Stop(), Mode.HELD),
        (Mode.HELD, GoOn(), Mode.WAITING),
        (Mode.WAITING, Interrupted("restarted"), Mode.HELD),
        (Mode.BEGUN, Back("identity"), Mode.WAITING),
        (Mode.ASKING, Stop(), Mode.HELD),
        (Mode.HELD, GiveUp(), Mode.WAITING),
    ],
    ids=str,
)
def test_where_a_command_leads(stands: Stands, mode: Mode, command: Any, after: Mode) -> None:
    assert mode_of(stands.after(job_in(stands, mode), command)) is after
