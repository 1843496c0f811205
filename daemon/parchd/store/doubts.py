"""Spans of time in which tensiometers are doubted, and the rows of the journal that show it."""

import sqlite3
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from parchd.contract import Cause, Flag
from parchd.diagnosis.kinds import CONSEQUENCES
from parchd.physics.causes import flag_of
from parchd.quality.track import FOUND_HERE
from parchd.store import findings
from parchd.store.cursors import note_rewritten

YIELDING = FOUND_HERE | {Cause.NONE, Cause.ABOVE_LIMIT}
"""Causes that give way to the diagnosis; a harder one stays."""

SLICE_ROWS = 50_000
"""So many rows are looked at in one go: the rest of a long span waits for the next turn."""

END_OF_TIME_US = 2**62

_CAUSE_OF_FLAG = {Flag.SUSPECT: Cause.DOUBTED, Flag.FAIL: Cause.CONDEMNED}
_YIELDING = ",".join(str(int(cause)) for cause in sorted(YIELDING))
_FLAG_OF_OWN = "CASE own_cause " + " ".join(f"WHEN {int(c)} THEN {int(flag_of(c))}" for c in sorted(YIELDING)) + " END"
_WITHIN = "WHERE time_us >= ? AND time_us < ? AND channel_id = ? AND"
_FREE = (
    f"UPDATE journal SET flag = {_FLAG_OF_OWN}, cause = own_cause, own_cause = NULL {_WITHIN}"  # noqa: S608 # own numbers
    " own_cause IS NOT NULL"
)
_MARK = (
    f"UPDATE journal SET own_cause = ifnull(own_cause, cause), cause = ?, flag = ? {_WITHIN} cause <> ?"  # noqa: S608 # as above
    f" AND ifnull(own_cause, cause) IN ({_YIELDING}) AND tension_kpa IS NOT NULL"
)


@dataclass(frozen=True, slots=True)
class Doubt:
    """When one tensiometer was doubted.

    Args:
        begins_us, causes: from each time on the cause that holds until the next: none, doubted or condemned.
    """

    begins_us: tuple[int, ...] = ()
    causes: tuple[Cause, ...] = ()

    def at(self, time_us: int) -> Cause:
        """What is to be said of a reading of this time.

        >>> doubt = doubt_of([(Cause.DOUBTED, 10, 30), (Cause.CONDEMNED, 20, 25)])
        >>> [doubt.at(time_us).name for time_us in (9, 10, 20, 25, 30)]
        ['NONE', 'DOUBTED', 'CONDEMNED', 'DOUBTED', 'NONE']
        """
        position = bisect_right(self.begins_us, time_us)
        return self.causes[position - 1] if position else Cause.NONE

    def pieces(self, begin_us: int, end_us: int) -> Iterator[tuple[int, int, Cause]]:
        """Cut a span into pieces (begin, end, cause) of one cause each."""
        cuts = [us for us in self.begins_us if begin_us < us < end_us]
        for first_us, last_us in zip([begin_us, *cuts], [*cuts, end_us], strict=True):
            yield first_us, last_us, self.at(first_us)


NO_DOUBT = Doubt()


def doubt_of(spans: Iterable[tuple[Cause, int, int]]) -> Doubt:
    """Lay spans (cause, begin, end) over each other; the harder cause holds."""
    known = list(spans)
    begins_us = sorted({us for _, begin_us, end_us in known for us in (begin_us, end_us)})
    causes = (max((c for c, b, e in known if b <= us < e), default=Cause.NONE) for us in begins_us)
    return Doubt(tuple(begins_us), tuple(causes))


def with_doubt(own: Cause, doubt: Cause) -> Cause:
    """Put the word of the diagnosis over the cause that a reading has of its own.

    >>> with_doubt(Cause.NONE, Cause.DOUBTED).name, with_doubt(Cause.OPEN_CIRCUIT, Cause.CONDEMNED).name
    ('DOUBTED', 'OPEN_CIRCUIT')
    """
    return doubt if doubt and own in YIELDING else own


def doubt_about(connection: sqlite3.Connection, tensiometer: str) -> Doubt:
    """Read all findings about a tensiometer, open and past."""
    return doubt_of(
        (_CAUSE_OF_FLAG[flag], start_us, END_OF_TIME_US if ended_us is None else ended_us)
        for kind, start_us, ended_us in findings.spans(connection, f"tensiometer/{tensiometer}")
        if (flag := CONSEQUENCES[kind].flag) in _CAUSE_OF_FLAG
    )


def doubts(connection: sqlite3.Connection, channels: Mapping[str, str]) -> Mapping[str, Doubt]:
    """Read the doubts about all tensiometers, by channel; those never doubted are left out.

    Args:
        channels: the channel of each tensiometer.
    """
    found = {channel: doubt_about(connection, tensiometer) for tensiometer, channel in channels.items()}
    return MappingProxyType({channel: doubt for channel, doubt in found.items() if doubt.begins_us})


def mark_from(connection: sqlite3.Connection, channel_id: int, begin_us: int) -> None:
    """Have the rows of a channel brought in line with what is doubted now, within a transaction."""
    (until_us,) = connection.execute("SELECT coalesce(max(time_us), 0) + 1 FROM journal").fetchone()
    connection.execute(
        "INSERT INTO marking (channel_id, begin_us, end_us, until_us) VALUES (?1, ?2, ?3, ?3)"
        " ON CONFLICT (channel_id) DO UPDATE SET begin_us = min(begin_us, excluded.begin_us),"
        " end_us = excluded.end_us, until_us = excluded.until_us",
        (channel_id, begin_us, until_us),
    )


def is_marking(connection: sqlite3.Connection) -> bool:
    """Whether rows wait to be brought in line."""
    (waits,) = connection.execute("SELECT exists (SELECT 1 FROM marking)").fetchone()
    return bool(waits)


def mark_some(connection: sqlite3.Connection, known: Mapping[int, Doubt]) -> int:
    """Bring the next slice of rows in line, within a transaction; return how many came out different.

    Sinks copy a span again when all of it is done.

    Args:
        known: what is doubted, by the number of the channel; of others nothing is.
    """
    row = connection.execute("SELECT * FROM marking ORDER BY channel_id LIMIT 1").fetchone()
    if row is None:
        return 0
    channel_id, begin_us, end_us, until_us, before = row
    first_us = _slice_begin(connection, begin_us, end_us)
    pieces = known.get(channel_id, NO_DOUBT).pieces(first_us, end_us)
    changed = sum(_bring_in_line(connection, channel_id, *piece) for piece in pieces)
    if first_us > begin_us:
        connection.execute(
            "UPDATE marking SET end_us = ?, changed = ? WHERE channel_id = ?", (first_us, before + changed, channel_id)
        )
    else:
        connection.execute("DELETE FROM marking WHERE channel_id = ?", (channel_id,))
        if before + changed:
            note_rewritten(connection, (begin_us, until_us), [channel_id])
    return changed


def _slice_begin(connection: sqlite3.Connection, begin_us: int, end_us: int) -> int:
    row = connection.execute(
        "SELECT time_us FROM journal WHERE time_us >= ? AND time_us < ? ORDER BY time_us DESC LIMIT 1 OFFSET ?",
        (begin_us, end_us, SLICE_ROWS),
    ).fetchone()
    return begin_us if row is None else int(row[0])


def _bring_in_line(connection: sqlite3.Connection, channel_id: int, begin_us: int, end_us: int, cause: Cause) -> int:
    span = (begin_us, end_us, channel_id)
    if cause is Cause.NONE:
        return connection.execute(_FREE, span).rowcount
    return connection.execute(_MARK, (int(cause), int(flag_of(cause)), *span, int(cause))).rowcount
