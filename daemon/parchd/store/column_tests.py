"""The quality tests over columns of readings that are computed anew: the same tests, one reading after another."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from parchd.contract import Cause
from parchd.pipeline.columns import ConvertedColumns
from parchd.quality.limits import Limits
from parchd.quality.stage import Revised
from parchd.quality.track import MEASURED, OPEN, PASSED, step
from parchd.store.tracks import revise, tracks_before

_FOLLOWED = np.array([cause in MEASURED or cause is Cause.SERVICE for cause in sorted(Cause)], dtype=np.bool_)
_AFTER = """
SELECT time_us, tension_kpa, ifnull(own_cause, cause), calibration FROM journal
WHERE time_us >= ? AND time_us <= ? AND channel_id = ? AND NOT late ORDER BY time_us
"""


class ColumnTests:
    """What the tests remember on the way through a span of time.

    Args:
        limits: by the id of the channel.
        begin_us: where the span begins; what came before it is in the journal.
    """

    def __init__(self, connection: sqlite3.Connection, limits: Mapping[int, Limits], begin_us: int) -> None:
        self._connection = connection
        self._limits = limits
        self._tracks = tracks_before(connection, limits, begin_us)
        self._names = dict(connection.execute("SELECT id, name FROM channel"))
        self._revised: list[Revised] = []

    def judge(
        self,
        channel_id: int,
        time_us: NDArray[np.int64],
        in_time: NDArray[np.bool_],
        converted: ConvertedColumns,
        cause: NDArray[np.int64],
    ) -> None:
        """Test readings of a channel in the order of time; ``cause`` is changed in place.

        Args:
            in_time: which of them were not late.
            cause: what is known otherwise.
        """
        at = np.flatnonzero(in_time & _FOLLOWED[cause] & (~np.isnan(converted.tension_kpa) | (cause == Cause.SERVICE)))
        limits, tracks, labels, last = self._limits[channel_id], self._tracks, converted.labels, -1
        columns = (at, time_us[at], converted.tension_kpa[at], cause[at], converted.stretch[at])
        for row, when_us, kpa, known, stretch in zip(*(column.tolist() for column in columns), strict=True):
            verdict = step(limits, tracks, channel_id, when_us, kpa, known, labels[stretch])
            if verdict is not PASSED:
                if verdict.spike_us is not None and last >= 0:
                    cause[last] = Cause.SPIKE
                elif verdict.spike_us is not None:
                    self._revised.append(Revised(self._names[channel_id], verdict.spike_us, Cause.SPIKE))
                if verdict.cause and known in OPEN:
                    cause[row] = verdict.cause
            last = row

    def revise(self) -> None:
        """Flag rows that were written before a later one showed what they are, within a transaction."""
        if self._revised:
            revise(self._connection, self._revised)
            self._revised.clear()

    def look_beyond(self, end_us: int) -> None:
        """Let the reading after the span say whether the last one in it was a spike, within a transaction."""
        for channel_id, track in list(self._tracks.items()):
            limits = self._limits[channel_id]
            if not track.may_be_spike(limits):
                continue
            last_us, until_us = track.last_us, track.last_us + limits.gap_us
            for when_us, kpa, cause, label in self._connection.execute(_AFTER, (end_us, until_us, channel_id)):
                verdict = step(limits, self._tracks, channel_id, when_us, kpa, cause, label)
                if verdict.spike_us is not None:
                    self._revised.append(Revised(self._names[channel_id], verdict.spike_us, Cause.SPIKE))
                if channel_id not in self._tracks or self._tracks[channel_id].last_us != last_us:
                    break
        self.revise()
