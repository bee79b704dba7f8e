"""The table of identifiers against published examples, and the decoding of whole answers."""

import contextlib
import random
from fractions import Fraction

import pytest
import udsoncan
from steplatch.runner.live.answers import (
    Code,
    Refusal,
    Refused,
    WrongLength,
    code_text,
    codes_of,
    refused,
    supported,
    texts_of,
    values_of,
    vin_of,
)
from steplatch.runner.live.table import Quality, Value, _exact, decode, length_of, table, units

from tests.each import each

CHECKS = [
    (pid, channel, check["raw"], said)
    for pid, identifier in table().items()
    for check in identifier.checks
    for channel, said in check.items()
    if channel not in ("raw", "from")
]


@each(("pid", "channel", "raw", "said"), CHECKS)
def test_each_check_value_decodes_exactly(pid: int, channel: str, raw: str, said: str) -> None:
    data = bytes.fromhex(raw)
    shown = {value.channel: value for value in decode(pid, data)}
    if said == "none":
        assert channel not in shown
        return
    digits = len(said.partition(".")[2])
    exact = _exact(next(f for f in table()[pid].fields if f.channel == channel), data, {})
    assert round(exact * 10**digits) == Fraction(said) * 10**digits
    assert shown[channel].milli == round(exact * 1000)


def test_every_identifier_has_a_source_a_check_and_a_range_that_its_bytes_reach() -> None:
    for pid, identifier in table().items():
        assert identifier.source, pid
        checked = {name for check in identifier.checks for name in check}
        for check in identifier.checks:
            assert check["from"], pid
        for field in identifier.fields:
            assert field.channel in checked, field.channel
            span = field.length * 8
            low = -(1 << span - 1) if field.signed else 0
            high = (1 << span - 1) - 1 if field.signed else (1 << span) - 1
            if field.mask is not None:
                high = field.mask // (field.mask & -field.mask)
            if field.full_scale is None:
                assert low * field.scale + field.add == field.low, field.channel
                assert high * field.scale + field.add == field.high, field.channel
    assert len(units()) > 50


def test_a_value_beyond_what_is_likely_is_shown_and_not_good() -> None:
    for raw in ("FFFF", "F000"):
        (value,) = decode(0x0C, bytes.fromhex(raw))
        assert value.quality is Quality.OUT_OF_RANGE
    assert decode(0x05, b"\x00") == [Value("coolant_degc", -40_000, Quality.OUT_OF_RANGE)]
    assert decode(0x78, bytes.fromhex("010000") + bytes(6))[0].quality is Quality.OUT_OF_RANGE
    assert decode(0x0C, bytes.fromhex("0CD0")) == [Value("speed_rpm", 820_000, Quality.GOOD)]


def test_the_vehicle_may_set_the_scale_of_manifold_pressure_and_air() -> None:
    """4F byte D x 10 kPa over 255, 50 byte A x 10 g/s over 65535 (SAE J1699-3 test source)."""
    assert decode(0x0B, b"\x80", {0x4F: bytes((0, 0, 0, 51))})[0].milli == 256_000
    assert decode(0x0B, b"\x80", {0x4F: bytes(4)})[0].milli == 128_000
    assert decode(0x10, b"\xff\xff", {0x50: bytes((60, 0, 0, 0))})[0].milli == 600_000
    assert decode(0x10, b"\x04\x60", {})[0].milli == 11_200


def test_a_wrong_number_of_bytes_is_refused() -> None:
    for raw in (b"", b"\x0a", b"\x0a\x6b\x00"):
        with pytest.raises(ValueError, match="belong"):
            decode(0x0C, raw)


def test_one_decoder_serves_service_01_and_service_22() -> None:
    asked = (0x0C, 0x42, 0x7A)
    narrow = bytes.fromhex("41 0C0CD0 423728 7A0100E700000000")
    wide = bytes.fromhex("62 F40C0CD0 F4423728 F47A0100E700000000")
    assert values_of(narrow, asked) == values_of(wide, asked)
    got = {v.channel: v.milli for p, raw in values_of(wide, asked).items() for v in decode(p, raw)}
    assert got == {"speed_rpm": 820_000, "module_v": 14_120, "delta_pa": 2_310_000}


def test_the_order_of_the_answer_is_free_and_what_is_lacking_is_left_out() -> None:
    got = values_of(bytes.fromhex("41 423728 0C0CD0"), (0x0C, 0x10, 0x42))
    assert list(got) == [0x42, 0x0C]


@pytest.mark.parametrize(
    "answer",
    [
        "41",
        "41 0C0C",
        "41 0C0CD0 42",
        "41 0C0CD0 4237",
        "41 0C0CD0 0C0CD0",
        "41 0D23",
        "41 0CD0",
        "62 F40C0C",
        "62 F50C0CD0",
        "62 F4",
        "43 00",
    ],
)
def test_an_answer_that_does_not_add_up_is_dropped_as_a_whole(answer: str) -> None:
    with pytest.raises(WrongLength):
        values_of(bytes.fromhex(answer), (0x0C, 0x42))


def test_random_answers_raise_nothing_else() -> None:
    rng = random.Random(7)
    for _ in range(20_000):
        payload = bytes((rng.choice((0x41, 0x62, 0x43, 0x59, 0x49)),)) + rng.randbytes(
            rng.randint(0, 20)
        )
        for read in (lambda p: values_of(p, range(256)), codes_of, texts_of, vin_of, refused):
            with contextlib.suppress(WrongLength):
                read(payload)  # type: ignore[operator]


@pytest.mark.parametrize(
    ("base", "raw", "pids"),
    [
        (0x00, "BE1FA813", "01 03 04 05 06 07 0C 0D 0E 0F 10 11 13 15 1C 1F 20"),
        (0x80, "0024000D", "8B 8E 9D 9E A0"),
        (0x00, "98188001", "01 04 05 0C 0D 11 20"),
    ],
)
def test_support_bits(base: int, raw: str, pids: str) -> None:
    """The first as documented for the obd2 package for Racket; the others from one real car."""
    assert supported(base, bytes.fromhex(raw)) == {int(p, 16) for p in pids.split()}


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        ("0143", "P0143"),
        ("4196", "C0196"),
        ("8148", "B0148"),
        ("C148", "U0148"),
        ("0D14", "P0D14"),
        ("2463", "P2463"),
        ("2002", "P2002"),
    ],
)
def test_codes_are_written_as_in_the_unit_tests_of_two_open_decoders(raw: str, text: str) -> None:
    assert code_text(bytes.fromhex(raw)) == text


def test_lists_of_codes() -> None:
    assert codes_of(bytes.fromhex("4300")) == ()
    assert codes_of(bytes.fromhex("43 02 2463 2002")) == (Code("P2463"), Code("P2002"))
    assert codes_of(bytes.fromhex("4A 01 0143")) == (Code("P0143"),)
    assert codes_of(bytes.fromhex("59 02 FF 246300 2F")) == (Code("P2463", 0, 0x2F),)
    assert codes_of(bytes.fromhex("59 42 33 FF FF 04 20 246300 08")) == (Code("P2463", 0, 0x08),)
    assert codes_of(bytes.fromhex("59 55 33 FF 04 246300 08")) == (Code("P2463", 0, 0x08),)
    for wrong in ("43", "43 01", "43 01 24", "59 02", "59 02 FF 2463", "59 42 33"):
        with pytest.raises(WrongLength):
            codes_of(bytes.fromhex(wrong))


@pytest.mark.parametrize(
    ("subfunction", "answer"),
    [
        (0x02, "59 02 FF 246300 2F 200200 24 014800 08"),
        (0x42, "59 42 33 FF FF 04 20 246300 2F 40 200200 04"),
    ],
)
def test_codes_and_their_status_agree_with_udsoncan(subfunction: int, answer: str) -> None:
    payload = bytes.fromhex(answer)
    response = udsoncan.Response.from_payload(payload)
    data = udsoncan.services.ReadDTCInformation.interpret_response(response, subfunction)
    theirs = [(dtc.id, dtc.status.confirmed) for dtc in data.service_data.dtcs]
    ours = [
        (int(code.text[1:], 16) << 8 | (code.failure or 0), code.confirmed)
        for code in codes_of(payload)
    ]
    assert ours == theirs


def test_refusals_agree_with_udsoncan() -> None:
    names = {
        Refusal.GENERAL: "GeneralReject",
        Refusal.SERVICE_NOT_SUPPORTED: "ServiceNotSupported",
        Refusal.SUBFUNCTION_NOT_SUPPORTED: "SubFunctionNotSupported",
        Refusal.WRONG_LENGTH: "IncorrectMessageLengthOrInvalidFormat",
        Refusal.BUSY: "BusyRepeatRequest",
        Refusal.CONDITIONS_NOT_CORRECT: "ConditionsNotCorrect",
        Refusal.OUT_OF_RANGE: "RequestOutOfRange",
        Refusal.SECURITY: "SecurityAccessDenied",
        Refusal.AUTHENTICATION: "AuthenticationRequired",
        Refusal.PENDING: "RequestCorrectlyReceived_ResponsePending",
        Refusal.NOT_IN_THIS_SESSION: "ServiceNotSupportedInActiveSession",
    }
    assert set(names) == set(Refusal) - {Refusal.OTHER}
    for why, name in names.items():
        assert udsoncan.ResponseCode.ResponseCode.get_name(why.value) == name
        assert refused(bytes((0x7F, 0x01, why.value))) == Refused(0x01, why)
    assert refused(bytes((0x7F, 0x22, 0x99))) == Refused(0x22, Refusal.OTHER)
    assert refused(b"\x41\x0c\x00") is None


def test_the_vin() -> None:
    """The first value stands in the unit tests of an open fleet agent."""
    vin = "1G1JC5444R7252367"
    said = bytes.fromhex("490201 3147314A433534343452373235323336 37".replace(" ", ""))
    assert vin_of(said) == vin
    assert vin_of(b"\x62\xf8\x02" + vin.encode()) == vin
    assert vin_of(b"\x62\xf1\x90" + vin.encode()) == vin
    assert vin_of(b"\x49\x02\x01\x00\x00\x00" + vin.encode()) == vin
    assert vin_of(b"\x49\x02\x01" + b"\xff" * 17) is None
    assert vin_of(b"\x49\x02\x01" + b"I" * 17) is None
    assert vin_of(b"\x62\xf4\x0c\x0c\xd0") is None


def test_names_and_calibrations() -> None:
    name = b"ECM\x00-EngineControl\x00\x00"
    assert texts_of(b"\x49\x0a\x01" + name) == ("ECM -EngineControl",)
    cal = b"ABC123".ljust(16, b"\x00")
    assert texts_of(b"\x49\x04\x02" + cal + cal) == ("ABC123", "ABC123")
    with pytest.raises(WrongLength):
        texts_of(b"\x49\x04\x02" + cal)


def test_an_unknown_identifier_has_no_length() -> None:
    assert length_of(0x8C) is None
    assert length_of(0x40) == 4
