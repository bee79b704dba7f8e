"""Read-only by construction: what can be asked, and that nothing else can."""

import ast
from itertools import product
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.runner.live import requests
from steplatch.runner.live.frames import Addressing
from steplatch.runner.live.requests import (
    SERVICES,
    Ask,
    Codes,
    CodesByStatus,
    CurrentData,
    DataByIdentifier,
    FrozenData,
    MonitorResults,
    ObdCodes,
    Outgoing,
    Request,
    VehicleInformation,
    can_frame,
    frame_of,
    question,
)
from steplatch.runner.live.transport import FlowControl

from tests.each import each

LIVE = Path(requests.__file__).parent

READING = {0x01, 0x02, 0x03, 0x06, 0x07, 0x09, 0x0A, 0x19, 0x22}
"""The services that only read, by SAE J1979 and ISO 14229-1; written here a second time."""

ANY_REQUEST = st.one_of(
    st.builds(CurrentData, st.lists(st.integers(0, 255), min_size=1, max_size=6).map(tuple)),
    st.builds(FrozenData, st.integers(0, 255)),
    st.sampled_from(Codes),
    st.builds(MonitorResults, st.integers(0, 255)),
    st.sampled_from(VehicleInformation),
    st.builds(DataByIdentifier, st.lists(st.integers(0, 65535), min_size=1, max_size=3).map(tuple)),
    st.builds(CodesByStatus, st.integers(0, 255)),
    st.sampled_from(ObdCodes),
)


def test_each_question_is_the_bytes_of_the_standard() -> None:
    asked: list[tuple[Request, str]] = [
        (CurrentData((0x0C,)), "010C"),
        (CurrentData((0x0C, 0x7A, 0x42, 0x10, 0x78, 0x8B)), "010C7A4210788B"),
        (FrozenData(0x02), "020200"),
        (Codes.STORED, "03"),
        (Codes.PENDING, "07"),
        (Codes.PERMANENT, "0A"),
        (MonitorResults(0xB2), "06B2"),
        (VehicleInformation.VIN, "0902"),
        (DataByIdentifier((0xF40C,)), "22F40C"),
        (DataByIdentifier((0xF40C, 0xF47A, 0xF190)), "22F40CF47AF190"),
        (CodesByStatus(0xFF), "1902FF"),
        (ObdCodes.CONFIRMED, "19423308FF"),
        (ObdCodes.PENDING, "19423304FF"),
        (ObdCodes.PERMANENT, "195533"),
    ]
    for request, text in asked:
        assert frame_of(request).payload == bytes.fromhex(text)
    assert {type(request) for request, _ in asked} == set(get_args(Request))


@given(ANY_REQUEST)
def test_every_question_fits_one_frame_and_reads(request: Request) -> None:
    payload = frame_of(request).payload
    assert payload[0] in READING
    assert len(payload) <= 7
    assert question(payload) == request


def test_of_all_two_byte_services_only_those_that_read_can_be_expressed() -> None:
    """65 536 beginnings, each as it is, filled up to every length that fits a frame, and with
    what follows the emission-related questions of service 19."""
    expressible = set()
    rests = [bytes(n) for n in range(6)] + [b"\x33", b"\x33\x08\xff", b"\x33\x04\xff"]
    for service, second in product(range(256), repeat=2):
        for rest in rests:
            payload = bytes((service, second)) + rest
            asked = question(payload)
            if asked is not None:
                assert frame_of(asked).payload == payload
                expressible.add((service, second))
    assert {service for service, _ in expressible} == READING - {0x03, 0x07, 0x0A}
    assert {second for service, second in expressible if service == 0x19} == {0x02, 0x42, 0x55}
    assert {second for service, second in expressible if service == 0x09} == {0, 2, 4, 10}
    assert [s for s in range(256) if question(bytes((s,)))] == [0x03, 0x07, 0x0A]


@each("service", sorted(set(range(256)) - READING))
def test_no_other_service_can_be_asked_at_any_length(service: int) -> None:
    for length in range(8):
        assert question(bytes((service,)) + bytes(length)) is None


def test_the_set_of_services_is_the_one_written_down_twice() -> None:
    assert SERVICES == READING


@given(st.binary(max_size=64))
def test_no_bytes_beyond_a_frame_are_a_question(payload: bytes) -> None:
    asked = question(payload)
    assert asked is None or len(payload) <= 7


@pytest.mark.parametrize(
    "make",
    [
        lambda: CurrentData(()),
        lambda: CurrentData((1,) * 7),
        lambda: CurrentData((256,)),
        lambda: DataByIdentifier(()),
        lambda: DataByIdentifier((1,) * 4),
        lambda: DataByIdentifier((0x10000,)),
        lambda: FrozenData(-1),
        lambda: MonitorResults(256),
        lambda: CodesByStatus(256),
    ],
)
def test_a_question_that_is_none_cannot_be_built(make: object) -> None:
    with pytest.raises(ValueError, match="identifier"):
        make()  # type: ignore[operator]


def test_a_type_that_pretends_to_be_a_question_is_not_sent() -> None:
    class Clearing(CurrentData):
        """A subclass that would smuggle in another meaning."""

    bent = CurrentData((0x0C,))
    object.__setattr__(bent, "pids", tuple(range(20)))
    for wrong in (Clearing((0x0C,)), bent, b"\x04", 4, None):
        with pytest.raises(TypeError):
            can_frame(Ask(wrong), Addressing.BITS_11)  # type: ignore[arg-type]
    for wrong in (b"\x04", CurrentData((0x0C,)), 4, None):
        with pytest.raises(TypeError):
            can_frame(wrong, Addressing.BITS_11)  # type: ignore[arg-type]


def test_only_questions_and_flow_control_can_leave() -> None:
    assert set(get_args(Outgoing)) == {Ask, FlowControl}


def test_only_one_place_of_the_package_hands_frames_to_an_adapter() -> None:
    """A call of ``send`` on a bus, or a CAN message built, stands in the adapter alone."""
    building = []
    for path in sorted(LIVE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                owner = node.func.value
                if node.func.attr == "Message" and getattr(owner, "id", "") == "can":
                    building.append(path.name)
    assert building in ([], ["adapter.py"])
