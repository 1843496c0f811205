"""``parchd alarms``"""

import csv
import json
import sys
from argparse import Namespace
from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.exporting import standing_data, step_data
from parchd.alarms.standing import Standing, Transition
from parchd.alarms.standing_words import state_words, step_words
from parchd.alarms.wording import Names, alarm_notice
from parchd.app.setup import names
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.spans import parse_time
from parchd.clock import SystemClock, to_datetime
from parchd.store import reader
from parchd.store.database import open_reader
from parchd.store.standings import history, load_standings

HEADING = ("time_utc", "alarm", "subject", "change", "raised_utc", "tension_kpa", "limit_kpa")


@dataclass(frozen=True, slots=True)
class Told:
    """What the journal says of alarms.

    Args:
        standings: how alarms stand that are not at rest.
        clearing: those whose off-delay runs.
        events: what judges said in the span.
        steps: all that happened to alarms in the span.
    """

    standings: Mapping[AlarmKey, Standing]
    clearing: frozenset[AlarmKey]
    events: list[AlarmEvent]
    steps: list[Transition]


def command(arguments: Namespace) -> Exit:
    """Show how alarms stand, and what happened to alarms in a span of time."""
    loaded = load_config(arguments.config)
    zone, now_us = ZoneInfo(loaded.pipeline.site.time_zone), SystemClock().now_us()
    start_us = parse_time(arguments.since, zone, now_us)
    end_us = now_us + 1 if arguments.until is None else parse_time(arguments.until, zone, now_us)
    connection = open_reader(loaded.store.path)
    try:
        told = Told(
            load_standings(connection),
            frozenset(alarm.key for alarm in reader.active_alarms(connection) if alarm.clearing),
            list(reader.events(connection, start_us, end_us)),
            list(history(connection, start_us, end_us)) if arguments.history else [],
        )
    finally:
        connection.close()
    if arguments.json:
        _print_json(told, arguments.history)
    elif arguments.csv:
        _print_csv(told.events)
    else:
        _print_words(told, names(loaded), arguments.history)
    return Exit.OK


def _print_words(told: Told, called: Names, every_step: bool) -> None:
    heard = {key: one for key, one in told.standings.items() if not one.state.is_hidden}
    print(f"Active now: {len(heard) or 'none'}")
    for key, one in sorted(heard.items(), key=lambda item: item[1].raised_us or 0):
        clearing = ", about to clear" if key in told.clearing else ""
        since = called.local(one.raised_us or one.since_us)
        print(f"  since {since}  {key.kind:20} {key.subject:24} {state_words(one, called.local)}{clearing}")
    if quiet := {key: one for key, one in told.standings.items() if one.state.is_hidden}:
        print(f"\nKept quiet: {len(quiet)}")
        for key, one in sorted(quiet.items(), key=lambda item: item[1].since_us):
            print(
                f"  since {called.local(one.since_us)}  {key.kind:20} {key.subject:24} {state_words(one, called.local)}"
            )
    if every_step:
        print(f"\nEvery step: {len(told.steps) or 'nothing in this span'}")
        for step in told.steps:
            words = step_words(step, called.local)
            print(f"  {called.local(step.time_us)}  {step.key.kind:20} {step.key.subject:24} {words}")
        return
    print(f"\nHistory: {len(told.events) or 'nothing in this span'}")
    for event in told.events:
        print(f"  {called.local(event.time_us)}  {event.change:8} {alarm_notice(event, called).subject}")


def _print_json(told: Told, every_step: bool) -> None:
    lines = [step_data(step) for step in told.steps]
    if not every_step:
        lines = [standing_data(key, one) for key, one in told.standings.items()]
    for line in lines:
        print(json.dumps(line, ensure_ascii=False))


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
