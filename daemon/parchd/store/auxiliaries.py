"""What supply, temperature and barometer channels said when each sample arrived."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from parchd.contract import Cause, TimeSource, Unit
from parchd.pipeline.setup import TensiometerSetup
from parchd.pipeline.stage import AUXILIARY_MAX_AGE_US, FUTURE_TOLERANCE_US, auxiliary_channels, auxiliary_value
from parchd.store.codes import TIME_SOURCE_CODE, UNIT_OF_CODE

Floats = NDArray[np.float64]
Times = NDArray[np.int64]

_UNKNOWN = TIME_SOURCE_CODE[TimeSource.UNKNOWN]


@dataclass(frozen=True, slots=True)
class _Known:
    """Believed samples of one channel in the order they arrived."""

    received_us: Times
    time_us: Times
    value: Floats


class Auxiliaries:
    """Samples of auxiliary channels around a span of time."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        setups: Sequence[TensiometerSetup],
        ids: Mapping[str, int],
        begin_us: int,
        end_us: int,
    ) -> None:
        wanted: dict[str, frozenset[Unit]] = {}
        for setup in setups:
            for channel, units in auxiliary_channels(setup):
                wanted[channel] = wanted.get(channel, frozenset()) | units
        around = (begin_us - AUXILIARY_MAX_AGE_US, end_us + AUXILIARY_MAX_AGE_US)
        self._known = {
            channel: _read(connection, ids[channel], around, units)
            for channel, units in wanted.items()
            if channel in ids
        }

    def known(
        self, setup: TensiometerSetup, time_us: Times, received_us: Times
    ) -> tuple[Floats | None, Floats | None, Floats | None]:
        """Give supply (V), temperature (degC) and air (kPa) for samples of a tensiometer, NaN: not known."""
        return (
            self._at(setup.supply_channel, time_us, received_us),
            self._at(setup.temperature_channel, time_us, received_us),
            self._at(setup.barometer_channel, time_us, received_us),
        )

    def _at(self, channel: str | None, time_us: Times, received_us: Times) -> Floats | None:
        if channel is None:
            return None
        known = self._known.get(channel)
        if known is None or not len(known.time_us):
            return np.full(len(time_us), np.nan)
        newest = _newest_before(known, time_us, received_us)
        value = known.value[newest]
        aged = np.abs(time_us - known.time_us[newest]) > AUXILIARY_MAX_AGE_US
        return np.where((newest < 0) | aged, np.nan, value)


def _read(connection: sqlite3.Connection, channel_id: int, around: tuple[int, int], units: frozenset[Unit]) -> _Known:
    """Read what was believed on arrival: in the order of time, with a time that could be, in a unit that fits."""
    rows = connection.execute(
        "SELECT received_us, time_us, value, unit, time_source, cause FROM journal WHERE time_us >= ? AND time_us <= ?"
        " AND channel_id = ? ORDER BY received_us, time_us",
        (*around, channel_id),
    )
    newest_us, believed = -1, []
    for received_us, time_us, value, code, time_source, cause in rows:
        unit = UNIT_OF_CODE[code]
        doubted = cause == Cause.CLOCK or time_source == _UNKNOWN or time_us > received_us + FUTURE_TOLERANCE_US
        if time_us > newest_us and not doubted:
            newest_us = time_us
            if unit in units:
                believed.append((received_us, time_us, np.nan if value is None else auxiliary_value(value, unit)))
    received, times, values = zip(*believed, strict=True) if believed else ((), (), ())
    return _Known(
        np.array(received, dtype=np.int64), np.array(times, dtype=np.int64), np.array(values, dtype=np.float64)
    )


def _newest_before(known: _Known, time_us: Times, received_us: Times) -> NDArray[np.intp]:
    """Find for each sample the last auxiliary that had arrived, one of the same batch only if it is not younger.

    Position in ``known``; -1: none.
    """
    size = len(known.time_us)
    received = np.concatenate((known.received_us, received_us))
    times = np.concatenate((known.time_us, time_us))
    is_sample = np.repeat((0, 1), (size, len(time_us)))
    order = np.lexsort((is_sample, times, received))
    position = np.where(order < size, order, -1)
    last = np.maximum.accumulate(position)
    found = np.empty(len(order), dtype=np.intp)
    found[order] = last
    return found[size:]
