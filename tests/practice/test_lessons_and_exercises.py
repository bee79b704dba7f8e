"""Lessons end as they say, exercises hide what is wrong, and time passes as it is asked to."""

import json
import re
import time
from dataclasses import replace
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli import practice_job as play
from steplatch.runner.cli.main import parser
from steplatch.runner.cli.practise import misused
from steplatch.runner.core.events import Recorded
from steplatch.runner.core.job import Job, Log, StepMark
from steplatch.runner.input.findings import BadFile
from steplatch.runner.input.strict_yaml import load_text, validate
from steplatch.runner.jobs.bundle import EXAMPLES
from steplatch.runner.record import JobFolder, read
from steplatch.runner.screen.talk import HeardAt, StyledLine
from steplatch.runner.screen.terminal.keyboard import Stopped
from steplatch.runner.simulator.faults import draw_faults
from steplatch.runner.simulator.hand import Hand, VehicleClock
from steplatch.runner.simulator.slip import Slip
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training.exercise import Exercise, load_exercise
from steplatch.runner.training.memory import MEMORY_FILE, About, kept_of
from steplatch.runner.training.pace import PacedHand, PacedVehicleClock
from steplatch.safety.bay import Act

from tests.played import START, Played, lesson_with

EXERCISES = sorted((EXAMPLES / "exercises").glob("*.yaml"))
WHOLE = (EXAMPLES / "exercises" / "lamp-back-again.yaml").read_text(encoding="utf-8")


def exercise_from(text: str) -> Exercise:
    return validate(load_text(text, "an-exercise.yaml"), Exercise)


# -- how a lesson ends -----------------------------------------------------------------------------


def setting_for(good: Played, *options: str) -> play.Setting:
    """The good clean's setting, without a vehicle of its own being built twice."""
    return play.setting_of(parser().parse_args(["practise", "--hands-free", *options]))


def test_a_lesson_that_ends_as_it_says_is_done(good: Played) -> None:
    assert play.compared(setting_for(good), good.session, "finished") == exits.OK


def test_a_lesson_that_ends_otherwise_fails_and_says_both(
    good: Played, capsys: pytest.CaptureFixture[str]
) -> None:
    setting = setting_for(good)
    expected = setting.lesson.expected.model_copy(update={"verdicts": ("not_improved",)})
    other = replace(setting, lesson=setting.lesson.model_copy(update={"expected": expected}))
    assert play.compared(other, good.session, "finished") == exits.FAILED
    said = capsys.readouterr().out
    assert "finished, verdict not_improved" in said and "finished, verdict as_expected" in said
    assert play.compared(setting, good.session, "abandoned") == exits.FAILED


@pytest.mark.parametrize("options", [("--fault", "cracked"), ("--seed", "8")])
def test_a_lesson_with_other_faults_or_seed_is_not_compared_and_says_so(
    good: Played, options: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert play.compared(setting_for(good, *options), good.session, "abandoned") == exits.OK
    assert (
        f"not compared with the end that the lesson says: {options[0]}" in capsys.readouterr().out
    )


def test_a_slip_happens_once_and_at_its_own_spray() -> None:
    vehicle = SimulatedVehicle(7, "none")
    vehicle.hose_off()
    vehicle.couple_gun()
    vehicle.fill_gun(400.0)
    hand = Hand(vehicle, 2200, 2600, None, {"spray_off": Slip(held_s=11)})
    assert "Sprayed 11 s" in hand.perform(Act.SPRAY_OFF, 3.0).words
    assert "Sprayed 3 s" in hand.perform(Act.SPRAY_OFF, 3.0).words


def test_a_spray_past_the_sag_stalls_where_a_heeded_sag_does_not() -> None:
    seen = []
    for slips in ({}, {"spray_running": Slip(past_sag=True)}):
        vehicle = SimulatedVehicle(7, "stalls-on-spray")
        vehicle.start()
        vehicle.advance(60.0)
        vehicle.hose_off()
        vehicle.couple_gun()
        vehicle.fill_gun(400.0)
        hand = Hand(vehicle, 2200, 2600, None, slips)
        seen.append(hand.perform(Act.SPRAY_RUNNING, 30.0).answer)
    assert seen == ["spray_sagged", "stalled"]


# -- which lesson a job was ------------------------------------------------------------------------


def test_a_job_knows_its_lesson_and_an_old_one_falls_back_to_the_good_clean(
    good: Played, tmp_path: Path
) -> None:
    kept = kept_of(good.folder)
    assert kept is not None and kept.about == About("good-clean", "", plays_itself=True)
    assert play.card_of(About("ash-laden")).id == "ash-laden"
    assert play.card_of(About("a-lesson-that-is-gone")).id == "good-clean"
    plain = json.loads((good.folder.path / MEMORY_FILE).read_text(encoding="utf-8"))
    del plain["about"], plain["stood"]
    path = tmp_path / good.folder.id
    path.mkdir()
    (path / MEMORY_FILE).write_text(json.dumps(plain), encoding="utf-8")
    old = kept_of(JobFolder(path))
    assert old is not None and play.card_of(old.about).id == "good-clean" and old.stood == ()


# -- exercises -------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", EXERCISES, ids=lambda path: path.stem)
def test_each_shipped_exercise_can_be_set_and_hides_what_is_wrong(path: Path) -> None:
    setting = play.setting_of(parser().parse_args(["practise", "--exercise", str(path)]))
    assert setting.exercise is not None and setting.vehicle.faults == setting.faults
    assert setting.note is not None and setting.note.value["id"] == path.stem
    shown = " ".join(play.opening_lines(setting.exercise, None)) + json.dumps(setting.note.value)
    assert setting.exercise.set_by in shown
    assert not [fault for fault in setting.faults if fault in shown]
    assert setting.exercise.due(setting.faults)


def test_there_are_three_exercises() -> None:
    assert len(EXERCISES) >= 3


def test_drawn_faults_are_the_same_for_the_same_seed_and_only_from_the_list() -> None:
    among = ("hose-split", "hose-blocked", "hoses-swapped")
    assert draw_faults(3, 2, among) == draw_faults(3, 2, among)
    drawn = {draw_faults(seed, 1, among)[0] for seed in range(40)}
    assert drawn == set(among)
    given = parser().parse_args(["practise", "--fault", "drawn", "--seed", "5"])
    assert play.setting_of(given).faults == draw_faults(5)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("hose-split, hose", "hose-spilt, hose", "'hose-spilt' is no fault"),
        ("count: 1", "count: 4", "4 cannot be drawn from 3"),
        ("seed: 21", "seed: 21\nfaults: [cracked]", "either 'faults' or 'draw'"),
        ("    record: verdict\n", "", "either 'step' or 'record'"),
        ("seed: 21", "seed: 21\nmarks: 10", "marks"),
    ],
)
def test_a_wrong_exercise_is_refused_with_its_place_and_the_remedy(
    old: str, new: str, words: str
) -> None:
    with pytest.raises(BadFile, match=words) as refused:
        exercise_from(WHOLE.replace(old, new, 1))
    assert all(finding.line > 0 and finding.remedy for finding in refused.value.findings)


def test_a_place_that_the_procedure_does_not_have_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "exercise.yaml"
    path.write_text(WHOLE.replace("record: line_test", "record: lime_test", 1), encoding="utf-8")
    with pytest.raises(BadFile, match=r"exercise\.yaml:\d+:.*'lime_test' is no record"):
        play.setting_of(parser().parse_args(["practise", "--exercise", str(path)]))
    assert load_exercise(path)[0].notice


def test_what_was_noticed_is_read_from_answers_marks_and_sprays_alone() -> None:
    exercise = exercise_from(WHOLE)
    by_fault = exercise.due(("hose-split",))
    assert [n.record for n in by_fault] == ["line_test", "verdict"]
    split = by_fault[0]
    found = Job(
        log=Log(
            records=(
                Recorded(
                    "line_test", {"choice": "split"}, "line-test-blow", procedure="clean-above"
                ),
            )
        )
    )
    assert split.noticed(found) and not split.noticed(Job())
    tier = split.model_copy(update={"record": "", "step": "tier", "among": ("none",)})
    assert tier.noticed(Job(log=Log(marks=(StepMark("tier", 0, 1, "none", "x", "clean-above"),))))


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--exercise", "x.yaml", "--hands-free"), "leave out --hands-free"),
        (("--exercise", "x.yaml", "--fault", "none"), "leave out --fault"),
        (("--speed", "60", "--hands-free"), "jumps"),
        (("--speed", "0"), "1 is real time"),
        (("--speed", "60"), ""),
    ],
)
def test_options_that_do_not_go_together_are_refused(options: tuple[str, ...], words: str) -> None:
    said = misused(parser().parse_args(["practise", *options]))
    assert (words in said) if words else said == ""


# -- time ------------------------------------------------------------------------------------------


class Waiting:
    """A talk that notes each wait; ``typed`` is what is typed at once in the first ones."""

    def __init__(self, *typed: str) -> None:
        self.rests: list[float] = []
        self.said: list[str] = []
        self.typed = list(typed)
        self.width = 80
        self.heard: list[StyledLine] = []
        self.counts, self.stops = "4.5", False

    def say(self, text: str = "", style: str = "") -> None:
        self.said.append(text)

    def rest(self, seconds: float, text: str) -> str:
        self.rests.append(seconds)
        return self.typed.pop(0) if self.typed else ""

    def count(self, cap_s: float, heard: HeardAt | None = None) -> str:
        if heard is not None:
            self.heard = [heard(float(second)) for second in range(1, 21)]
        if self.stops:
            raise Stopped
        return self.counts

    def ask(self, prompt: object) -> str:
        raise AssertionError("nothing is asked")


def test_waits_pass_at_the_speed_that_was_asked_for() -> None:
    vehicle = SimulatedVehicle(7, "none")
    talk = Waiting()
    PacedVehicleClock(START, vehicle, 60.0, talk).wait(300.0)
    assert talk.rests == [5.0] and vehicle.elapsed_s == pytest.approx(300.0)


def test_a_wait_cannot_be_hurried_and_stop_ends_it_where_it_stands() -> None:
    vehicle = SimulatedVehicle(7, "none")
    talk = Waiting("due")
    PacedVehicleClock(START, vehicle, 1.0, talk).wait(10.0)
    assert len(talk.rests) == 2 and "hurried" in talk.said[0]
    assert vehicle.elapsed_s == pytest.approx(10.0)
    with pytest.raises(Stopped):
        PacedVehicleClock(START, vehicle, 1.0, Waiting("s")).wait(10.0)
    assert vehicle.elapsed_s < 11.0


def test_a_paced_burst_lasts_from_key_to_key() -> None:
    vehicle = SimulatedVehicle(7, "none")
    vehicle.hose_off()
    vehicle.couple_gun()
    vehicle.fill_gun(400.0)
    hand = PacedHand(Hand(vehicle, 2200, 2600), 60.0, Waiting())
    assert hand.target_rpm == 2400
    noticed = hand.perform(Act.SPRAY_OFF, 3.0)
    assert vehicle.elapsed_s == pytest.approx(4.5) and noticed.answer == "spray_ended"
    assert "60 times" in hand.waits


def _spraying(seed: int, *faults: str) -> tuple[SimulatedVehicle, Waiting, PacedHand]:
    """A vehicle that idles with the gun on its hose, and hands that count."""
    vehicle = SimulatedVehicle(seed, faults or "none")
    vehicle.key_from_box()
    vehicle.start()
    vehicle.advance(60.0)
    vehicle.hose_off()
    vehicle.couple_gun()
    vehicle.fill_gun(400.0)
    talk = Waiting()
    return vehicle, talk, PacedHand(Hand(vehicle, 2200, 2600), 1.0, talk)


def test_a_sag_is_heard_while_the_burst_is_counted_before_it_becomes_a_stall() -> None:
    vehicle, talk, hand = _spraying(3, "stalls-on-spray")
    talk.counts, begun = "6.5", vehicle.elapsed_s
    noticed = hand.perform(Act.SPRAY_RUNNING, 20.0)
    said = [text for text, _ in talk.heard]
    sags = [second for second, text in enumerate(said, start=1) if "sags" in text]
    stalls = [second for second, text in enumerate(said, start=1) if "stalled" in text]
    assert "even note" in said[0] and sags[0] < 6.5 and stalls[0] - sags[0] >= 5
    assert dict(talk.heard)[said[sags[0]]] == "DANGER"
    assert hand.counted == "6.5", "the count is not asked for again"
    assert noticed.answer == "spray_sagged" and vehicle.truth().running
    assert vehicle.elapsed_s - begun == pytest.approx(6.5)


def test_what_is_heard_is_what_the_vehicle_then_does() -> None:
    vehicle, talk, hand = _spraying(3, "stalls-on-spray")
    talk.counts, begun = "25.0", vehicle.elapsed_s
    noticed = hand.perform(Act.SPRAY_RUNNING, 20.0)
    said = [text for text, _ in talk.heard]
    stalled_by = next(second for second, text in enumerate(said, start=1) if "stalled" in text)
    assert noticed.answer == "stalled" and not vehicle.truth().running
    (stall,) = (m for m in vehicle.truth().mishaps if m.kind == "stall")
    assert stalled_by - 1 <= stall.at_s - begun <= stalled_by + 1


def test_a_stop_within_a_counted_burst_leaves_in_what_went_in() -> None:
    vehicle, talk, hand = _spraying(7)
    talk.stops = True
    before = vehicle.truth().gun_ml
    with pytest.raises(Stopped):
        hand.perform(Act.SPRAY_RUNNING, 20.0)
    assert before - vehicle.truth().gun_ml > 9 * 2


def test_with_the_engine_off_the_gun_is_heard_until_it_is_empty() -> None:
    vehicle = SimulatedVehicle(7, "none")
    vehicle.hose_off()
    vehicle.couple_gun()
    vehicle.fill_gun(10.0)
    talk = Waiting()
    PacedHand(Hand(vehicle, 2200, 2600), 1.0, talk).perform(Act.SPRAY_OFF, 20.0)
    said = [text for text, _ in talk.heard]
    assert "nothing else" in said[0] or "steam" in said[0]
    assert any("empty" in text or "steam" in text for text in said[4:])


def test_a_loaded_gun_sprays_its_load_once() -> None:
    vehicle = SimulatedVehicle(7, "none")
    hand = Hand(vehicle, 2200, 2600)
    vehicle.hose_off()
    hand.load(14.0)
    vehicle.couple_gun()
    hand.perform(Act.SPRAY_OFF, 0.0, 14.0)
    truth = vehicle.truth()
    assert truth.gun_ml == 0.0 and truth.filled_ml == pytest.approx(14.0)


def test_without_a_speed_practice_waits_jump_and_the_screen_says_so() -> None:
    vehicle = SimulatedVehicle(7, "none")
    begun = time.monotonic()
    VehicleClock(START, vehicle).wait(600.0)
    assert vehicle.elapsed_s == 600.0 and time.monotonic() - begun < 60.0
    assert "Waits jump." in play.opening_lines(None, None)[0]
    assert "60 times as fast" in play.opening_lines(None, 60.0)[0]


# -- the practice mark -----------------------------------------------------------------------------


def test_every_line_of_a_practice_record_says_practice(good: Played) -> None:
    lines = list(read(good.folder.path))
    assert {line.envelope.times.boot for line in lines} == {"practice-time"}
    assert lines[0].outcome["events"][1]["practice"] is True
    assert good.session.job.log.practice
    signs = [line.command for line in lines if line.command["kind"] == "Sign"]
    signed = {sign["how"] for sign in signs if sign["person"] != "customer"}
    assert signed == {"practice"}, "the customer's alone stands on the printed page"


def test_every_step_of_a_practice_job_is_headed_practice(good: Played) -> None:
    heads = [text for text in good.talk.said if re.search(r"\b\d+ of \d+\b", text)]
    assert len(heads) > 50 and all(text.lstrip().startswith("PRACTICE") for text in heads)


def test_the_lesson_of_a_changed_answer_still_loads() -> None:
    assert lesson_with("overdose-recovered").slips["spray_off"].held_s == 10
