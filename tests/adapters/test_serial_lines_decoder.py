import json
import math
import random
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import Sample, TimeSource, Unit
from parchd_adapters.serial_lines.decoder import Decoded, LineDecoder
from parchd_adapters.serial_lines.options import SerialLinesOptions

PORT = "/dev/serial/by-id/usb-quillmere-0"
NOW_US = 1_780_000_000_000_000
THREE = {"fields": ["a0", "a1", "supply:V"]}
TIMED = {"fields": ["time", "a0", "a1"], "time_field": "time", "time_format": "unix-ms"}
KEYED = {"format": "key-value", "fields": {"a0": "A0", "supply": {"key": "Vs", "unit": "V"}}}
JSON = {"format": "json", "fields": {"a0": "/adc/0", "a1": "/adc/1", "supply": {"key": "vs", "unit": "V"}}}


def options(**given: Any) -> SerialLinesOptions:
    return SerialLinesOptions.model_validate({"port": PORT, **given})


def decoder(**given: Any) -> LineDecoder:
    return LineDecoder(options(**given))


def decode(data: bytes, **given: Any) -> Decoded:
    return decoder(**given).feed(data, NOW_US)


def values(decoded: Decoded) -> list[tuple[str, float | None]]:
    return [(sample.channel, sample.value) for sample in decoded.samples]


def reasons(decoded: Decoded) -> list[str]:
    return [reject.reason for reject in decoded.rejects]


def test_a_line_becomes_one_group_of_samples() -> None:
    decoded = decode(b"17,1023,4.98\n", **THREE)
    assert decoded.groups == [
        (
            Sample("a0", NOW_US, 17.0, Unit.COUNTS, TimeSource.ARRIVAL),
            Sample("a1", NOW_US, 1023.0, Unit.COUNTS, TimeSource.ARRIVAL),
            Sample("supply", NOW_US, 4.98, Unit.V, TimeSource.ARRIVAL),
        )
    ]
    assert not decoded.rejects


@pytest.mark.parametrize("end", [b"\n", b"\r", b"\r\n", b"\r\r\n", b"\n\n"])
def test_any_line_end_will_do(end: bytes) -> None:
    decoded = decode(b"1,2,3" + end + b"4,5,6" + end, **THREE)
    assert values(decoded) == [("a0", 1), ("a1", 2), ("supply", 3), ("a0", 4), ("a1", 5), ("supply", 6)]
    assert not decoded.rejects


def test_a_partial_line_waits_for_its_rest() -> None:
    lines = decoder(**THREE)
    assert not lines.feed(b"1,2", NOW_US).samples
    assert not lines.feed(b"3,", NOW_US).samples
    assert values(lines.feed(b"4\n", NOW_US)) == [("a0", 1), ("a1", 23), ("supply", 4)]


def test_an_overdue_line_is_dropped_with_what_follows_of_it() -> None:
    lines = decoder(**THREE)
    lines.feed(b"1,2", NOW_US)
    assert [(reject.reason, reject.example) for reject in lines.give_up().rejects] == [
        ("line was not finished", b"1,2")
    ]
    assert not lines.give_up().rejects
    assert values(lines.feed(b"3,4,5\n6,7,8\n", NOW_US)) == [("a0", 6), ("a1", 7), ("supply", 8)]


def test_a_line_that_began_before_we_listened_is_dropped_in_silence() -> None:
    lines = LineDecoder(options(**THREE), mid_line=True)
    decoded = lines.feed(b"23,4,5\n6,7,8\n", NOW_US)
    assert values(decoded) == [("a0", 6), ("a1", 7), ("supply", 8)]
    assert not decoded.rejects


def test_a_line_over_the_cap_is_counted_once_and_the_next_is_read() -> None:
    lines = decoder(max_line_bytes=16, **THREE)
    rejects = [reject for _ in range(100) for reject in lines.feed(b"x" * 10, NOW_US).rejects]
    assert [reject.reason for reject in rejects] == ["line is longer than max_line_bytes"]
    assert values(lines.feed(b"\n1,2,3\n", NOW_US)) == [("a0", 1), ("a1", 2), ("supply", 3)]


def test_lines_that_arrive_together_get_a_time_each() -> None:
    lines = decoder(fields=["a0"])
    first = lines.feed(b"1\n2\n3\n", NOW_US)
    second = lines.feed(b"4\n", NOW_US + 1)
    assert [sample.time_us - NOW_US for sample in first.samples + second.samples] == [0, 1, 2, 3]


def test_a_clock_that_is_set_back_is_followed() -> None:
    lines = decoder(fields=["a0"])
    lines.feed(b"1\n", NOW_US)
    earlier_us = NOW_US - 3_600_000_000
    assert lines.feed(b"2\n", earlier_us).samples[0].time_us == earlier_us


def test_a_time_from_the_device_is_kept() -> None:
    (a0, a1) = decode(b"1780000000123,5,6\n", **TIMED).samples
    assert (a0.time_us, a0.time_source) == (1_780_000_000_123_000, TimeSource.DEVICE)
    assert a1.time_us == a0.time_us


@pytest.mark.parametrize("time", ["", "noon", "-1", "nan", "1e300", "99999999999999999"])
def test_a_line_whose_time_cannot_be_read_is_not_stamped_with_another(time: str) -> None:
    decoded = decode(f"{time},5,6\n".encode(), **TIMED)
    assert not decoded.samples
    assert reasons(decoded) == ["time cannot be read"]


def test_a_local_time_is_read_in_the_zone_of_the_options() -> None:
    decoded = decode(b"2026-07-01 12:00:00,5\n", fields=["t", "a0"], time_field="t", time_zone="-08:00")
    assert decoded.samples[0].time_us == 1_782_936_000_000_000  # date -u -d '2026-07-01 20:00:00' +%s


@pytest.mark.parametrize("word", ["nan", "NaN", "-nan", "inf", "-INF", "ovf", "", " ", "1e999"])
def test_a_device_that_has_no_value_says_so(word: str) -> None:
    decoded = decode(f"{word},2,3\n".encode(), **THREE)
    assert values(decoded)[0] == ("a0", None)
    assert not decoded.rejects


@pytest.mark.parametrize("word", ["abc", "12 34", "1,2"[:1] + "_0", "0x10", "--1", "1.2.3", "\u0661", "1e", "."])
def test_a_field_that_is_no_number_costs_only_itself(word: str) -> None:
    decoded = decode(f"{word},2,3\n".encode(), **THREE)
    assert values(decoded) == [("a1", 2), ("supply", 3)]
    assert reasons(decoded) == ["field is not a number"]
    assert str(decoded.rejects[0].example).startswith("a0: ")


def test_a_short_line_is_refused() -> None:
    assert reasons(decode(b"1,2\n", **THREE)) == ["line has too few fields"]


def test_two_lines_run_together_are_refused() -> None:
    decoded = decode(b"1,2,31,2,3\n", **THREE)
    assert not decoded.samples
    assert reasons(decoded) == ["line has too many fields"]


def test_a_delimiter_at_the_end_is_harmless() -> None:
    assert len(decode(b"1,2,3,\r\n", **THREE).samples) == 3


def test_fields_can_be_skipped_and_left_open() -> None:
    decoded = decode(b"1,2,3,4,5,6\n", fields=["a0", "-", "", "a3", "..."])
    assert values(decoded) == [("a0", 1), ("a3", 4)]
    assert not decoded.rejects


@pytest.mark.parametrize(
    ("delimiter", "line"),
    [(" ", b"  1   2 \t3 \n"), ("\t", b"1\t2\t3\n"), (";", b"1;2;3\n"), ("||", b"1||2||3\n"), (",", b" 1 , 2,3 \n")],
)
def test_the_delimiter_can_be_chosen(delimiter: str, line: bytes) -> None:
    decoded = decode(line, delimiter=delimiter, **THREE)
    assert values(decoded) == [("a0", 1), ("a1", 2), ("supply", 3)]


def test_comments_are_passed_over() -> None:
    decoded = decode(b"# a0,a1,supply\n1,2,3\n", **THREE)
    assert len(decoded.samples) == 3
    assert not decoded.rejects
    assert len(decode(b"; a0\n1,2,3\n", comment=";", **THREE).samples) == 3


def test_a_heading_without_a_comment_sign_is_counted() -> None:
    assert reasons(decode(b"a0,a1,vs\n", **THREE)) == ["field is not a number"] * 3


def test_binary_bytes_are_counted() -> None:
    assert reasons(decode(b"\xff\xfe1,2,3\n1,\x07,3\n", **THREE)) == ["line is not text"] * 2


@pytest.mark.parametrize(
    "line", [b"A0=17 Vs=4.98\n", b"Vs=4.98,A0=17\n", b"A0 = 17; Vs = 4.98\r\n", b"A0=17\tVs=4.98\n"]
)
def test_keys_come_in_any_order_and_dress(line: bytes) -> None:
    decoded = decode(line, **KEYED)
    assert dict(values(decoded)) == {"a0": 17.0, "supply": 4.98}
    assert {sample.channel: sample.unit for sample in decoded.samples} == {"a0": Unit.COUNTS, "supply": Unit.V}
    assert not decoded.rejects


def test_keys_may_come_on_lines_of_their_own() -> None:
    decoded = decode(b"A0=17\nVs=4.98\n", **KEYED)
    assert values(decoded) == [("a0", 17), ("supply", 4.98)]
    assert not decoded.rejects


def test_an_unknown_key_is_told_once() -> None:
    lines = decoder(**KEYED)
    told = [lines.feed(b"A0=1 T=20 U=3\n", NOW_US).rejects for _ in range(5)]
    assert [[reject.example for reject in rejects] for rejects in told] == [["T"], [], [], [], []]
    assert told[0][0].reason == "field is not mapped"


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"A0=1 A0=2\n", "line has a key twice"),
        (b"A0=1 7\n", "line is not key=value"),
        (b"=1\n", "line is not key=value"),
        (b"T=1\n", "line has no field that is mapped"),
        (b"A0=12A0=13\n", "field is not a number"),
    ],
)
def test_a_line_of_keys_that_is_wrong_is_refused(line: bytes, reason: str) -> None:
    decoded = decode(line, **KEYED)
    assert not decoded.samples
    assert reasons(decoded)[0] == reason


def test_the_delimiter_of_keys_can_be_chosen() -> None:
    decoded = decode(b"A0=17|t=2026-05-01T12:00:00Z\n", delimiter="|", time_field="t", **KEYED)
    assert decoded.samples[0].time_us == 1_777_636_800_000_000  # date -u -d '2026-05-01 12:00:00' +%s


def test_json_is_read_by_pointer_or_plain_key() -> None:
    decoded = decode(b'{"adc": [17, 1023], "vs": 4.98}\n', **JSON)
    assert values(decoded) == [("a0", 17), ("a1", 1023), ("supply", 4.98)]


@pytest.mark.parametrize("text", ["null", "NaN", "-Infinity", "1e999", '"nan"', "9" * 400])
def test_json_may_say_that_there_is_no_value(text: str) -> None:
    decoded = decode(f'{{"vs": {text}}}\n'.encode(), **JSON)
    assert values(decoded) == [("supply", None)]
    assert not decoded.rejects


def test_json_may_put_a_number_in_quotes() -> None:
    assert values(decode(b'{"vs": "17.5"}\n', **JSON)) == [("supply", 17.5)]


@pytest.mark.parametrize("text", ["true", "[1]", "{}", '"wet"'])
def test_json_that_is_no_number_is_counted(text: str) -> None:
    assert reasons(decode(f'{{"vs": {text}}}\n'.encode(), **JSON)) == ["field is not a number"]


@pytest.mark.parametrize("line", [b"{", b"[1,2]", b"17", b'{"vs": 1}{"vs": 2}', b"[" * 60_000])
def test_what_is_no_json_object_is_counted(line: bytes) -> None:
    assert reasons(decode(line + b"\n", max_line_bytes=65_536, **JSON)) == ["line is not a JSON object"]


def test_a_json_time_may_be_a_number_or_text() -> None:
    for time in ("1780000000.5", '"2026-05-28T20:26:40.5Z"', "1780000000500"):
        decoded = decode(f'{{"t": {time}, "vs": 1}}\n'.encode(), time_field="t", **JSON)
        assert [sample.time_us for sample in decoded.samples] == [1_780_000_000_500_000], time


Row = tuple[int, float | None, float | None]

numbers = st.floats(allow_nan=False, allow_infinity=False) | st.none()
rows = st.lists(st.tuples(st.integers(0, 10**12), numbers, numbers), max_size=20)


def spell(number: float | None) -> str:
    return "nan" if number is None else repr(number)


def write_delimited(row: Row) -> str:
    return ",".join((str(row[0]), spell(row[1]), spell(row[2])))


def write_json(row: Row) -> str:
    return json.dumps({"t": row[0], "a": {"0": row[1], "1": row[2]}})


def write_key_value(row: Row) -> str:
    return f"t={row[0]} A={spell(row[1])} B={spell(row[2])}"


JSON_TIMED = {"format": "json", "fields": {"a0": "/a/0", "a1": "/a/1"}, "time_field": "t", "time_format": "unix-ms"}
KEY_TIMED = {"format": "key-value", "fields": {"a0": "A", "a1": "B"}, "time_field": "t", "time_format": "unix-ms"}


@pytest.mark.parametrize(
    ("write", "how"), [(write_delimited, TIMED), (write_json, JSON_TIMED), (write_key_value, KEY_TIMED)]
)
@given(rows=rows, end=st.sampled_from(["\n", "\r", "\r\n"]))
def test_what_a_device_writes_is_read_back_to_the_last_bit(
    write: Callable[[Row], str], how: dict[str, Any], rows: list[Row], end: str
) -> None:
    decoded = decode("".join(write(row) + end for row in rows).encode(), **how)
    assert not decoded.rejects
    read = [(group[0].time_us // 1000, group[0].value, group[1].value) for group in decoded.groups]
    assert repr(read) == repr(rows)  # repr tells 0.0 from -0.0


pieces = st.binary(max_size=40) | st.sampled_from([b"1780000000000,1,2\n", b"1,2\r\n", b"\r", b"nan"])


@given(pieces=st.lists(pieces, max_size=30), cuts=st.lists(st.integers(0, 2000), max_size=12))
def test_how_the_bytes_are_cut_changes_nothing(pieces: list[bytes], cuts: list[int]) -> None:
    data = b"".join(pieces)
    whole = decode(data, max_line_bytes=32, **TIMED)
    lines = decoder(max_line_bytes=32, **TIMED)
    ends = sorted({min(cut, len(data)) for cut in cuts} | {0, len(data)})
    parts = [lines.feed(data[a:b], NOW_US) for a, b in pairwise(ends)]
    assert [group for part in parts for group in part.groups] == whole.groups
    assert sorted(str(reject) for part in parts for reject in part.rejects) == sorted(map(str, whole.rejects))


@pytest.mark.parametrize("how", [THREE, TIMED, KEYED, JSON], ids=["delimited", "timed", "key-value", "json"])
@given(chunks=st.lists(st.binary(max_size=200)))
def test_no_bytes_make_it_raise_or_hold_more_than_the_cap(how: dict[str, Any], chunks: list[bytes]) -> None:
    lines = decoder(max_line_bytes=64, **how)
    for chunk in chunks:
        lines.feed(chunk, NOW_US)
        assert lines.held <= 64


GOOD: dict[str, tuple[dict[str, Any], bytes]] = {
    "delimited": (THREE, b"17,1023,4.98\r\n"),
    "key-value": (KEYED, b"A0=17 Vs=4.98\r\n"),
    "json": (JSON, b'{"adc": [17, 1023], "vs": 4.98}\r\n'),
}


@pytest.mark.parametrize("name", GOOD)
def test_forty_thousand_mutated_lines_do_no_harm(name: str) -> None:
    how, good = GOOD[name]
    chance = random.Random(f"quillmere {name}")
    lines = decoder(max_line_bytes=128, **how)
    read = counted = 0
    for _ in range(40_000):
        decoded = lines.feed(mutate(good, chance), NOW_US)
        read += len(decoded.samples)
        counted += len(decoded.rejects)
        assert lines.held <= 128
        assert all(sample.value is None or math.isfinite(sample.value) for sample in decoded.samples)
    assert read > 10_000
    assert counted > 1_000
    assert values(lines.feed(b"\n" + good, NOW_US)) == values(decode(good, **how))


def mutate(line: bytes, chance: random.Random) -> bytes:
    data = bytearray(line)
    for _ in range(chance.choice((0, 0, 0, 1, 2, 8))):
        at = chance.randrange(len(data))
        match chance.randrange(5):
            case 0:
                data[at] = chance.randrange(256)
            case 1:
                data[at] ^= 1 << chance.randrange(8)
            case 2:
                del data[at : at + chance.randrange(1, 6)]
            case 3:
                data[at:at] = chance.randbytes(chance.randrange(1, 60))
            case _:
                data[at:at] = bytes(data[:at])
        data = data or bytearray(b"\n")
    return bytes(data)
