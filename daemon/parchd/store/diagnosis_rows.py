"""Rows of the journal that the hours which were open at the end had taken."""

import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from parchd.contract import Cause, Flag, Reading, Sample
from parchd.diagnosis.device_clock import off_by
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.setup import DiagnosisSetup
from parchd.diagnosis.standing import DiagnosisState
from parchd.store.codes import TIME_SOURCE_OF_CODE, UNIT_OF_CODE

_SELECT = (
    "SELECT seq, name, time_us, received_us, value, unit, time_source, gauge_kpa, tension_kpa, flag,"
    " ifnull(own_cause, cause), late, calibration, uncertainty_kpa"
    " FROM journal JOIN channel ON channel.id = channel_id WHERE"
)

NOT_YET = 2**62
_NEVER_TAKEN = (Cause.CLOCK, Cause.TIME_UNKNOWN)
_KEPT_RAW = (int(Flag.NOT_EVALUATED), int(Cause.NONE))
"""Flag and cause of what broke the engine when it came: the diagnosis never saw it."""


def rows_to_take(
    connection: sqlite3.Connection,
    setup: DiagnosisSetup,
    state: DiagnosisState,
    marks: Mapping[str, int],
) -> Iterator[tuple[int, Reading]]:
    """Give number and reading of each row in the order of writing: those of open hours, and all after the marks.

    Args:
        marks: row up to which the note of each source holds; a source without one has taken nothing.
    """
    wanted = {one.channel for one in setup.instruments} | {one.temperature_channel for one in setup.instruments}
    wanted.add(setup.barometer_channel)
    rows: dict[int, tuple[Any, ...]] = {}
    for begin_us, end_us in _merged(_open_spans(connection, setup, state)):
        for row in connection.execute(f"{_SELECT} time_us >= ? AND time_us < ?", (begin_us, end_us)):
            rows[row[0]] = row
    if marks:
        for row in connection.execute(f"{_SELECT} seq > ?", (min(marks.values()),)):
            if row[1] not in state.standings or row[0] > marks.get(row[1].partition("/")[0], NOT_YET):
                rows[row[0]] = row
    begun = dict(connection.execute("SELECT subject, seq FROM diagnosis_note WHERE newest_us = 0"))
    for seq in sorted(rows):
        row = rows[seq]
        passed_over = row[1] in state.standings and (row[9:11] == _KEPT_RAW or seq <= begun.get(row[1], 0))
        if row[1] in wanted and not passed_over:
            yield seq, _reading(row)


def have_other_rows(connection: sqlite3.Connection, readings: Iterable[Reading]) -> bool:
    """Whether one of these readings has no row of its own: a doubtful one of the same time was there already."""
    asked = [(reading.sample.time_us, reading.channel) for reading in readings if reading.cause not in _NEVER_TAKEN]
    query = (
        "SELECT flag, ifnull(own_cause, cause) FROM journal WHERE time_us = ?"
        " AND channel_id = (SELECT id FROM channel WHERE name = ?)"
    )
    rows = (connection.execute(query, key).fetchone() for key in asked)
    return any(row is not None and (row[1] in _NEVER_TAKEN or row == _KEPT_RAW) for row in rows)


def _open_spans(
    connection: sqlite3.Connection, setup: DiagnosisSetup, state: DiagnosisState
) -> Iterator[tuple[int, int]]:
    """Span of the open hours of each source, and of the air."""
    latest_us = dict(connection.execute("SELECT name, time_us FROM latest JOIN channel ON channel.id = channel_id"))
    newest_us = dict(connection.execute("SELECT subject, newest_us FROM diagnosis_note"))
    for name, source in state.sources.items():
        theirs = [one for one in setup.instruments if one.source == name]
        warm_us = max((latest_us.get(one.temperature_channel, 0) for one in theirs), default=0)
        if source.closed:
            begin_us, last_us = (source.closed + 1) * HOUR_US, newest_us.get(f"source/{name}", 0)
            off_us, _ = off_by(source)
            yield begin_us, max(last_us, warm_us) + 1
            yield begin_us - off_us, max(last_us - off_us, warm_us) + 1
    if state.air.end:
        yield state.air.end * HOUR_US, latest_us.get(setup.barometer_channel, 0) + 1


def _merged(spans: Iterator[tuple[int, int]]) -> list[tuple[int, int]]:
    """Put spans together that touch.

    >>> _merged(iter([(5, 9), (0, 3), (2, 4), (7, 7)]))
    [(0, 4), (5, 9)]
    """
    merged: list[tuple[int, int]] = []
    for begin_us, end_us in sorted(span for span in spans if span[0] < span[1]):
        if merged and begin_us <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end_us))
        else:
            merged.append((begin_us, end_us))
    return merged


def _reading(row: tuple[Any, ...]) -> Reading:
    _, name, time_us, received_us, value, unit, time_source, gauge_kpa, tension_kpa, flag, cause, late, label, u = row
    sample = Sample(name.partition("/")[2], time_us, value, UNIT_OF_CODE[unit], TIME_SOURCE_OF_CODE[time_source])
    return Reading(sample, name, received_us, gauge_kpa, tension_kpa, Flag(flag), Cause(cause), bool(late), label, u)
