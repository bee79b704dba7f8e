"""When an alarm is due, once for each loss that was told, and when it falls quiet."""

from typing import Any

import pytest
from steplatch.safety.verify.observers import UNKNOWN, PlantEvent

from tests.safety.told import ALARMS, told


def test_an_alarm_follows_its_observer_and_the_engine() -> None:
    alarm = ALARMS["alarm-secured"]
    assert alarm.facts == ("secured", "engine", "trip unattended")
    assert {"started", "stalled", "road_ended"} <= alarm.hears
    assert alarm.sees == {"secured", "road", "engine"}
    assert set(ALARMS) == {"alarm-controls", "alarm-secured", "alarm-fumes"}
    assert {name: found.good for name, found in ALARMS.items()} == {
        "alarm-controls": {"other", "self"},
        "alarm-secured": {"yes"},
        "alarm-fumes": {"extraction", "outdoors"},
    }


RUNNING: tuple[PlantEvent, ...] = (("did", "started", 0), ("seen", "secured", "yes"))
LOST: PlantEvent = ("seen", "secured", "part")


@pytest.mark.parametrize(
    ("events", "ok"),
    [
        ((*RUNNING, LOST, ("over",), ("over",)), True),
        ((*RUNNING, LOST, ("over",), RUNNING[1], LOST, ("over",)), False),
        ((*RUNNING, LOST, ("tripped", "unattended"), ("over",), ("over",), RUNNING[1], LOST,
          ("over",)), True),
        ((*RUNNING, ("untold",), LOST, ("over",)), True),
        ((*RUNNING, ("untold",), ("over",), ("did", "started", 0), RUNNING[1], LOST, ("over",)),
         False),
        ((("did", "started", 0), ("did", "raised", 0), RUNNING[1], LOST, ("over",)), False),
    ],
)  # fmt: skip
def test_an_alarm_is_due_once_for_each_loss_that_was_told(
    events: tuple[PlantEvent, ...], ok: bool
) -> None:
    assert (told(ALARMS["alarm-secured"], *events) is None) == ok


def test_an_alarm_with_a_crew_forgets_who_is_at_the_controls_and_keeps_the_crew() -> None:
    alarm = ALARMS["alarm-controls"]
    seen: tuple[PlantEvent, ...] = (
        ("seen", "crew", "alone_adult"), ("seen", "controls", "self"), ("did", "started", 0),
    )  # fmt: skip
    now: Any = alarm.start()
    for event in seen:
        now, _ = alarm.step(now, event)
    assert now[0] == ("alone_adult", "self")
    gone, _ = alarm.step(now, ("permitted", "road_test"))
    assert gone == (("alone_adult", UNKNOWN), UNKNOWN, "quiet", False)
    told_nothing, _ = alarm.step(now, ("untold",))
    assert told_nothing[3] is True
    later, said = alarm.step(told_nothing, ("over",))
    assert (later[0], later[3], said) == (("alone_adult", UNKNOWN), False, None)


def test_an_alarm_about_one_thing_forgets_it_as_the_road_test_is_permitted() -> None:
    alarm = ALARMS["alarm-secured"]
    now = ("yes", "idling", "quiet", False)
    assert alarm.step(now, ("permitted", "road_test")) == ((UNKNOWN, UNKNOWN, "quiet", False), None)


def test_an_alarm_that_is_due_falls_quiet_again_once_it_was_asked_for() -> None:
    alarm = ALARMS["alarm-secured"]
    now: Any = alarm.start()
    for event in (*RUNNING, LOST):
        now, _ = alarm.step(now, event)
    assert now == ("part", "idling", "due", False)
    over, said = alarm.step(now, ("over",))
    assert over == ("part", "idling", "quiet", False)
    assert said == "alarm-secured: lost while running, and no alarm"
    raised, _ = alarm.step(now, ("tripped", "unattended"))
    assert raised[2] == "raised"
    assert alarm.step(raised, ("over",)) == ((*raised[:3], False), None)
