"""From topic and payload to samples."""

import json
import math
import random
import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.contract import Sample, TimeSource, Unit
from parchd_adapters.mqtt import reasons
from parchd_adapters.mqtt.decode import Stamp
from parchd_adapters.mqtt.options import MqttOptions
from parchd_adapters.mqtt.routes import Routes

ARRIVAL_US = 1_780_000_000_000_000
STAMP = Stamp(lambda: ARRIVAL_US, TimeSource.ARRIVAL)
CHANNEL = re.compile(r"[a-zA-Z0-9._-]{1,64}")


def routes(*rules: dict[str, Any], **given: Any) -> Routes:
    subscribe = {f"rule{number}": rule for number, rule in enumerate(rules)}
    return Routes.of(MqttOptions.model_validate({"host": "broker.lan", "subscribe": subscribe, **given}))


def decode(found: Routes, topic: str, payload: bytes | str | object) -> tuple[list[Sample], list[str]]:
    route = found.find(topic)
    if isinstance(route, str):
        return [], [route]
    data = payload if isinstance(payload, bytes) else json.dumps(payload).encode()
    samples, problems = route.decode(data, STAMP)
    return list(samples), list(problems)


BARE = routes({"filter": "farm/+/volts", "channel": "{1}"})
SINGLE = routes({"filter": "farm/+/json", "channel": "{1}", "value": "/p/v", "time_field": "/at"})
SEVERAL = routes(
    {
        "filter": "farm/nodes/+",
        "values": {
            "{1}-shallow": "/p1",
            "{1}-deep": {"value": "/p2", "unit": "mV"},
            "{1}-soil": {"value": "t", "unit": "degC"},
        },
        "time_field": "/at",
    }
)


@pytest.mark.parametrize(
    ("payload", "value"),
    [
        (b"2.501", 2.501),
        (b" 2.501\r\n", 2.501),
        (b"+7", 7.0),
        (b"-0.5e-3", -0.0005),
        (b".5", 0.5),
        (b"5.", 5.0),
        (b"null", None),
    ],
)
def test_a_bare_number_is_a_sample_of_its_arrival(payload: bytes, value: float | None) -> None:
    assert decode(BARE, "farm/north/volts", payload) == (
        [Sample("north", ARRIVAL_US, value, Unit.V, TimeSource.ARRIVAL)],
        [],
    )


@pytest.mark.parametrize(
    "payload",
    [
        *(b"", b" ", b"NaN", b"nan", b"inf", b"-Infinity", b"1e999", b"1_000", b"0x10", b"2,5", b"2.5 V", b"--1"),
        *(b"1e", b"e5", b".", b"+", b"2.5\0", b"\xff\xfe", "\u0662".encode(), b"true", b'"2.5"', b"9" * 65, b"1 2"),
    ],
)
def test_what_is_no_finite_number_is_counted_and_makes_no_sample(payload: bytes) -> None:
    assert decode(BARE, "farm/north/volts", payload) == ([], [reasons.NOT_A_NUMBER])


def test_several_values_of_one_payload_share_its_time() -> None:
    payload = {"p1": 2.5, "p2": 2731, "t": "14.25", "at": "2026-05-01T06:30:00Z"}
    time_us = 1_777_617_000_000_000
    assert decode(SEVERAL, "farm/nodes/creek", payload) == (
        [
            Sample("creek-shallow", time_us, 2.5, Unit.V),
            Sample("creek-deep", time_us, 2731.0, Unit.MV),
            Sample("creek-soil", time_us, 14.25, Unit.CELSIUS),
        ],
        [],
    )


def test_a_value_of_null_is_a_missing_sample() -> None:
    samples, problems = decode(SINGLE, "farm/north/json", {"p": {"v": None}, "at": 1_780_000_000})
    assert [(sample.value, sample.time_us) for sample in samples] == [(None, 1_780_000_000_000_000)]
    assert not problems


def test_a_value_that_is_not_there_is_counted_and_the_others_count() -> None:
    samples, problems = decode(SEVERAL, "farm/nodes/creek", {"p1": 2.5, "t": "warm", "at": 1_780_000_000})
    assert [sample.channel for sample in samples] == ["creek-shallow"]
    assert problems == [reasons.NO_VALUE, reasons.BAD_VALUE]


@pytest.mark.parametrize("value", [True, False, [], {}, [2.5], "", "nan", "2,5", "1e999", 10**400, "\ud800"])
def test_a_json_value_that_is_no_finite_number_is_counted(value: object) -> None:
    payload = {"p": {"v": value}, "at": 1_780_000_000}
    assert decode(SINGLE, "farm/north/json", payload) == ([], [reasons.BAD_VALUE])


@pytest.mark.parametrize("literal", [b"NaN", b"Infinity", b"-Infinity"])
def test_literals_that_json_does_not_have_spoil_the_payload(literal: bytes) -> None:
    payload = b'{"p":{"v":%s},"at":1780000000}' % literal
    assert decode(SINGLE, "farm/north/json", payload) == ([], [reasons.NOT_JSON])


def test_a_json_number_too_large_for_a_double_is_counted() -> None:
    assert decode(SINGLE, "farm/north/json", b'{"p":{"v":1e999},"at":1780000000}') == ([], [reasons.BAD_VALUE])


@pytest.mark.parametrize(
    "payload",
    [b"", b"{", b'{"p":', b"\xff", b'{"p":{"v":2.5}} x', b"[" * 60_000, b'{"a":' * 10_000, b"9" * 5000, b"'1'"],
)
def test_what_is_no_json_is_counted(payload: bytes) -> None:
    assert decode(SINGLE, "farm/north/json", payload) == ([], [reasons.NOT_JSON])


@pytest.mark.parametrize("payload", [b"2.5", b"null", b"[]", b'"x"', b"{}", b'{"p":{}}', b'{"p":[2.5]}'])
def test_a_document_of_another_shape_is_counted(payload: bytes) -> None:
    found = routes({"filter": "farm/+/json", "channel": "{1}", "value": "/p/v"})
    assert decode(found, "farm/north/json", payload) == ([], [reasons.NO_VALUE])


@pytest.mark.parametrize(
    ("written", "time_us"),
    [
        ("2026-05-01T06:30:00Z", 1_777_617_000_000_000),
        ("2026-05-01T08:30:00.25+02:00", 1_777_617_000_250_000),
        (1_777_617_000, 1_777_617_000_000_000),
        (1_777_617_000.5, 1_777_617_000_500_000),
        (1_777_617_000_500, 1_777_617_000_500_000),
        ("1777617000", 1_777_617_000_000_000),
    ],
)
def test_the_time_of_the_payload_is_the_time_of_the_sample(written: object, time_us: int) -> None:
    samples, _ = decode(SINGLE, "farm/north/json", {"p": {"v": 2.5}, "at": written})
    assert samples == [Sample("north", time_us, 2.5, Unit.V, TimeSource.DEVICE)]


@pytest.mark.parametrize("written", ["", "noon", "2026-05-01T06:30:00", -1, 1e300, 10**400, True, [], {}, "9" * 400])
def test_a_time_that_cannot_be_read_spoils_the_payload(written: object) -> None:
    assert decode(SINGLE, "farm/north/json", {"p": {"v": 2.5}, "at": written}) == ([], [reasons.BAD_TIME])


def test_a_time_that_is_not_there_spoils_the_payload_because_its_key_may_be_misspelt() -> None:
    assert decode(SINGLE, "farm/north/json", {"p": {"v": 2.5}}) == ([], [reasons.NO_TIME])


def test_a_time_of_null_means_now_because_the_device_has_no_clock_yet() -> None:
    samples, _ = decode(SINGLE, "farm/north/json", {"p": {"v": 2.5}, "at": None})
    assert samples == [Sample("north", ARRIVAL_US, 2.5, Unit.V, TimeSource.ARRIVAL)]


def test_a_time_without_offset_is_read_in_the_zone_of_the_rule() -> None:
    found = routes({"filter": "a", "value": "v", "time_field": "at", "time_zone": "-08:00"})
    samples, _ = decode(found, "a", {"v": 2.5, "at": "2026-04-30 22:30:00"})
    assert [sample.time_us for sample in samples] == [1_777_617_000_000_000]


def test_a_part_of_the_name_may_come_from_the_payload() -> None:
    found = routes({"filter": "gateway/+", "channel": "{1}-{/id}", "value": "v"})
    assert [s.channel for s in decode(found, "gateway/a", {"id": "n7", "v": 1})[0]] == ["a-n7"]
    assert [s.channel for s in decode(found, "gateway/a", {"id": 7, "v": 1})[0]] == ["a-7"]
    assert decode(found, "gateway/a", {"id": "n/7", "v": 1}) == ([], [reasons.BAD_NAME])
    assert decode(found, "gateway/a", {"id": True, "v": 1}) == ([], [reasons.NO_NAME])
    assert decode(found, "gateway/a", {"v": 1}) == ([], [reasons.NO_NAME])


def test_the_first_rule_that_matches_has_the_topic() -> None:
    found = routes({"filter": "farm/creek/volts", "channel": "special"}, {"filter": "farm/+/volts", "channel": "{1}"})
    assert [s.channel for s in decode(found, "farm/creek/volts", b"1")[0]] == ["special"]
    assert [s.channel for s in decode(found, "farm/north/volts", b"1")[0]] == ["north"]


def test_a_topic_that_no_rule_wants_is_counted() -> None:
    assert decode(BARE, "farm/north/amps", b"1") == ([], [reasons.UNKNOWN_TOPIC])
    assert decode(BARE, "", b"1") == ([], [reasons.UNKNOWN_TOPIC])


@pytest.mark.parametrize("name", ["", "north block", "süd", "x" * 65, "a\0b", "a\nb"])
def test_a_topic_that_gives_no_channel_name_is_counted(name: str) -> None:
    assert decode(BARE, f"farm/{name}/volts", b"1") == ([], [reasons.BAD_NAME])


def test_invented_topics_make_no_more_channels_than_allowed() -> None:
    found = routes({"filter": "farm/+/volts", "channel": "{1}"}, max_channels=3)
    outcomes = [decode(found, f"farm/n{number}/volts", b"1") for number in range(10_000)]
    assert sum(bool(samples) for samples, _ in outcomes) == 3
    assert {problem for _, problems in outcomes for problem in problems} == {reasons.TOO_MANY}
    assert decode(found, "farm/n1/volts", b"1")[0]


def is_well_formed(sample: Sample) -> bool:
    value = sample.value
    return bool(
        CHANNEL.fullmatch(sample.channel)
        and type(sample.time_us) is int
        and 0 <= sample.time_us < 253_402_300_800_000_000
        and (value is None or (type(value) is float and math.isfinite(value)))
    )


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(["p", "v", "at", "", "0"]), inner),
    max_leaves=8,
)


@settings(max_examples=500, deadline=None)
@given(st.dictionaries(st.sampled_from(["p", "at", "v"]), JSON))
def test_any_json_document_is_read_or_counted(document: dict[str, Any]) -> None:
    samples, problems = decode(SINGLE, "farm/north/json", document)
    assert len(samples) + len(problems) == 1
    assert all(map(is_well_formed, samples))


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_finite_number_arrives_to_the_last_bit(value: float) -> None:
    for found, topic, payload in ((BARE, "farm/a/volts", repr(value).encode()), (SINGLE, "farm/a/json", None)):
        samples, problems = decode(found, topic, payload or {"p": {"v": value}, "at": 0})
        assert not problems
        assert samples[0].value == value


SEEDS = [
    *(b"2.501", b"-1.25e-3", b"null", b'{"p":{"v":2.5},"at":"2026-05-01T06:30:00Z"}', b'{"p":{"v":null},"at":1.5e9}'),
    *(b'{"p1":1,"p2":"2.5","t":-3e2,"at":1780000000123}', b'[{"p":[1,2,{"v":"\\ud83d\\ude00"}]}]', b'{"":{"":""}}'),
]


def mutated(chance: random.Random, payload: bytes) -> bytes:
    data = bytearray(payload)
    for _ in range(chance.randrange(1, 4)):
        place = chance.randrange(len(data) + 1)
        match chance.randrange(5):
            case 0:
                data[place:place] = bytes([chance.randrange(256)])
            case 1:
                del data[place : place + chance.randrange(1, 5)]
            case 2:
                data[place:place] = chance.choice(
                    [b"1e400", b"NaN", b'"', b"{", b"}", b"[[", b"\\u", b"-", b"e", b"0" * 90]
                )
            case 3:
                data[place : place + 1] = bytes([chance.randrange(256)])
            case 4:
                data += data[place:]
    return bytes(data)


def test_a_hundred_thousand_random_and_mutated_payloads_are_read_or_counted() -> None:
    chance = random.Random(20260501)
    seen = {"samples": 0, "problems": 0}
    for number in range(100_000):
        broken = chance.randbytes(chance.randrange(40)) if number % 3 == 0 else mutated(chance, chance.choice(SEEDS))
        for found, topic in ((BARE, "farm/a/volts"), (SINGLE, "farm/a/json"), (SEVERAL, "farm/nodes/a")):
            samples, problems = decode(found, topic, broken)
            assert samples or problems
            assert all(map(is_well_formed, samples)), broken
            seen["samples"] += len(samples)
            seen["problems"] += len(problems)
    assert min(seen.values()) > 1000, "the payloads must be broken enough, and not too much"


def test_random_topics_are_read_or_counted() -> None:
    chance = random.Random(20260502)
    found = routes({"filter": "#", "channel": "{topic}"}, max_channels=50)
    for _ in range(5000):
        topic = "".join(
            chr(chance.choice([47, 35, 43, 0, 36, *range(97, 105), 0x1F600])) for _ in range(chance.randrange(300))
        )
        samples, problems = decode(found, topic, b"1")
        assert len(samples) + len(problems) == 1
        assert all(map(is_well_formed, samples))
