"""The small parts that our sources share: numbers, pointers, times, batches, pacing."""

import threading
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.clock import US_PER_S, ScaledClock
from parchd.contract import Sample, Unit
from parchd.testing import FakeClock, FakeIntake
from parchd_adapters._shared.batches import pack
from parchd_adapters._shared.numbers import parse_number
from parchd_adapters._shared.pacing import Pacer
from parchd_adapters._shared.pointer import look_up, parse_key, parse_pointer
from parchd_adapters._shared.times import TimeFormat, TimeReader, parse_zone, standard_offset

# The document and pointers of RFC 6901, section 5.
DOCUMENT = {
    "foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, 'k"l': 6, " ": 7, "m~n": 8,
}  # fmt: skip
POINTERS = [
    ("", DOCUMENT), ("/foo", ["bar", "baz"]), ("/foo/0", "bar"), ("/", 0), ("/a~1b", 1), ("/c%d", 2), ("/e^f", 3),
    ("/g|h", 4), ("/i\\j", 5), ('/k"l', 6), ("/ ", 7), ("/m~0n", 8),
]  # fmt: skip


@pytest.mark.parametrize(("pointer", "value"), POINTERS)
def test_pointers_find_what_the_rfc_says(pointer: str, value: Any) -> None:
    assert look_up(DOCUMENT, parse_pointer(pointer)) == value


def test_an_escaped_tilde_is_decoded_last() -> None:
    assert parse_pointer("/~01") == ("~1",)


@pytest.mark.parametrize("pointer", ["foo", "/~2", "/~", "~0"])
def test_what_is_no_pointer_is_refused(pointer: str) -> None:
    with pytest.raises(ValueError, match="JSON Pointer"):
        parse_pointer(pointer)


@pytest.mark.parametrize(
    "pointer", ["/foo/01", "/foo/-", "/foo/2", "/foo/" + "9" * 5000, "/foo/\u0661", "/nothing", "/foo/0/x"]
)
def test_a_pointer_to_nothing_is_a_look_up_error(pointer: str) -> None:
    with pytest.raises(LookupError):
        look_up(DOCUMENT, parse_pointer(pointer))


@given(st.lists(st.text()))
def test_a_pointer_gives_back_the_keys_it_was_made_of(keys: list[str]) -> None:
    pointer = "".join("/" + key.replace("~", "~0").replace("/", "~1") for key in keys)
    assert list(parse_pointer(pointer)) == keys


def test_a_plain_key_needs_no_slash() -> None:
    assert parse_key("A0~") == ("A0~",)


@given(st.text())
def test_text_is_a_number_no_value_or_an_error(text: str) -> None:
    try:
        value = parse_number(text)
    except ValueError:
        return
    assert value is None or value == float(text)


# Seconds by: date -u -d '...' +%s
@pytest.mark.parametrize(
    ("found", "seconds"),
    [
        ("2026-05-01T12:00:00Z", 1_777_636_800),
        ("2026-05-01 14:00:00+02:00", 1_777_636_800),
        ("20260501T120000.5Z", 1_777_636_800.5),
        ("1777636800", 1_777_636_800),
        ("1777636800.25", 1_777_636_800.25),
        (1_777_636_800, 1_777_636_800),
        (1_777_636_800_123, 1_777_636_800.123),
        ("1777636800123", 1_777_636_800.123),
        (1_777_636_800.5, 1_777_636_800.5),
        (0, 0),
    ],
)
def test_a_time_is_read_however_it_is_written(found: object, seconds: float) -> None:
    assert TimeReader().read(found) == round(seconds * US_PER_S)


@pytest.mark.parametrize(
    "found",
    ["", "noon", "2026-05-01T12:00:00", "2026-13-01T00:00:00Z", -1, True, None, [1], float("nan"), float("inf"), 1e30],
)
def test_what_names_no_moment_is_refused(found: object) -> None:
    with pytest.raises(ValueError, match="a time"):
        TimeReader().read(found)


def test_the_format_can_be_fixed() -> None:
    assert TimeReader(TimeFormat.UNIX_MS).read("1500") == 1_500_000
    assert TimeReader(TimeFormat.UNIX_S).read("200000000000") == 200_000_000_000 * US_PER_S
    assert TimeReader(TimeFormat.ISO).read("19700101T000001Z") == US_PER_S
    for reader, found in (
        (TimeFormat.ISO, "1500"),
        (TimeFormat.ISO, 1500),
        (TimeFormat.UNIX_S, "2026-05-01T12:00:00Z"),
    ):
        with pytest.raises(ValueError, match="a time as"):
            TimeReader(reader).read(found)


@given(st.datetimes(min_value=datetime(1971, 1, 1), max_value=datetime(2100, 1, 1)))  # noqa: DTZ001 (local times)
def test_standard_time_is_never_ambiguous_and_never_runs_backwards(local: datetime) -> None:
    zone = ZoneInfo("America/Los_Angeles")
    reader = TimeReader(zone=zone, daylight_saving=False)
    assert standard_offset(zone, local).total_seconds() == -8 * 3600
    assert reader.read(local.isoformat()) == TimeReader(zone=parse_zone("-08:00")).read(local.isoformat())


@pytest.mark.parametrize("name", ["", "Nowhere/Land", "../etc/passwd", "+25:00", "8"])
def test_a_zone_that_is_not_there_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match=r"zone|offset|strictly"):
        parse_zone(name)


groups = st.lists(st.integers(1, 30).map(lambda n: tuple(Sample(f"c{i}", 0, 0.0, Unit.V) for i in range(n))))


@given(groups=groups, largest=st.integers(1, 50))
def test_packing_keeps_order_and_never_splits_a_group(groups: list[tuple[Sample, ...]], largest: int) -> None:
    runs = list(pack(groups, largest))
    assert [sample for run in runs for sample in run] == [sample for group in groups for sample in group]
    ends = {sum(map(len, groups[:i])) for i in range(len(groups) + 1)}
    at = 0
    for run in runs:
        at += len(run)
        assert at in ends
        assert len(run) <= max(largest, *map(len, groups))


def test_a_pause_follows_the_speed_of_the_clock() -> None:
    clock = ScaledClock(0, speed=6000.0)
    pacer = Pacer(clock, FakeIntake(), threading.Event())
    overshoots = []
    for due_us in range(60 * US_PER_S, 1200 * US_PER_S, 60 * US_PER_S):  # a due time each 10 ms
        assert pacer.wait_until(due_us)
        overshoots.append(clock.now_us() - due_us)
    assert min(overshoots) >= 0
    assert sorted(overshoots)[len(overshoots) // 2] < 60 * US_PER_S


class CountingStop:
    """A stop that is set after so many waits; remembers how long each was to be."""

    def __init__(self, waits: int, clock: FakeClock, step_s: float) -> None:
        self.pauses_s: list[float] = []
        self._left = waits
        self._clock = clock
        self._step_s = step_s

    def is_set(self) -> bool:
        return self._left <= 0

    def wait(self, timeout: float | None = None) -> bool:
        self.pauses_s.append(timeout or 0.0)
        self._left -= 1
        self._clock.advance(self._step_s)
        return self.is_set()


def test_a_wait_at_the_speed_of_the_wall_clock_looks_twice_a_second_and_beats() -> None:
    clock, intake = FakeClock(), FakeIntake()
    stop = CountingStop(4, clock, 0.5)
    assert not Pacer(clock, intake, stop).wait_until(clock.now_us() + 60 * US_PER_S)
    assert stop.pauses_s[1:] == [0.5] * 3
    assert intake.beats == 4


def test_a_clock_set_back_moves_the_moment_waited_for() -> None:
    clock, intake = FakeClock(), FakeIntake()

    class SetBack(CountingStop):
        def wait(self, timeout: float | None = None) -> bool:
            if len(self.pauses_s) == 1:
                clock.step(-3600)
            return super().wait(timeout)

    pacer = Pacer(clock, intake, SetBack(20, clock, 0.5))
    assert pacer.wait_until(clock.now_us() + 3 * US_PER_S)
    assert pacer.slipped_us == pytest.approx(3600 * US_PER_S, abs=US_PER_S)
