"""Computing readings anew from raw samples, after a calibration, a height or a service has changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any

import numpy as np
from numpy.typing import NDArray

from parchd.contract import Cause, TimeSource
from parchd.physics.causes import flag_of
from parchd.pipeline.columns import Circumstances, ColumnConversion, ConvertedColumns
from parchd.pipeline.services import Services
from parchd.pipeline.setup import PipelineSetup, TensiometerSetup
from parchd.pipeline.stage import FUTURE_TOLERANCE_US, quality_limits
from parchd.store.auxiliaries import Auxiliaries
from parchd.store.codes import TIME_SOURCE_CODE, UNIT_OF_CODE
from parchd.store.column_tests import ColumnTests
from parchd.store.cursors import note_rewritten
from parchd.store.doubts import NO_DOUBT, YIELDING, Doubt, doubts
from parchd.store.journal import NO_OWN_CAUSE, Journal, Rewritten
from parchd.store.tracks import forget_tracks

SLICE_ROWS = 100_000
"""So many rows are held in memory at a time."""

Floats = NDArray[np.float64]
Progress = Callable[[float], None]

_FLAGS = np.array([int(flag_of(cause)) for cause in sorted(Cause)], dtype=np.uint8)
_YIELDS = np.array([cause in YIELDING for cause in sorted(Cause)], dtype=np.bool_)
_QUERY = """
SELECT channel_id, time_us, received_us, ifnull(value, 9e999), unit, time_source, ifnull(gauge_kpa, 9e999),
  ifnull(tension_kpa, 9e999), flag, cause, CASE calibration WHEN '' THEN 0 ELSE label_number(calibration) END,
  ifnull(uncertainty_kpa, 9e999), late, ifnull(own_cause, cause)
FROM journal WHERE (time_us, channel_id) > (?, ?) AND time_us < ? ORDER BY time_us, channel_id LIMIT ?
"""


_NUMBERS = (np.int64, np.int64, np.int64, np.float64, np.int64, np.int64, np.float64, np.float64, np.int64, np.int64,
            np.int64, np.float64, np.int64, np.int64)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Recount:
    """What computing anew came to: rows looked at, and rows that came out different."""

    rows: int
    changed: int


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of the journal as columns, in the order of time; NaN: no number. Labels of calibrations are numbers."""

    channel_id: NDArray[np.int64]
    time_us: NDArray[np.int64]
    received_us: NDArray[np.int64]
    value: Floats
    unit: NDArray[np.int64]
    time_source: NDArray[np.int64]
    gauge_kpa: Floats
    tension_kpa: Floats
    flag: NDArray[np.int64]
    cause: NDArray[np.int64]
    calibration: NDArray[np.int64]
    uncertainty_kpa: Floats
    late: NDArray[np.int64]
    own_cause: NDArray[np.int64]

    def of(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> Rows:
        """Some of the rows."""
        return Rows(*(getattr(self, name)[chosen] for name in self.__slots__))


@dataclass(frozen=True, slots=True)
class Changed:
    """Rows that came out different, as columns; the order of `Rewritten`."""

    gauge_kpa: Floats
    tension_kpa: Floats
    flag: NDArray[np.uint8]
    cause: NDArray[np.int64]
    calibration: NDArray[np.object_]
    uncertainty_kpa: Floats
    own_cause: NDArray[np.int64]
    time_us: NDArray[np.int64]
    channel_id: NDArray[np.int64]


def reprocess(
    connection: sqlite3.Connection,
    journal: Journal,
    setup: PipelineSetup,
    services: Mapping[str, Services],
    span_us: tuple[int, int],
    progress: Progress,
    tensiometers: Sequence[str] = (),
) -> Recount:
    """Compute the readings of a span of time anew, in the transaction that is open.

    With nothing changed since, nothing changes, bit for bit: supply, temperature and barometer are those that were
    known when each sample arrived, and the quality tests run on from what they remembered before the span. Only rows
    that come out different are written; sinks copy the span again. Lateness and doubts about the time stay as they were
    found on arrival, and what findings say of a tensiometer holds for its readings as before. Alarms are not judged
    anew.

    Args:
        services: by channel.
        span_us: begin and end of the time of measurement; the end does not belong to it.
        progress: called with the share that is done, 0 to 1.
        tensiometers: whose readings; empty: all.
    """
    labels = _Labels()
    connection.create_function("label_number", 1, labels.number)
    ids = dict(connection.execute("SELECT name, id FROM channel"))
    chosen = [t for t in setup.tensiometers if not tensiometers or t.place.tensiometer in tensiometers]
    begin_us, end_us = _filled_span(connection, span_us)
    tests = ColumnTests(connection, {ids[t.channel]: quality_limits(t) for t in chosen if t.channel in ids}, begin_us)
    doubted = doubts(connection, {t.place.tensiometer: t.channel for t in chosen})
    works = {
        ids[t.channel]: _Work(t, services.get(t.channel, Services()), labels, tests, doubted.get(t.channel, NO_DOUBT))
        for t in chosen
        if t.channel in ids
    }
    rows = changed = 0
    touched: set[int] = set()
    for part in _slices(connection, begin_us, end_us):
        auxiliaries = Auxiliaries(connection, chosen, ids, int(part.time_us[0]), int(part.time_us[-1]))
        found: list[Changed] = []
        for channel_id, theirs in _by_channel(part):
            if channel_id in works:
                found += works[channel_id].anew(theirs, auxiliaries)
                rows += len(theirs.time_us)
        anew = _in_order(found)
        journal.rewrite(anew)
        tests.revise()
        changed += len(anew)
        touched.update(int(columns.channel_id[0]) for columns in found)
        progress((int(part.time_us[-1]) - begin_us) / max(1, end_us - begin_us))
    tests.look_beyond(end_us)
    if changed:
        forget_tracks(connection, touched)
        journal.refresh_latest()
        note_rewritten(connection, (begin_us, end_us), sorted(touched))
    progress(1.0)
    return Recount(rows, changed)


def _filled_span(connection: sqlite3.Connection, span_us: tuple[int, int]) -> tuple[int, int]:
    """Narrow a span to where there are rows, so that progress means something."""
    first, last = connection.execute(
        "SELECT (SELECT min(time_us) FROM journal WHERE time_us >= ?),"
        " (SELECT max(time_us) FROM journal WHERE time_us < ?)",
        span_us,
    ).fetchone()
    return (0, 0) if first is None or last is None else (max(first, span_us[0]), min(last + 1, span_us[1]))


def _slices(connection: sqlite3.Connection, begin_us: int, end_us: int) -> Iterator[Rows]:
    position = (begin_us, -1)
    while rows := connection.execute(_QUERY, (*position, end_us, SLICE_ROWS)).fetchall():
        position = (rows[-1][1], rows[-1][0])
        yield _columns(rows)


def _columns(rows: Sequence[tuple[float, ...]]) -> Rows:
    """Turn rows of numbers into columns; times in microseconds are whole numbers that a float holds exactly."""
    width = len(_NUMBERS)
    table = np.fromiter(chain.from_iterable(rows), np.float64, len(rows) * width).reshape(-1, width).T
    table[np.isinf(table)] = np.nan
    columns: list[Any] = [np.ascontiguousarray(column, kind) for column, kind in zip(table, _NUMBERS, strict=True)]
    return Rows(*columns)


def _by_channel(rows: Rows) -> Iterator[tuple[int, Rows]]:
    order = np.argsort(rows.channel_id, kind="stable")
    channels, begins = np.unique(rows.channel_id[order], return_index=True)
    for channel_id, chosen in zip(channels.tolist(), np.split(order, begins[1:]), strict=True):
        yield channel_id, rows.of(chosen)


class _Labels:
    """Numbers for the labels of calibrations; 0: no calibration."""

    def __init__(self) -> None:
        self._numbers = {"": 0}

    def number(self, label: str) -> int:
        return self._numbers.setdefault(label, len(self._numbers))


class _Work:
    """What is to be done for one tensiometer."""

    def __init__(
        self, setup: TensiometerSetup, services: Services, labels: _Labels, tests: ColumnTests, doubt: Doubt
    ) -> None:
        self._labels = labels
        self._doubt = doubt
        self._tests = tests
        self._setup = setup
        self._services = services
        self._convert = ColumnConversion(setup)

    def anew(self, rows: Rows, auxiliaries: Auxiliaries) -> list[Changed]:
        """Give the rows that come out different."""
        converted = self._converted(rows, auxiliaries)
        own = self._causes(rows, converted)
        self._tests.judge(int(rows.channel_id[0]), rows.time_us, rows.late == 0, converted, own)
        return _different(rows, converted, own, self._doubted(rows, converted, own), self._labels)

    def _converted(self, rows: Rows, auxiliaries: Auxiliaries) -> ConvertedColumns:
        """Convert each row in its unit; a channel seldom has more than one."""
        known = Circumstances(*auxiliaries.known(self._setup, rows.time_us, rows.received_us), self._heights(rows))
        first, *others = np.unique(rows.unit).tolist()
        whole = self._convert(rows.value, UNIT_OF_CODE[first], rows.time_us, known)
        for code in others:
            chosen = rows.unit == code
            part = self._convert(rows.value, UNIT_OF_CODE[code], rows.time_us, known)
            for name in ("gauge_kpa", "tension_kpa", "uncertainty_kpa", "cause"):
                getattr(whole, name)[chosen] = getattr(part, name)[chosen]
        return whole

    def _heights(self, rows: Rows) -> Floats | None:
        if not self._services.levels:
            return None
        return np.array([self._services.height_m(int(time_us)) for time_us in rows.time_us])

    def _causes(self, rows: Rows, converted: ConvertedColumns) -> NDArray[np.int64]:
        """Put together what the chain found, doubts on arrival, and services, which cover all but a missing value."""
        cause = converted.cause.astype(np.int64)
        arrival = rows.time_source == TIME_SOURCE_CODE[TimeSource.ARRIVAL]
        wrong = (rows.time_us > rows.received_us + FUTURE_TOLERANCE_US) | (arrival & (rows.cause == Cause.CLOCK))
        good = cause == Cause.NONE
        cause[good & wrong] = Cause.CLOCK
        cause[good & (rows.time_source == TIME_SOURCE_CODE[TimeSource.UNKNOWN])] = Cause.TIME_UNKNOWN
        for begin_us, end_us in self._services.spans_us:
            marked = (rows.time_us >= begin_us) & (rows.time_us < end_us)
            cause[marked & (cause != Cause.NO_VALUE)] = Cause.SERVICE
        return cause

    def _doubted(self, rows: Rows, converted: ConvertedColumns, own: NDArray[np.int64]) -> NDArray[np.int64]:
        """Put what findings say over the causes that readings have of their own."""
        if not self._doubt.begins_us:
            return own
        cause = own.copy()
        yields = _YIELDS[own] & ~np.isnan(converted.tension_kpa)
        for begin_us, end_us, doubt in self._doubt.pieces(int(rows.time_us[0]), int(rows.time_us[-1]) + 1):
            if doubt:
                cause[yields & (rows.time_us >= begin_us) & (rows.time_us < end_us)] = doubt
        return cause


def _different(
    rows: Rows, new: ConvertedColumns, own: NDArray[np.int64], cause: NDArray[np.int64], known: _Labels
) -> list[Changed]:
    numbers = np.array([known.number(label) for label in new.labels])[new.stretch]
    numbers[np.isnan(new.tension_kpa)] = 0
    flag = _FLAGS[cause]
    changed = (cause != rows.cause) | (flag != rows.flag) | (numbers != rows.calibration) | (own != rows.own_cause)
    pairs = ((new.gauge_kpa, rows.gauge_kpa), (new.tension_kpa, rows.tension_kpa),
             (new.uncertainty_kpa, rows.uncertainty_kpa))  # fmt: skip
    for one, other in pairs:
        changed |= (one != other) & ~(np.isnan(one) & np.isnan(other))
    at = np.flatnonzero(changed)
    if not len(at):
        return []
    labels = np.array(new.labels, dtype=np.object_)[new.stretch[at]]
    labels[numbers[at] == 0] = ""
    columns = (new.gauge_kpa[at], new.tension_kpa[at], flag[at], cause[at], labels, new.uncertainty_kpa[at])
    kept = np.where(own == cause, NO_OWN_CAUSE, own)[at]
    return [Changed(*columns, kept, rows.time_us[at], rows.channel_id[at])]


def _in_order(found: Sequence[Changed]) -> list[Rewritten]:
    """Put rows in the order in which they lie on the disk: written so, they take little more than half the time."""
    if not found:
        return []
    together = Changed(*(np.concatenate([getattr(one, name) for one in found]) for name in Changed.__slots__))
    order = np.lexsort((together.channel_id, together.time_us))
    columns = [getattr(together, name)[order] for name in Changed.__slots__]
    return list(zip(*(_numbers(c) if c.dtype == np.float64 else c.tolist() for c in columns), strict=True))


def _numbers(column: Floats) -> list[float | None]:
    numbers: list[float | None] = column.tolist()
    if np.isnan(column).any():
        return [None if number != number else number for number in numbers]
    return numbers
