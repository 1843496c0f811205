"""Keeping what the quality tests remember over a restart, and mending what later samples showed in another light."""

import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from parchd.contract import Cause
from parchd.physics.causes import flag_of
from parchd.quality.limits import Limits
from parchd.quality.ranges import Bucket, Ranges
from parchd.quality.rate import Baseline
from parchd.quality.stage import Revised
from parchd.quality.track import FOUND_HERE, Track, step
from parchd.store.cursors import note_rewritten

_ROWS = """
SELECT time_us, channel_id, tension_kpa, ifnull(own_cause, cause), calibration FROM journal
WHERE time_us > ? AND time_us <= ? AND NOT late ORDER BY time_us, channel_id
"""
_REVISE = """
UPDATE journal SET flag = iif(own_cause IS NULL, ?1, flag), cause = iif(own_cause IS NULL, ?2, cause),
  own_cause = iif(own_cause IS NULL, NULL, ?2)
WHERE time_us = ?3 AND channel_id = (SELECT id FROM channel WHERE name = ?4)
  AND ifnull(own_cause, cause) IN (SELECT value FROM json_each(?5))
"""
_MENDED = json.dumps([int(cause) for cause in sorted(FOUND_HERE | {Cause.NONE})])

Span = tuple[int, int]
"""After one time, up to and with another, microseconds."""


def load_tracks(connection: sqlite3.Connection, limits: Mapping[str, Limits]) -> dict[str, Track]:
    """Give what the tests remember of each channel: what was kept, and the samples in the journal since then.

    It is what they remembered before a restart, for only samples within reach of the newest one matter.
    """
    kept = {row[0]: row[1:] for row in connection.execute("SELECT channel_id, time_us, bucket_us, track FROM quality")}
    newest = connection.execute("SELECT name, channel_id, time_us FROM latest JOIN channel ON channel.id = channel_id")
    names, spans, tracks = {}, {}, {}
    for name, channel_id, newest_us in newest:
        if name not in limits:
            continue
        names[channel_id] = name
        start_us = newest_us - limits[name].reach_us
        kept_us, bucket_us, text = kept.get(channel_id, (-1, 0, ""))
        if start_us <= kept_us <= newest_us and bucket_us == limits[name].bucket_us:
            start_us, tracks[channel_id] = kept_us, _decoded(text, limits[name])
        spans[channel_id] = (start_us, newest_us)
    _follow(connection, {key: limits[name] for key, name in names.items()}, spans, tracks)
    return {names[channel_id]: track for channel_id, track in tracks.items()}


def tracks_before(connection: sqlite3.Connection, limits: Mapping[int, Limits], time_us: int) -> dict[int, Track]:
    """Give what the tests remembered of each channel, by its id, when its first sample of a time or later came."""
    spans = {channel_id: (time_us - theirs.reach_us - 1, time_us - 1) for channel_id, theirs in limits.items()}
    tracks: dict[int, Track] = {}
    _follow(connection, limits, spans, tracks)
    return tracks


def forget_tracks(connection: sqlite3.Connection, channel_ids: Iterable[int]) -> None:
    """Let the tests remember what the journal says, for its rows were computed anew; within a transaction."""
    connection.executemany("DELETE FROM quality WHERE channel_id = ?", [(channel_id,) for channel_id in channel_ids])


def revise(connection: sqlite3.Connection, revised: Sequence[Revised]) -> None:
    """Flag rows that later ones showed in another light, within a transaction; sinks copy them again.

    What the diagnosis or a service says of a row by now stays.
    """
    rows = [(int(flag_of(one.cause)), int(one.cause), one.time_us, one.channel, _MENDED) for one in revised]
    connection.executemany(_REVISE, rows)
    times_us = [one.time_us for one in revised]
    names = json.dumps(sorted({one.channel for one in revised}))
    ids = connection.execute(
        "SELECT id FROM channel WHERE name IN (SELECT value FROM json_each(?)) ORDER BY id", (names,)
    )
    note_rewritten(connection, (min(times_us), max(times_us) + 1), [channel_id for (channel_id,) in ids])


class TrackKeeper:
    """Writes what the tests remember, now and then: a start reads the journal only from there on."""

    def __init__(self) -> None:
        self._kept_us: dict[str, int] = {}

    def save(self, connection: sqlite3.Connection, limits: Mapping[str, Limits], tracks: Mapping[str, Track]) -> None:
        """Write the tracks that went on since they were last written, within a transaction."""
        rows = [
            (track.last_us, limits[name].bucket_us, _encoded(track), name)
            for name, track in tracks.items()
            if name in limits and self._kept_us.get(name) != track.last_us
        ]
        connection.executemany(
            "INSERT OR REPLACE INTO quality (time_us, bucket_us, track, channel_id)"
            " SELECT ?, ?, ?, id FROM channel WHERE name = ?",
            rows,
        )
        self._kept_us.update((name, last_us) for last_us, _, _, name in rows)


def _follow(
    connection: sqlite3.Connection,
    limits: Mapping[int, Limits],
    spans: Mapping[int, Span],
    tracks: dict[int, Track],
) -> None:
    """Let tracks take the rows of their spans; every row of the journal is read once at most."""
    nowhere = (0, 0)
    for span in _merged(spans.values()):
        for time_us, channel_id, kpa, cause, label in connection.execute(_ROWS, span):
            after_us, last_us = spans.get(channel_id, nowhere)
            if after_us < time_us <= last_us:
                step(limits[channel_id], tracks, channel_id, time_us, kpa, cause, label)


def _merged(spans: Iterable[Span]) -> list[Span]:
    """Put spans that touch together.

    >>> _merged([(5, 9), (0, 3), (2, 4), (9, 12)])
    [(0, 4), (5, 12)]
    """
    merged: list[Span] = []
    for after_us, last_us in sorted(spans):
        if merged and after_us <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], last_us))
        else:
            merged.append((after_us, last_us))
    return merged


def _encoded(track: Track) -> str:
    """Numbers come back bit for bit; an empty bucket is infinite, as Python's JSON has it."""
    base, ranges = track.baseline, track.ranges
    return json.dumps(
        [
            [track.label, track.last_us, track.last_kpa, track.last_is_open, track.before_us, track.before_kpa],
            [base.mark_us, base.mark_kpa, base.end_us, base.base_us, base.base_kpa],
            [ranges.start_us, ranges.number, ranges.end_us, ranges.low, ranges.high],
            ranges.past,
        ],
        separators=(",", ":"),
    )


def _decoded(text: str, limits: Limits) -> Track:
    samples: list[Any]
    samples, base, (start_us, number, end_us, low, high), past = json.loads(text)
    track = Track(limits, samples[1], samples[2], samples[0], is_open=samples[3])
    track.before_us, track.before_kpa = samples[4:]
    track.baseline = Baseline(*base)
    track.ranges = Ranges(start_us, number, end_us, low, high, [Bucket(*bucket) for bucket in past])
    track.ranges.refresh(limits)
    return track
