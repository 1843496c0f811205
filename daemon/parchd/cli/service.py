"""``parchd service``"""

from argparse import Namespace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from parchd.app.requests import SETTLES_H, RecordService
from parchd.app.setup import places
from parchd.cli.asking import carry_out
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.spans import parse_time
from parchd.clock import US_PER_S, SystemClock, from_datetime, to_datetime
from parchd.config import Loaded
from parchd.contract import ParchdError
from parchd.store.database import open_reader
from parchd.store.reader import span
from parchd.store.services import ServiceRecord, records
from parchd.workbench.records import keep, record_folder, stamp
from parchd.workbench.service_record import DAYS_BEFORE, HOUR_US, service_chart, service_content


def command(arguments: Namespace) -> Exit:
    """Write down what was done to a tensiometer, or list what was done."""
    loaded = load_config(arguments.config)
    if arguments.work is None:
        return _list(loaded, arguments.tensiometer)
    if arguments.tensiometer is None:
        raise ParchdError("which tensiometer? parchd service --tensiometer NAME --work refill")
    zone, now_us = ZoneInfo(loaded.pipeline.site.time_zone), SystemClock().now_us()
    done_us = now_us if arguments.at is None else parse_time(arguments.at, zone, now_us)
    quiet_h = SETTLES_H[arguments.work] if arguments.quiet_h is None else arguments.quiet_h
    request = RecordService(
        tensiometer=arguments.tensiometer,
        work=arguments.work,
        begin_us=done_us - round(arguments.took_min * 60 * US_PER_S),
        end_us=done_us + round(quiet_h * 3600 * US_PER_S),
        by=arguments.by,
        note=arguments.note,
        left_m=None if arguments.left_cm is None else arguments.left_cm / 100.0,
        found_m=None if arguments.found_cm is None else arguments.found_cm / 100.0,
    )
    folder = record_folder(arguments.records, loaded.store.path)
    code = carry_out(loaded, request)
    if code is Exit.OK:
        _keep(loaded, request, to_datetime(done_us).astimezone(zone), folder)
    return code


def _keep(loaded: Loaded, request: RecordService, done: datetime, folder: Path) -> None:
    """Leave a dated record and a picture of the days before."""
    (setup,) = (t for t in loaded.pipeline.tensiometers if t.place.tensiometer == request.tensiometer)
    record = ServiceRecord(**request.model_dump(exclude={"ask"}))
    done_us = from_datetime(done)
    connection = open_reader(loaded.store.path)
    try:
        rows = span(connection, places(loaded), done_us - DAYS_BEFORE * 24 * HOUR_US, done_us)
        chart = service_chart(setup, record, (row for row in rows if row.channel == setup.channel), done)
    finally:
        connection.close()
    name = f"{stamp(done)}_{record.tensiometer}_{record.work}"
    comment = "What was done to a tensiometer. The journal holds it too; nothing reads this file."
    written = keep(folder, name, service_content(setup, record, done), comment, chart)
    print("kept in " + " and ".join(str(path) for path in written))


def _list(loaded: Loaded, tensiometer: str | None) -> Exit:
    zone = ZoneInfo(loaded.pipeline.site.time_zone)
    connection = open_reader(loaded.store.path)
    try:
        found = [record for record in records(connection) if tensiometer in (None, record.tensiometer)]
    finally:
        connection.close()
    for record in found:
        begin, end = (
            to_datetime(us).astimezone(zone).strftime("%Y-%m-%d %H:%M") for us in (record.begin_us, record.end_us)
        )
        words = " ".join(part for part in (record.by and f"by {record.by}", record.note) if part)
        print(f"{begin}  until {end}  {record.tensiometer:12} {record.work:14} {words}".rstrip())
    if not found:
        print("no service is written down")
    return Exit.OK
