"""What was done to tensiometers: written once, never changed."""

import sqlite3
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from parchd.physics.levels import Level
from parchd.pipeline.services import Services


@dataclass(frozen=True, slots=True)
class ServiceRecord:
    """One service.

    Args:
        tensiometer: which.
        work: what was done, e.g. ``refill``.
        begin_us, end_us: readings measured in between are marked.
        by, note: who, and what else there is to say.
        left_m, found_m: height of the water above the cup's centre after and before; ``None``: nobody looked.
    """

    tensiometer: str
    work: str
    begin_us: int
    end_us: int
    by: str = ""
    note: str = ""
    left_m: float | None = None
    found_m: float | None = None


def add(connection: sqlite3.Connection, record: ServiceRecord, now_us: int) -> None:
    """Write a service down, within a transaction."""
    connection.execute(
        "INSERT INTO service (recorded_us, tensiometer, work, begin_us, end_us, by, note, left_m, found_m)"
        " VALUES (?,?,?,?,?,?,?,?,?)",
        (
            now_us, record.tensiometer, record.work, record.begin_us, record.end_us, record.by, record.note,
            record.left_m, record.found_m,
        ),
    )  # fmt: skip


def records(connection: sqlite3.Connection) -> list[ServiceRecord]:
    """All services, in the order of their begin."""
    rows = connection.execute(
        "SELECT tensiometer, work, begin_us, end_us, by, note, left_m, found_m FROM service ORDER BY begin_us, id"
    )
    return [ServiceRecord(*row) for row in rows]


def services(connection: sqlite3.Connection, channels: Mapping[str, str]) -> dict[str, Services]:
    """What services mean for readings, by channel.

    Args:
        channels: the channel of each tensiometer; services of others are passed over.
    """
    found: dict[str, list[ServiceRecord]] = defaultdict(list)
    for record in records(connection):
        if record.tensiometer in channels:
            found[channels[record.tensiometer]].append(record)
    return {
        channel: Services(tuple((r.begin_us, r.end_us) for r in theirs), _levels(theirs))
        for channel, theirs in found.items()
    }


def _levels(theirs: list[ServiceRecord]) -> tuple[Level, ...]:
    """Heights in order of time; of two services at one moment the later written holds."""
    known = {r.begin_us: Level(r.begin_us, r.left_m, r.found_m) for r in theirs if r.left_m is not None}
    return tuple(known[time_us] for time_us in sorted(known))
