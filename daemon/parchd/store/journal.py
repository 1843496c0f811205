"""Writing readings: raw first, one row per channel and time."""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import repeat

from parchd.contract import Cause, Reading
from parchd.store.codes import TIME_SOURCE_CODE, UNIT_CODE

_INSERT = "INSERT OR IGNORE INTO journal VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)"
_LATEST = """
INSERT INTO latest VALUES (?,?,?,?,?,?,?,?,?,?,?)
ON CONFLICT (channel_id) DO UPDATE SET time_us = excluded.time_us, received_us = excluded.received_us,
  value = excluded.value, unit = excluded.unit, gauge_kpa = excluded.gauge_kpa, tension_kpa = excluded.tension_kpa,
  flag = excluded.flag, cause = excluded.cause, uncertainty_kpa = excluded.uncertainty_kpa,
  heard_us = max(heard_us, excluded.heard_us)
"""
_REWRITE = (
    "UPDATE journal SET gauge_kpa = ?, tension_kpa = ?, flag = ?, cause = ?, calibration = ?,"
    " uncertainty_kpa = ?, own_cause = nullif(?, -1) WHERE time_us = ? AND channel_id = ?"
)
MAX_CHANNELS = 4096
NO_OWN_CAUSE = -1
"""Stands where the cause of a row is its own."""

Rewritten = tuple[float | None, float | None, int, int, str, float | None, int, int, int]
"""Gauge pressure, tension, flag, cause, calibration, uncertainty, its own cause; then time and channel of the row."""


class Journal:
    """The writing end of the journal. One thread owns it."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._channels: dict[str, int] = {}
        self._next_seq = 1
        self._failed = False
        self._load()

    @contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """One unit of work: all of it is on disk at the end, or none of it is."""
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            if self._failed:
                self._load()
            yield self._connection
            self._connection.execute("COMMIT")
        except BaseException:
            self._failed = True
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
            raise

    @property
    def newest_seq(self) -> int:
        """Number of the row that was written last."""
        return self._next_seq - 1

    def channel_id(self, name: str) -> int | None:
        """Number of a channel; ``None``: nothing of it is stored."""
        return self._channels.get(name)

    def write(self, readings: Sequence[Reading], own: Sequence[Cause | None] = ()) -> int:
        """Store readings within a transaction; return how many were new.

        A row that is there already (same channel and time: a redelivery) stays as it is. Beyond 4096 channels, new
        ones are not stored: no device may fill the disk by inventing names.

        Args:
            own: for each reading the cause it would have without the diagnosis; ``None``: what it has; empty: all so.
        """
        rows: list[tuple[object, ...]] = []
        latest: dict[int, Reading] = {}
        heard_us: dict[int, int] = {}
        for reading, own_cause in zip(readings, own or repeat(None), strict=False):
            channel_id = self._channels.get(reading.channel) or self._add_channel(reading.channel)
            if channel_id is None:
                continue
            rows.append(_row(reading, channel_id, self._next_seq, own_cause))
            self._next_seq += 1
            if not reading.late:
                latest[channel_id] = reading
                if reading.sample.value is not None:
                    heard_us[channel_id] = reading.received_us
        new = self._connection.executemany(_INSERT, rows).rowcount
        newest = [_latest_row(reading, key, heard_us.get(key, 0)) for key, reading in latest.items()]
        self._connection.executemany(_LATEST, newest)
        return new

    def delete_before(self, time_us: int, limit: int) -> int:
        """Delete at most ``limit`` rows measured before ``time_us``, within a transaction; return how many."""
        cursor = self._connection.execute(
            "DELETE FROM journal WHERE (time_us, channel_id) IN"
            " (SELECT time_us, channel_id FROM journal WHERE time_us < ? ORDER BY time_us LIMIT ?)",
            (time_us, limit),
        )
        return cursor.rowcount

    def rewrite(self, rows: Sequence[Rewritten]) -> None:
        """Put what was computed anew in the place of what was, within a transaction."""
        self._connection.executemany(_REWRITE, rows)

    def refresh_latest(self) -> None:
        """Bring what is known of the newest samples in line with their rows, within a transaction."""
        self._connection.execute(
            "UPDATE latest SET gauge_kpa = j.gauge_kpa, tension_kpa = j.tension_kpa, flag = j.flag, cause = j.cause,"
            " uncertainty_kpa = j.uncertainty_kpa FROM journal AS j"
            " WHERE j.time_us = latest.time_us AND j.channel_id = latest.channel_id AND NOT j.late"
        )

    def checkpoint(self) -> None:
        """Fold the write-ahead log into the database; outside of a transaction."""
        self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def close(self) -> None:
        self._connection.close()

    def _add_channel(self, name: str) -> int | None:
        if len(self._channels) >= MAX_CHANNELS:
            return None
        cursor = self._connection.execute("INSERT INTO channel (name) VALUES (?) RETURNING id", (name,))
        (channel_id,) = cursor.fetchone()
        self._channels[name] = channel_id
        return int(channel_id)

    def _load(self) -> None:
        """Take what is on disk as the truth: at the start, and after a transaction that failed."""
        self._channels = dict(self._connection.execute("SELECT name, id FROM channel"))
        (newest,) = self._connection.execute("SELECT coalesce(max(seq), 0) FROM journal").fetchone()
        (kept,) = self._connection.execute(
            "SELECT max(coalesce((SELECT max(seq) FROM sink), 0), coalesce((SELECT max(seq) FROM diagnosis_note), 0))"
        ).fetchone()
        self._next_seq = max(newest, kept) + 1
        self._failed = False


def _row(reading: Reading, channel_id: int, seq: int, own: Cause | None) -> tuple[object, ...]:
    sample = reading.sample
    return (
        sample.time_us, channel_id, seq, reading.received_us, sample.value, UNIT_CODE[sample.unit],
        TIME_SOURCE_CODE[sample.time_source], reading.gauge_kpa, reading.tension_kpa, int(reading.flag),
        int(reading.cause), int(reading.late), reading.calibration, reading.uncertainty_kpa,
        None if own is None else int(own),
    )  # fmt: skip


def _latest_row(reading: Reading, channel_id: int, heard_us: int) -> tuple[object, ...]:
    sample = reading.sample
    return (
        channel_id, sample.time_us, reading.received_us, sample.value, UNIT_CODE[sample.unit], reading.gauge_kpa,
        reading.tension_kpa, int(reading.flag), int(reading.cause), heard_us, reading.uncertainty_kpa,
    )  # fmt: skip
