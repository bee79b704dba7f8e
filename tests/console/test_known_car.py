"""What a car's last job and the workshop's last work spare typing, and what they never do."""

from dataclasses import replace

import pytest
from steplatch.runner.core.steps import AskStep, LookStep
from steplatch.runner.jobs.facts import plate
from steplatch.runner.jobs.last_time import LastTime, of_car, of_workshop
from steplatch.runner.record import DataFolder
from steplatch.runner.screen.recall import CAR, LOOKED_UP, WORKSHOP, Recall
from steplatch.runner.screen.shorthand import with_currency
from steplatch.runner.screen.steps import choices_of
from steplatch.safety.bay import FACTS

from tests.played import Played


@pytest.fixture(scope="module")
def data(good: Played) -> DataFolder:
    """The data folder that a good clean was played in."""
    return DataFolder(good.folder.path.parent.parent, "a test")


@pytest.fixture
def recall(data: DataFolder) -> Recall:
    """What a second practice job of the same car can ask."""
    found = Recall(data, practice=True, job_id="another")
    found.arrives("example-1")
    return found


def _asks(good: Played) -> dict[str, AskStep]:
    steps = good.session.plan.main.steps()
    return {step.name: step for step in steps if isinstance(step, AskStep)}


def test_a_car_is_known_by_its_registration_however_it_is_typed(data: DataFolder) -> None:
    assert plate("ex am-ple 1") == "EXAMPLE1"
    for typed in ("EXAMPLE 1", "example1", "Ex-ample 1"):
        assert of_car(data, typed, practice=True) is not None
    assert of_car(data, "EXAMPLE 2", practice=True) is None
    assert of_car(data, "", practice=True) is None


def test_practice_knows_of_practice_alone_and_no_job_knows_of_itself(
    data: DataFolder, good: Played
) -> None:
    assert of_car(data, "EXAMPLE 1", practice=False) is None
    assert of_workshop(data, practice=False) is None
    assert of_car(data, "EXAMPLE 1", practice=True, but=good.folder.id) is None


def test_papers_and_history_are_offered_with_their_day(recall: Recall, good: Played) -> None:
    asks = _asks(good)
    said, day = recall.offered(asks["contact"]) or ("", "")
    assert said.startswith("by telephone") and day == good.folder.id[:10]
    assert recall.offered(asks["price"]) is not None
    stranger = Recall(recall.data, practice=True, job_id="another")
    assert stranger.offered(asks["contact"]) is None, "nobody has come yet"
    assert stranger.offered(asks["price"]) is not None, "the workshop's last work"


def test_what_is_looked_at_today_is_never_offered(recall: Recall, good: Played) -> None:
    never = {"complaint", "codes_stored", "codes_pending", "freeze_frame", "tools_counted"}
    never |= {"leaks_seen", "oil_after", "codes_after", "line_test", "core_condition", "ash_state"}
    assert not never & (CAR | WORKSHOP)
    asks = _asks(good)
    for name in never & set(asks):
        assert recall.offered(asks[name]) is None, name
    assert set(FACTS) >= LOOKED_UP
    assert not LOOKED_UP & {"oil", "hose", "gun", "foul", "hands", "fumes", "secured", "key"}


def test_a_look_of_last_time_is_asked_again_with_what_it_was_beside_it(
    recall: Recall, good: Played
) -> None:
    fuel = good.session.plan.main.step("fuel")
    assert isinstance(fuel, LookStep)
    asked = choices_of(fuel.asks())
    marked = recall.marked(fuel, asked)
    assert [choice.value for choice in marked] == [choice.value for choice in asked]
    changed = [choice for choice in marked if choice not in asked]
    assert len(changed) == 1 and changed[0].value == "diesel" and "(as on " in changed[0].say
    oil = good.session.plan.main.step("oil-level")
    assert recall.marked(oil, asked) == asked


def test_an_answer_that_was_erased_is_not_known_any_more(recall: Recall, good: Played) -> None:
    car = recall.car
    assert isinstance(car, LastTime)
    recall.car = replace(car, personal={})
    assert recall.offered(_asks(good)["contact"]) is None


@pytest.mark.parametrize(
    ("typed", "currency", "kept"),
    [
        ("180", "EUR", "180 EUR"),
        ("1 180.50", "EUR", "1 180.50 EUR"),
        ("180 incl. tax", "EUR", "180 incl. tax"),
        ("180", "", "180"),
        ("told, as on the order", "EUR", "told, as on the order"),
    ],
)
def test_a_bare_price_gets_the_workshops_currency(typed: str, currency: str, kept: str) -> None:
    assert with_currency(typed, currency) == kept
