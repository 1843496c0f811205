"""What every sink must do, as tests to inherit.

A sink of your own passes them with a class like this::

    from parchd.testing.sink_suite import JudgedSinkSuite

    class TestMySink(JudgedSinkSuite):
        kind = my_package.KIND
        options = {"host": "127.0.0.1", "port": 9}  # valid, though nobody is there

        @pytest.fixture
        def rig(self) -> Iterator[MyRig]:
            with MyRig() as rig:
                yield rig

`SinkSuite` is for sinks whose server takes every row, `JudgedSinkSuite` for those that may be refused one. The rig is
the server: see `SinkRig` and `JudgedSinkRig`. Times of the suite's rows are whole milliseconds.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Protocol

import pytest
from pydantic import ValidationError

from parchd.contract import AdapterKind, Cause, Flag, Place, Services, Sink, SinkUnavailable, StoredReading, Unit
from parchd.testing.clock import FakeClock

__all__ = ["JudgedSinkRig", "JudgedSinkSuite", "SinkRig", "SinkSuite", "Stored", "sample_rows"]

START_US = 1_780_000_000_000_000
STEP_US = 60_000_000


@dataclass(frozen=True, slots=True)
class Stored:
    """What a server has of a row; ``None``: nothing. Put ``None`` in ``flag`` where a server keeps none."""

    value: float | None
    gauge_kpa: float | None
    tension_kpa: float | None
    flag: int | None


class SinkRig(Protocol):
    """A sink's server."""

    def open(self) -> Sink:
        """Build a sink that writes to it; called once or twice."""
        ...

    def stored(self) -> Mapping[tuple[str, int], Stored]:
        """Read all that it holds, by (channel, time in microseconds)."""
        ...

    def lose(self) -> None:
        """Make it unreachable."""
        ...

    def restore(self) -> None:
        """Bring it back with all it held, and return when a write can succeed."""
        ...


class JudgedSinkRig(SinkRig, Protocol):
    """A server that refuses some rows for ever."""

    def refuse(self, channel: str) -> None:
        """Refuse rows of this channel from now on."""
        ...


class SinkSuite:
    """Tests for any sink. Set ``kind`` and ``options``, and override ``rig``."""

    kind: ClassVar[AdapterKind[Any, Sink]]
    options: ClassVar[Mapping[str, object]]
    """Valid options of a sink whose server is not there."""
    overwrites: ClassVar[bool] = True
    """Set it to false for a server that may keep either of two values it got for one time in different batches."""

    @pytest.fixture
    def rig(self) -> Iterator[SinkRig]:
        raise NotImplementedError("override the fixture `rig` with your sink's server")

    @pytest.fixture
    def sink(self, rig: SinkRig) -> Iterator[Sink]:
        sink = rig.open()
        yield sink
        sink.close()

    def test_options_refuse_a_key_they_do_not_know(self) -> None:
        assert self.kind.options.model_validate(self.options)
        with pytest.raises(ValidationError, match="no_such_key"):
            self.kind.options.model_validate({**self.options, "no_such_key": 1})

    def test_it_can_be_built_and_closed_while_its_server_is_away(self) -> None:
        options = self.kind.options.model_validate(self.options)
        sink = self.kind.build(options, Services("copy", "Quillmere Orchard", FakeClock()))
        assert sink.batch_rows > 0
        sink.close()

    def test_all_rows_are_stored(self, rig: SinkRig, sink: Sink) -> None:
        rows = sample_rows(300)
        assert list(sink.write(rows)) == []
        check_stored(rig, rows)

    def test_no_rows_are_no_trouble(self, rig: SinkRig, sink: Sink) -> None:
        assert list(sink.write([])) == []
        assert not rig.stored()

    def test_a_row_without_numbers_still_tells_its_flag(self, rig: SinkRig, sink: Sink) -> None:
        (row,) = sample_rows(1)
        empty = replace(row, value=None, gauge_kpa=None, tension_kpa=None, flag=Flag.MISSING, cause=Cause.NO_VALUE)
        assert list(sink.write([empty])) == []
        check_stored(rig, [empty])

    def test_writing_twice_leaves_what_writing_once_leaves(self, rig: SinkRig, sink: Sink) -> None:
        rows = sample_rows(40)
        sink.write(rows)
        once = rig.stored()
        sink.write(rows[20:])
        sink.write(rows)
        assert rig.stored() == once

    def test_a_second_sink_on_the_same_server_changes_nothing(self, rig: SinkRig, sink: Sink) -> None:
        rows = sample_rows(40)
        sink.write(rows)
        once = rig.stored()
        second = rig.open()
        second.write(rows)
        second.close()
        assert rig.stored() == once

    def test_a_correction_in_a_later_batch_holds(self, rig: SinkRig, sink: Sink) -> None:
        first, *rest = sample_rows(20)
        corrected = replace(first, seq=first.seq + 1000, tension_kpa=11.25, gauge_kpa=-14.5)
        sink.write([first, *rest])
        sink.write([corrected])
        check_stored(rig, [corrected, *rest], in_doubt=() if self.overwrites else [first])

    def test_of_two_rows_with_one_time_in_a_batch_the_later_holds(self, rig: SinkRig, sink: Sink) -> None:
        first, *rest = sample_rows(20)
        corrected = replace(first, seq=first.seq + 1000, tension_kpa=11.25, gauge_kpa=-14.5)
        assert list(sink.write([first, *rest, corrected])) == []
        check_stored(rig, [corrected, *rest])

    def test_an_absent_server_is_raised_and_the_same_rows_succeed_later(self, rig: SinkRig, sink: Sink) -> None:
        early, late = sample_rows(60)[:30], sample_rows(60)[30:]
        sink.write(early)
        rig.lose()
        for _ in range(2):
            with pytest.raises(SinkUnavailable):
                sink.write(late)
        rig.restore()
        assert list(sink.write(late)) == []
        check_stored(rig, [*early, *late])

    def test_a_server_that_is_absent_from_the_start_is_raised(self, rig: SinkRig, sink: Sink) -> None:
        rows = sample_rows(5)
        rig.lose()
        with pytest.raises(SinkUnavailable):
            sink.write(rows)
        rig.restore()
        sink.write(rows)
        check_stored(rig, rows)

    def test_what_was_written_stays_after_close(self, rig: SinkRig) -> None:
        rows = sample_rows(30)
        sink = rig.open()
        sink.write(rows)
        sink.close()
        check_stored(rig, rows)


class JudgedSinkSuite(SinkSuite):
    """Tests for sinks whose server may refuse a row."""

    @pytest.fixture
    def rig(self) -> Iterator[JudgedSinkRig]:
        raise NotImplementedError("override the fixture `rig` with your sink's server")

    def test_a_refused_row_is_returned_and_the_others_are_stored(self, rig: JudgedSinkRig, sink: Sink) -> None:
        rows = sample_rows(90)
        bad = replace(rows[37], channel="bus1/broken")
        rig.refuse(bad.channel)
        (rejection,) = sink.write([*rows[:37], bad, *rows[38:]])
        assert rejection.seq == bad.seq
        assert rejection.reason
        assert "\n" not in rejection.reason
        check_stored(rig, [*rows[:37], *rows[38:]])

    def test_a_batch_of_refused_rows_is_returned_whole(self, rig: JudgedSinkRig, sink: Sink) -> None:
        bad = [replace(row, channel="bus1/broken") for row in sample_rows(3)]
        rig.refuse("bus1/broken")
        assert sorted(rejection.seq for rejection in sink.write(bad)) == [row.seq for row in bad]
        assert not rig.stored()

    def test_a_refused_row_does_not_stop_the_next_batch(self, rig: JudgedSinkRig, sink: Sink) -> None:
        rows = sample_rows(20)
        rig.refuse("bus1/broken")
        assert len(sink.write([replace(rows[0], channel="bus1/broken")])) == 1
        assert list(sink.write(rows[1:])) == []
        check_stored(rig, rows[1:])


def sample_rows(count: int) -> list[StoredReading]:
    """Make rows of four channels: three of tensiometers, one of a soil thermometer; some without numbers, some late."""
    return [_row(seq) for seq in range(1, count + 1)]


_PLACES = (
    Place("Quillmere Orchard", "north block", "n1", "n1-30", 0.3),
    Place("Quillmere Orchard", "north block", "n1", "n1-60", 0.6),
    Place("Quillmere Orchard", "creek terrace", "c2", "c2-45", 0.45),
)


def _row(seq: int) -> StoredReading:
    index = seq % 4
    time_us = START_US + (seq // 4) * STEP_US
    state = (Flag.SUSPECT, Cause.CLOCK, True, "") if seq % 7 == 0 else (Flag.PASS, Cause.NONE, False, "2026-03-01")
    if index == 3:
        return StoredReading(seq, time_us, "bus1/soil-c", None, 14.0 + seq / 8, Unit.CELSIUS, None, None, *state)
    gauge_kpa = -20.0 - seq / 16
    tension_kpa = None if seq % 11 == 0 else -gauge_kpa - 3.0
    return StoredReading(
        seq, time_us, f"bus1/a{index}", _PLACES[index], 480.0 + seq / 4, Unit.MV, gauge_kpa, tension_kpa, *state
    )


def check_stored(rig: SinkRig, rows: Sequence[StoredReading], in_doubt: Sequence[StoredReading] = ()) -> None:
    """Compare all that the server holds with ``rows``; a number may also be that of a row ``in_doubt``."""
    stored = rig.stored()
    wanted = {(row.channel, row.time_us): [row] for row in rows}
    for row in in_doubt:
        wanted[row.channel, row.time_us].append(row)
    assert stored.keys() == wanted.keys()
    for key, choice in wanted.items():
        assert _agree(stored[key], choice), f"{stored[key]} is not {choice}"


def _agree(stored: Stored, rows: Sequence[StoredReading]) -> bool:
    return (
        any(_equal(stored.value, row.value) for row in rows)
        and any(_equal(stored.gauge_kpa, row.gauge_kpa) for row in rows)
        and any(_equal(stored.tension_kpa, row.tension_kpa) for row in rows)
        and (stored.flag is None or any(stored.flag == row.flag for row in rows))
    )


def _equal(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=1e-12, abs_tol=1e-12)
