"""What a link costs: share of a core at ten questions a second, over the real library.

``python -m tests.live.test_cost`` prints the figures of ``MEASURED.md``.
"""

import time

import pytest
from steplatch.runner.live.adapter import CanAdapter
from steplatch.runner.live.connection import Connection, Need
from steplatch.runner.live.frames import Addressing
from steplatch.runner.live.link import Cause
from steplatch.runner.live.practice_link import PracticeVehicle

MOST_SHARE = 0.05
MOST_BUSY_SHARE = 0.08


def cost(seconds: float, *link_faults: str) -> tuple[float, float, int]:
    """Share of a core of this process, questions a second, samples, with a vehicle that answers
    six values in five frames."""
    with PracticeVehicle(link_faults=link_faults) as vehicle:
        vehicle.act("ignition", True)
        vehicle.act("start")
        begin = time.monotonic()
        connection = Connection(
            lambda: CanAdapter(vehicle.channel, Addressing.BITS_11),
            lambda: int((time.monotonic() - begin) * 1000),
        )
        while connection.link.cause is not Cause.ANSWERS:
            connection.messages.put(Need())
            connection.step()
            assert time.monotonic() - begin < 30
        connection.recorder.take_samples()
        start, used, asked = time.monotonic(), time.process_time(), connection.questions
        while time.monotonic() - start < seconds:
            connection.messages.put(Need())
            connection.step()
        took = time.monotonic() - start
        share = (time.process_time() - used) / took
        rate = (connection.questions - asked) / took
        samples = len(connection.recorder.take_samples())
        connection.close()
    return share, rate, samples


@pytest.mark.slow
@pytest.mark.parametrize(("faults", "most"), [((), MOST_SHARE), (("traffic",), MOST_BUSY_SHARE)])
def test_ten_questions_a_second_cost_little_of_a_core(faults: tuple[str, ...], most: float) -> None:
    share, rate, samples = cost(20.0, *faults)
    assert rate > 6, "the machine is too busy to ask: no measurement"
    assert samples > 300
    assert share < most


if __name__ == "__main__":
    for faults in ((), ("traffic",)):
        share, rate, samples = cost(15.0, *faults)
        what = " and ".join(faults) or "quiet bus"
        print(f"{what}: {100 * share:.1f} % of a core, {rate:.1f}/s, {samples} samples in 15 s")
