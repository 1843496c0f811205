"""``parchd alarms``"""

import csv
import sys
from argparse import Namespace
from zoneinfo import ZoneInfo

from parchd.alarms.events import AlarmEvent
from parchd.alarms.wording import Names, alarm_notice
from parchd.app.setup import names
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.spans import parse_time
from parchd.clock import SystemClock, to_datetime
from parchd.store import reader
from parchd.store.database import open_reader

HEADING = ("time_utc", "alarm", "subject", "change", "raised_utc", "tension_kpa", "limit_kpa")


def command(arguments: Namespace) -> Exit:
    """Show the alarms that are active, and what happened to alarms in a span of time."""
    loaded = load_config(arguments.config)
    zone, now_us = ZoneInfo(loaded.pipeline.site.time_zone), SystemClock().now_us()
    start_us = parse_time(arguments.since, zone, now_us)
    end_us = now_us + 1 if arguments.until is None else parse_time(arguments.until, zone, now_us)
    connection = open_reader(loaded.store.path)
    try:
        history = list(reader.events(connection, start_us, end_us))
        active = reader.active_alarms(connection)
    finally:
        connection.close()
    if arguments.csv:
        _print_csv(history)
    else:
        _print_words(active, history, names(loaded))
    return Exit.OK


def _print_words(active: list[reader.ActiveAlarm], history: list[AlarmEvent], called: Names) -> None:
    print(f"Active now: {len(active) or 'none'}")
    for alarm in active:
        clearing = "  (about to clear)" if alarm.clearing else ""
        print(f"  since {called.local(alarm.raised_us)}  {alarm.key.kind:20} {alarm.key.subject}{clearing}")
    print(f"\nHistory: {len(history) or 'nothing in this span'}")
    for event in history:
        print(f"  {called.local(event.time_us)}  {event.change:8} {alarm_notice(event, called).subject}")


def _print_csv(history: list[AlarmEvent]) -> None:
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(HEADING)
    for event in history:
        writer.writerow(
            (
                utc(event.time_us), event.key.kind.value, event.key.subject, event.change.value, utc(event.raised_us),
                event.tension_kpa, event.limit_kpa,
            )
        )  # fmt: skip


def utc(time_us: int) -> str:
    """A time for programs.

    >>> utc(0)
    '1970-01-01T00:00:00Z'
    """
    return to_datetime(time_us).isoformat(timespec="seconds").replace("+00:00", "Z")
