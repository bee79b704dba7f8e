"""Procedures that somebody spoiled: each is refused, at the step that lacks or says something."""

from collections.abc import Callable
from pathlib import Path

import pytest
from steplatch.runner.core.content import asked_anyway, ordered
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.input.findings import BadFile
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.safety.registers.hazards import HAZARDS
from steplatch.safety.registers.required import REQUIRED

from tests.safety.rules_against import AGAINST
from tests.step_text import in_step, lines_of, without_steps, written_out

Spoil = Callable[[str], str]


def gone(*steps: str) -> Spoil:
    return lambda text: without_steps(text, *steps)


def said(step: str, old: str, new: str) -> Spoil:
    return lambda text: in_step(text, step, old, new)


def moved(step: str, before: str) -> Spoil:
    """The step stands before another one now."""

    def spoil(text: str) -> str:
        first, after = lines_of(text, step)
        lines = text.split("\n")
        block, rest = lines[first:after], "\n".join([*lines[:first], *lines[after:]])
        at = lines_of(rest, before)[0]
        lines = rest.split("\n")
        return "\n".join([*lines[:at], *block, *lines[at:]])

    return spoil


def only(step: str, fact: str, state: str) -> Spoil:
    """The step is left out unless the fact is in the state."""

    def spoil(text: str) -> str:
        first, after = lines_of(text, step)
        lines = text.split("\n")
        pad = " " * (len(lines[first]) - len(lines[first].lstrip()) + 2)
        for n in range(first + 1, after):
            if lines[n].startswith(f"{pad}when:"):
                had = lines[n].split("when:", 1)[1].strip().removeprefix("[").removesuffix("]")
                lines[n] = f"{pad}when: [{had}, {{{fact}: {state}}}]"
                return "\n".join(lines)
        return "\n".join([*lines[:after], f"{pad}when: {{{fact}: {state}}}", *lines[after:]])

    return spoil


CLEAN, BELOW, MEASURE = "clean-above", "clean-below", "measure-only"
SPOILED: list[tuple[str, Spoil, str, str]] = [
    # file, what was done to it, the step that is told, what is said
    (CLEAN, gone("before-raised"), "triage-judge", "'read before raised' is missing"),
    (CLEAN, gone("before-zero-read"), "before-raised", "'read before zero' is missing"),
    (CLEAN, only("before-zero-read", "crew", "pair"), "before-raised", "crew is alone_adult"),
    (CLEAN, moved("before-zero-read", "found-gun-disable"), "before-raised", "not stand after"),
    (CLEAN, gone("after-zero"), "after-raised", "'read after zero' is missing"),
    (CLEAN, moved("after-raised", "hold-level"), "after-raised", "'hold dry' is left out"),
    (CLEAN, only("after-idle", "crew", "pair"), "verdict-judge", "crew is alone_adult"),
    (CLEAN, gone("line-test-blow"), "triage-judge", "'ask line_test' is missing"),
    (CLEAN, only("line-test-blow", "duty", "town"), "triage-judge", "duty is mixed"),
    (CLEAN, gone("warning"), "agree-clean", "'ask warning' is missing"),
    (CLEAN, said("warning", "triage: warn", "triage: go"), "agree-clean", "triage is warn"),
    (CLEAN, only("warning", "crew", "pair"), "agree-clean", "crew is alone_adult"),
    (CLEAN, moved("warning", "kit"), "agree-clean", "'ask warning' does not stand before"),
    (CLEAN, gone("alternatives"), "agree-clean", "'ask alternatives' is missing"),
    (CLEAN, moved("price", "agree-sign"), "agree-clean", "'ask price' does not stand before"),
    (CLEAN, moved("agree-clean", "alternatives"), "agree-clean", "'ask alternatives' does not"),
    (CLEAN, gone("agree-sign"), "off-spray", "'sign customer agreed' is missing"),
    (CLEAN, only("agree-sign", "crew", "pair"), "off-spray", "crew is alone_adult"),
    (CLEAN, gone("line-try"), "off-spray", "'act try_start' is left out"),
    (CLEAN, gone("reach"), "off-spray", "'look reach' is missing"),
    (CLEAN, gone("refit-hidden"), "off-spray", "'ask refit' is left out"),
    (CLEAN, gone("crank-access"), "off-spray", "'look bar on'"),
    (CLEAN, moved("crank-access", "off-gun-hands"), "off-spray", "'look bar on'"),
    (CLEAN, gone("check-fluid"), "off-spray", "'sign fluid_check' is missing"),
    (CLEAN, only("check-fluid", "tier", "extended"), "off-spray", "tier is"),
    (CLEAN, moved("check-fluid", "kit"), "check-fluid", "does not stand before this"),
    (CLEAN, moved("trigger", "off-spray"), "check-fluid", "'look trigger' does not stand before"),
    (CLEAN, gone("flash"), "check-fluid", "'look flash' is missing"),
    (CLEAN, gone("off-soak"), "off-spray", "'wait soak'"),
    (CLEAN, gone("off-gun"), "off-soak", "'act uncouple_gun' does not stand before"),
    (CLEAN, moved("off-couple", "off-soak"), "off-soak", "'act uncouple_gun' does not stand"),
    (CLEAN, only("off-gun", "tier", "extended"), "off-soak", "'act uncouple_gun' is left out"),
    (CLEAN, gone("off-turn-seen", "still-turn-seen"), "off-turn", "'sign hand_turn' is missing"),
    (CLEAN, gone("run-stop-start"), "run-spray", "'look stop_start' is missing"),
    (CLEAN, moved("run-stop-start", "run-start"), "run-spray", "'look stop_start' does not"),
    (CLEAN, gone("idle-clear"), "idle-hose", "'act clear_line' does not stand before"),
    (CLEAN, moved("stopped-hose", "stopped-clear"), "stopped-hose", "'act clear_line' is left out"),
    (CLEAN, gone("freeze-frame"), "clear", "'ask freeze_frame' is missing"),
    (CLEAN, moved("codes-stored", "codes-again"), "clear", "'ask codes_stored' does not stand"),
    (CLEAN, gone("codes-again"), "clear", "'ask codes_after' is missing"),
    (CLEAN, gone("driver"), "drive", "'look driver' is missing"),
    (CLEAN, gone("leaks"), "release", "'ask leaks_seen' is missing"),
    (CLEAN, gone("oil-after"), "release", "'look oil' does not stand before"),
    (CLEAN, moved("tools", "received"), "release", "'ask tools_counted' does not stand before"),
    (CLEAN, moved("release", "verdict-judge"), "release", "'judge verdict' does not stand before"),
    (CLEAN, gone("received"), "hand-over", "'sign customer received' is missing"),
    (BELOW, gone("warning"), "agree-clean", "'ask warning' is missing"),
    (MEASURE, gone("before-idle"), "triage-judge", "'read before idle' is missing"),
    (MEASURE, gone("release"), "hand-over", "'sign release_check' is left out"),
    # words that order what needs a permit
    (CLEAN, said("loads-off", "Switch", "Start the engine, switch"), "loads-off", "act start"),
    (CLEAN, said("contaminated", "Look for oil", "Rev it up, look for oil"), "contaminated",
     "act raise"),
    (CLEAN, said("off-cool", "Measure the bare", "Spray a little, measure the bare"), "off-cool",
     "order"),
    (CLEAN, said("before-ignition", "Switch the ignition on without starting",
                 "Switch the ignition on and start the engine"), "before-ignition", "act start"),
    (CLEAN, said("line-which", "Trace the hose", "Twist the hose off, trace the hose"),
     "line-which", "act take_hose_off"),
    (CLEAN, said("hold-rises", "answers:", "remedy: Crank it again.\n        answers:"),
     "hold-rises", "act start"),
    (CLEAN, said("off-soak", "ignition off", "ignition on"), "off-soak", "act ignition_on"),
    (CLEAN, said("loads-off", "Switch", "Stop the engine, switch"), "loads-off", "act stop_engine"),
    (CLEAN, said("hold-rises", "answers:", "remedy: Kill the engine.\n        answers:"),
     "hold-rises", "act stop_engine"),
    (CLEAN, said("run-burning", "No flag", "Switch the engine off, read again. No flag"),
     "run-burning", "act stop_engine"),
    (CLEAN, said("contaminated", "Look for oil", "Blow the line clear, look for oil"),
     "contaminated", "act clear_line"),
    (CLEAN, said("leaks", "Look at hose", "Refit the hose, look at hose"), "leaks",
     "act put_hose_on"),
    (CLEAN, said("price", "Type the price", "Fill the gun, type the price"), "price", "gun rate"),
    # questions that no answer holds up any more
    (CLEAN, said("drains-covered", "want: yes", "want: [yes, no]"), "drains-covered",
     "every answer"),
    (CLEAN, said("eyewash-here", "want: both", "want: [both, missing]"), "eyewash-here",
     "every answer"),
    (CLEAN, said("battery-supported", "want: yes", "want: [yes, no]"), "battery-supported",
     "every answer"),
    (CLEAN, said("others-away", "want: away", "want: [away, here]"), "others-away", "every answer"),
    (CLEAN, said("leaks", "want: dry", "want: [dry, wet]"), "leaks", "every answer"),
    (CLEAN, said("tools", "want: all", "want: [all, missing]"), "tools", "every answer"),
    ("recovery-overdose", said("overdose-cause", "rate_wrong]", "rate_wrong, not_found]"),
     "overdose-cause", "every answer"),
    (CLEAN, gone("off-level"), "off-spray", "'ask gun_level' is missing"),
    (CLEAN, moved("off-level", "restart-fumes"), "off-spray",
     "'ask gun_level' does not stand after"),
    (CLEAN, said("off-level", "want: as_counted", "want: [as_counted, more_gone]"), "off-level",
     "every answer"),
    # recoveries and cards
    ("card-fire", gone("everybody-out"), "", "'ask fire_counted' is missing"),
    ("card-fire", said("fire-out", "Wait until", "Drive it out, wait until"), "fire-out",
     "act road_test"),
    ("card-injury", said("rinse", "Rinse", "Start the engine, rinse"), "rinse", "act start"),
    ("recovery-stalled", gone("start-check"), "", "'sign start_check' is missing"),
    ("recovery-stalled", gone("open"), "", "'report cylinders_opened' is missing"),
    ("recovery-stalled", said("open", "[above, not_known]", "[above]"), "",
     "is left out here when fluid_count is not_known"),
    ("recovery-overdose", gone("oil"), "", "'look oil' is missing"),
    ("recovery-overdose", gone("turn-seen"), "turn", "'sign hand_turn' is missing"),
    ("recovery-overdose", gone("gun-off"), "soak", "'act uncouple_gun' is missing"),
    ("recovery-unexpected", gone("soak"), "turn", "'wait soak' is missing"),
    ("card-fire", gone("fire-call"), "", "'ask fire_called' is missing"),
    ("card-fire", said("fire-out", "Wait until", "Reach in, wait until"), "fire-out", "hands_in"),
    ("card-injury", gone("rinse"), "", "'ask injury_rinse' is missing"),
    ("card-injury", moved("what", "rinse"), "what", "'ask injury_rinse' does not stand before"),
    ("card-uneven-crank", gone("licensed"), "", "'ask cylinder_notes' is missing"),
    ("card-hard-turn", said("bar", "Take socket", "Turn the crank back, take socket"), "bar",
     "act hand_turn"),
    ("abandon", gone("notice"), "ended", "'sign customer received' is missing"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "spoil", "step", "told"),
    SPOILED,
    ids=[f"{n}-{row[0]}-{row[2]}" for n, row in enumerate(SPOILED)],
)
def test_a_spoiled_procedure_is_refused_at_its_step(
    tmp_path: Path, name: str, spoil: Spoil, step: str, told: str
) -> None:
    text = spoil(written_out(PROCEDURES / f"{name}.yaml"))
    path = tmp_path / "spoiled.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile) as bad:
        load_procedure(path)
    found = [f for f in bad.value.findings if told in f.problem]
    assert found, [str(f) for f in bad.value.findings]
    if step:
        first, after = lines_of(text, step)
        assert any(first < f.line <= after for f in found), [str(f) for f in found]
    else:
        assert any("answers:" in text.split("\n")[f.line - 1] for f in found)


def test_what_is_missing_is_told_with_its_reason(tmp_path: Path) -> None:
    path = tmp_path / "spoiled.yaml"
    path.write_text(without_steps(written_out(), "price"), encoding="utf-8")
    with pytest.raises(BadFile) as bad:
        load_procedure(path)
    (found,) = bad.value.findings
    assert "told before the yes" in found.remedy


def test_every_rule_gives_a_reason_and_a_shipped_procedure_has_what_it_is_about() -> None:
    done: set[str] = set()
    for path in PROCEDURES.glob("*.yaml"):
        if path.stem != "shared-steps":
            procedure = load_procedure(path)[0]
            done |= {f"answers {trip.value}" for trip in procedure.answers}
            done |= {doing for step in procedure.steps() for doing in step.doings}
            done |= {f"{s.doings[0]} {w}" for s in procedure.steps() if s.looks_at for w in s.want}
    assert len({rule.id for rule in REQUIRED}) == len(REQUIRED)
    for rule in REQUIRED:
        assert len(rule.reason.split()) > 4, rule.id
        assert {*rule.wherever} & done, rule.id
        assert rule.place == "never" or {*rule.needs} <= done, rule.id


@pytest.mark.parametrize(
    "words",
    [
        "Do not crank it.",
        "Nobody cranks the engine before that.",
        "It stalled: never start the engine again.",
        "Wait, ignition off, so that fluid can settle.",
        "Before you start the engine, look again.",
    ],
)
def test_words_that_forbid_or_put_off_an_act_order_nothing(words: str) -> None:
    assert ordered(words, ("ask notes",)) == ""


def test_what_a_file_forgets_and_the_program_asks_by_itself_is_told(tmp_path: Path) -> None:
    assert asked_anyway(load_procedure(PROCEDURES / "clean-above.yaml")[0]) == []
    path = tmp_path / "mine.yaml"
    path.write_text(without_steps(written_out(), "coating", "fuel"), encoding="utf-8")
    told = asked_anyway(load_procedure(path)[0])
    assert len(told) == 2
    assert any("'coating'" in one and "fluid-coating" in one for one in told)
    assert any("'fuel'" in one for one in told)


def test_every_rule_stands_against_a_hazard_or_for_the_customers_yes() -> None:
    hazards = {hazard.id for hazard in HAZARDS}
    assert AGAINST.keys() <= {rule.id for rule in REQUIRED} and {*AGAINST.values()} <= hazards
    assert {rule.id for rule in REQUIRED} - AGAINST.keys() == {
        *("found-before-yes", "told-before-yes", "warned-before-yes", "yes-signed"),
        "judged-first",
    }
