"""ISO 15765-2: the receiver against the library can-isotp as ECU, and the rules one by one."""

import random
from collections import deque

import isotp
import pytest
from steplatch.runner.live.frames import Addressing, CanFrame
from steplatch.runner.live.requests import can_frame
from steplatch.runner.live.transport import (
    CONSECUTIVE_MS,
    Begun,
    Broken,
    Fault,
    FlowControl,
    Message,
    Receiver,
    SingleFrame,
)

MAX_MESSAGE = 4095
ENGINE = 0x7E8
GEARBOX = 0x7E9
LONG = bytes(range(20))


def framed(payload: bytes, ecu: int = ENGINE) -> list[CanFrame]:
    """A message of more than seven bytes as an ECU cuts it, written down from the standard."""
    head = bytes((0x10 | len(payload) >> 8, len(payload) & 0xFF))
    frames = [CanFrame(ecu, head + payload[:6])]
    for n, at in enumerate(range(6, len(payload), 7), start=1):
        frames.append(CanFrame(ecu, bytes((0x20 | n % 16,)) + payload[at : at + 7]))
    return frames


class OtherSide:
    """An ECU made of can-isotp, without a bus: frames go through two queues."""

    def __init__(self, addressing: Addressing, padding: int | None, ecu: int) -> None:
        self.out: deque[isotp.CanMessage] = deque()
        self.into: deque[isotp.CanMessage] = deque()
        mode = (
            isotp.AddressingMode.Normal_29bits
            if addressing.extended
            else isotp.AddressingMode.Normal_11bits
        )
        self.layer = isotp.TransportLayerLogic(
            rxfn=lambda timeout: self.into.popleft() if self.into else None,
            txfn=self.out.append,
            address=isotp.Address(mode, rxid=addressing.to_one(ecu), txid=ecu),
            params={"tx_padding": padding},
        )

    def send(self, payload: bytes, receiver: Receiver, addressing: Addressing) -> list[Message]:
        """The messages that the receiver makes of ``payload``."""
        self.layer.send(payload)
        got: list[Message] = []
        for _ in range(3 * len(payload) + 10):
            self.layer.process()
            while self.out:
                sent = self.out.popleft()
                frame = CanFrame(sent.arbitration_id, bytes(sent.data), addressing.extended)
                for item in receiver.take(frame, 0):
                    if isinstance(item, FlowControl):
                        back = can_frame(item, addressing)
                        self.into.append(
                            isotp.CanMessage(
                                arbitration_id=back.identifier,
                                data=back.data,
                                extended_id=back.extended,
                            )
                        )
                    elif isinstance(item, Message):
                        got.append(item)
                    else:
                        assert isinstance(item, Begun), item
            if got:
                return got
        return got


@pytest.mark.parametrize("addressing", list(Addressing))
@pytest.mark.parametrize("padding", [None, 0xCC])
def test_random_messages_agree_with_can_isotp_as_the_other_side(
    addressing: Addressing, padding: int | None
) -> None:
    """Fifty a case, two hundred together, 1 to 4095 bytes, both ends of the range among them."""
    seed = 21
    rng = random.Random(f"{seed} {addressing} {padding}")
    ecu = 0x18DAF110 if addressing.extended else ENGINE
    other = OtherSide(addressing, padding, ecu)
    receiver = Receiver(addressing)
    for length in [1, 7, 8, MAX_MESSAGE, *(rng.randint(1, MAX_MESSAGE) for _ in range(46))]:
        payload = rng.randbytes(length)
        assert other.send(payload, receiver, addressing) == [Message(ecu, payload)], length


def test_can_isotp_reads_every_single_frame_that_can_be_sent() -> None:
    for length in range(1, 8):
        other = OtherSide(Addressing.BITS_11, None, ENGINE)
        payload = bytes(range(length))
        data = SingleFrame(payload).data()
        assert len(data) == 8
        other.into.append(isotp.CanMessage(arbitration_id=0x7E0, data=data))
        other.layer.process()
        assert other.layer.recv() == payload


@pytest.mark.parametrize("length", [0, 8, 9, 4095])
def test_the_sender_cannot_express_more_than_one_frame(length: int) -> None:
    with pytest.raises(ValueError, match="single frame"):
        SingleFrame(bytes(length))


def test_flow_control_goes_to_the_ecu_that_speaks_and_never_to_all() -> None:
    frame = framed(LONG, GEARBOX)[0]
    items = list(Receiver(Addressing.BITS_11).take(frame, 0))
    assert items == [Begun(GEARBOX), FlowControl(GEARBOX)]
    sent = can_frame(FlowControl(GEARBOX), Addressing.BITS_11)
    assert (sent.identifier, sent.data[:3]) == (0x7E1, bytes((0x30, 0, 0)))
    assert can_frame(FlowControl(0x18DAF110), Addressing.BITS_29).identifier == 0x18DA10F1


def test_eight_ecus_may_answer_at_once_frame_by_frame() -> None:
    receiver = Receiver(Addressing.BITS_11)
    ecus = range(0x7E8, 0x7F0)
    payloads = {ecu: bytes((ecu & 0xFF,)) * (20 + ecu % 8) for ecu in ecus}
    queues = {ecu: deque(framed(payloads[ecu], ecu)) for ecu in ecus}
    got: dict[int, bytes] = {}
    while any(queues.values()):
        for queue in queues.values():
            if queue:
                for item in receiver.take(queue.popleft(), 0):
                    if isinstance(item, Message):
                        got[item.ecu] = item.payload
    assert got == payloads


def take_all(receiver: Receiver, frames: list[CanFrame], at_ms: int = 0) -> list[object]:
    kept = []
    for frame in frames:
        kept += [i for i in receiver.take(frame, at_ms) if isinstance(i, Message | Broken)]
    return kept


def test_a_lost_frame_breaks_the_message_and_the_next_one_comes_through() -> None:
    receiver = Receiver(Addressing.BITS_11)
    frames = framed(LONG)
    lost = [frames[0], frames[2]]
    assert take_all(receiver, lost) == [Broken(ENGINE, Fault.OUT_OF_ORDER)]
    assert take_all(receiver, frames) == [Message(ENGINE, LONG)]


def test_a_message_that_stops_half_way_is_given_up_after_a_second() -> None:
    receiver = Receiver(Addressing.BITS_11)
    take_all(receiver, framed(LONG)[:1], at_ms=0)
    assert receiver.expire(CONSECUTIVE_MS) == []
    assert receiver.expire(CONSECUTIVE_MS + 1) == [Broken(ENGINE, Fault.LATE)]
    assert not receiver.waits_for(ENGINE)


def test_a_new_message_ends_the_one_under_way() -> None:
    receiver = Receiver(Addressing.BITS_11)
    take_all(receiver, framed(LONG)[:2])
    single = CanFrame(ENGINE, bytes((2, 0x41, 0x00)))
    assert take_all(receiver, [single]) == [
        Broken(ENGINE, Fault.GIVEN_UP),
        Message(ENGINE, b"\x41\x00"),
    ]
    take_all(receiver, framed(LONG)[:2])
    assert take_all(receiver, framed(LONG)) == [
        Broken(ENGINE, Fault.GIVEN_UP),
        Message(ENGINE, LONG),
    ]


def test_a_frame_cut_short_is_a_fault_and_never_filled_up() -> None:
    receiver = Receiver(Addressing.BITS_11)
    assert take_all(receiver, [CanFrame(ENGINE, bytes((4, 0x41, 0x0C, 0x0A)))]) == [
        Broken(ENGINE, Fault.CUT_SHORT)
    ]
    frames = framed(LONG)
    cut = CanFrame(ENGINE, frames[1].data[:5])
    assert take_all(receiver, [frames[0], cut]) == [Broken(ENGINE, Fault.CUT_SHORT)]


def test_an_unpadded_answer_of_three_bytes_is_taken() -> None:
    receiver = Receiver(Addressing.BITS_11)
    frame = CanFrame(ENGINE, bytes((2, 0x43, 0x00)))
    assert take_all(receiver, [frame]) == [Message(ENGINE, b"\x43\x00")]


def test_more_than_4095_bytes_are_refused_in_words_the_ecu_understands() -> None:
    receiver = Receiver(Addressing.BITS_11)
    frame = CanFrame(ENGINE, bytes((0x10, 0, 0, 0, 0x20, 0, 1, 2)))
    items = list(receiver.take(frame, 0))
    assert items == [FlowControl(ENGINE, too_long=True), Broken(ENGINE, Fault.TOO_LONG)]
    assert can_frame(FlowControl(ENGINE, too_long=True), Addressing.BITS_11).data[0] == 0x32


@pytest.mark.parametrize(
    "frame",
    [
        CanFrame(0x123, bytes((2, 0x41, 0x00))),
        CanFrame(0x7DF, bytes((2, 0x01, 0x00))),
        CanFrame(0x18DAF110, bytes((2, 0x41, 0x00)), extended=True),
        CanFrame(ENGINE, b""),
        CanFrame(ENGINE, bytes((0x00, 1, 2))),
        CanFrame(ENGINE, bytes((0x0F, 1, 2, 3, 4, 5, 6, 7))),
        CanFrame(ENGINE, bytes((0x10, 5, 1, 2, 3, 4, 5, 6))),
        CanFrame(ENGINE, bytes((0x10, 20, 1, 2))),
        CanFrame(ENGINE, bytes((0x21, 1, 2, 3))),
        CanFrame(ENGINE, bytes((0x30, 0, 0))),
        CanFrame(ENGINE, bytes((0x40, 0, 0))),
    ],
)
def test_what_is_no_answer_is_left_alone(frame: CanFrame) -> None:
    assert list(Receiver(Addressing.BITS_11).take(frame, 0)) == []


def test_random_frames_never_raise_and_never_hold_more_than_eight() -> None:
    rng = random.Random(15765)
    receiver = Receiver(Addressing.BITS_11)
    for at in range(20_000):
        data = rng.randbytes(rng.randint(0, 8))
        if data and rng.random() < 0.5:
            data = bytes((rng.choice((0x10, 0x21, 0x22, 0x03)),)) + data[1:]
        for item in receiver.take(CanFrame(rng.randrange(0x7E6, 0x7F2), data), at):
            if isinstance(item, Message):
                assert 1 <= len(item.payload) <= MAX_MESSAGE
    assert sum(receiver.waits_for(e) for e in range(0x7E8, 0x7F0)) <= 8
