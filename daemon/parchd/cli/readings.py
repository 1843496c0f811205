"""``parchd readings``"""

import csv
import sys
from argparse import Namespace
from collections.abc import Iterable
from pathlib import Path
from typing import TextIO
from zoneinfo import ZoneInfo

from parchd.app.setup import places
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.spans import parse_time
from parchd.clock import SystemClock, to_datetime
from parchd.contract import ParchdError, StoredReading
from parchd.store import reader
from parchd.store.database import open_reader

COLUMNS = (
    "time_utc", "tensiometer", "zone", "station", "depth_cm", "channel", "value", "unit", "gauge_kpa", "tension_kpa",
    "uncertainty_kpa", "flag", "cause", "late", "calibration",
)  # fmt: skip


def command(arguments: Namespace) -> Exit:
    """Print the readings of a span as CSV, in the order of time."""
    loaded = load_config(arguments.config)
    zone, now_us = ZoneInfo(loaded.pipeline.site.time_zone), SystemClock().now_us()
    start_us = parse_time(arguments.since, zone, now_us)
    end_us = now_us if arguments.until is None else parse_time(arguments.until, zone, now_us)
    known = places(loaded)
    wanted = set(arguments.tensiometer or ())
    if unknown := wanted - {place.tensiometer for place in known.values()}:
        raise ParchdError(f"no tensiometer is called {', '.join(sorted(unknown))}; parchd check lists them all")
    connection = open_reader(loaded.store.path)
    try:
        rows = reader.span(connection, known, start_us, end_us)
        chosen = (r for r in rows if not wanted or (r.place is not None and r.place.tensiometer in wanted))
        if arguments.output is None:
            write_csv(chosen, sys.stdout)
        else:
            _write_file(chosen, arguments.output)
    finally:
        connection.close()
    return Exit.OK


def _write_file(rows: Iterable[StoredReading], path: Path) -> None:
    try:
        with path.open("w", newline="", encoding="utf-8") as file:
            write_csv(rows, file)
    except OSError as error:
        raise ParchdError(f"{path}: cannot be written ({error.strerror})") from error


def write_csv(rows: Iterable[StoredReading], file: TextIO) -> None:
    """Write rows under the heading `COLUMNS`; a missing number is an empty cell."""
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(_cells(row) for row in rows)


def _cells(row: StoredReading) -> tuple[object, ...]:
    place = row.place
    where = ("", "", "", "") if place is None else (
        place.tensiometer, place.zone, place.station, f"{place.depth_m * 100:g}",
    )  # fmt: skip
    return (
        to_datetime(row.time_us).isoformat(timespec="milliseconds").replace("+00:00", "Z"), *where, row.channel,
        _number(row.value), row.unit.value, _number(row.gauge_kpa), _number(row.tension_kpa),
        _number(row.uncertainty_kpa), int(row.flag),
        row.cause.word, int(row.late), row.calibration,
    )  # fmt: skip


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.10g}"
