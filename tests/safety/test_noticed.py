"""Every false answer that suffices alone has its row: what shows it, what the car says, what is
left."""

import pytest
from steplatch.safety.measured import RESTS_ON
from steplatch.safety.registers.trusted_reports import CAUGHT_BY_A_LINK, TRUSTED_REPORTS

from tests.safety.noticed import (
    NOTICED,
    FalseAnswer,
    channels_of,
    false_answers,
    kind_of,
)
from tests.safety.second_questions import SECOND_QUESTIONS

ROWS = false_answers()


def test_each_distinct_false_answer_has_one_row_and_the_ten_worst_come_first() -> None:
    names = [row.name for row in ROWS]
    assert len(set(names)) == len(names)
    assert set(names) == {said for told in TRUSTED_REPORTS.values() for said in told}
    assert names[:10] == [second.false_report for second in SECOND_QUESTIONS]
    assert sum(len(row.believed) for row in ROWS) == sum(map(len, TRUSTED_REPORTS.values()))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_each_row_says_what_shows_it_and_what_is_left(row: FalseAnswer) -> None:
    assert len(row.noticed.split()) >= 4 and len(row.left.split()) >= 4
    assert set(row.channels) <= set(RESTS_ON)


def test_no_kind_is_written_that_no_false_answer_is_about() -> None:
    assert set(NOTICED) == {kind_of(row.name) for row in ROWS}


def test_what_the_search_with_a_link_caught_is_among_what_the_car_could_contradict() -> None:
    for told in CAUGHT_BY_A_LINK.values():
        assert all(channels_of(said) for said in told)


@pytest.mark.parametrize(
    ("false_report", "channels"),
    [
        ("look: engine idling", ("speed_rpm",)),
        ("look: secured yes", ("road_km_h",)),
        ("look: burning no", ("burning",)),
        ("report: started", ("speed_rpm",)),
        ("silence: stalled", ("speed_rpm",)),
        ("silence: ran_away", ("burning", "speed_rpm")),
        ("look: hose on", ()),
        ("report: drained", ()),
        ("volume: spray_ended", ()),
    ],
)
def test_what_the_car_could_say_follows_from_its_channels(
    false_report: str, channels: tuple[str, ...]
) -> None:
    assert channels_of(false_report) == channels
