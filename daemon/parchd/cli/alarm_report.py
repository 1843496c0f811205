"""``parchd alarm-report``"""

import os
import shutil
import sys
from argparse import Namespace
from pathlib import Path
from zoneinfo import ZoneInfo

from parchd.alarms.events import AlarmKey
from parchd.app.setup import names
from parchd.cli.desk import letters_for
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.spans import SpanError, parse_time
from parchd.cli.terminal import print_safely
from parchd.clock import SystemClock
from parchd.config import Loaded
from parchd.contract import ParchdError, Priority
from parchd.report.figures import Figures, Message, Span, figures
from parchd.report.page import report_page
from parchd.report.text import report_lines
from parchd.store import reader
from parchd.store.alarm_messages import alarm_messages
from parchd.store.database import open_reader
from parchd.store.standings import history
from parchd.workbench.chart_text import ASCII

MOST_COLUMNS = 100


def command(arguments: Namespace) -> Exit:
    """Report how alarms did over a span of time: in the terminal, or as a page."""
    loaded = load_config(arguments.config)
    found, called = _figures(arguments, loaded), names(loaded)
    path: Path | None = arguments.html
    if path is not None:
        _write(path, report_page(found, called.site, called.local))
        print(f"{path} is written: open it in a browser")
        return Exit.OK
    plain = arguments.ascii or letters_for(sys.stdout, os.environ) is ASCII
    columns = min(MOST_COLUMNS, shutil.get_terminal_size().columns - 1)
    lines = report_lines(found, called.site, called.local, columns, plain=plain)
    print_safely("".join(f"{line}\n" for line in lines))
    return Exit.OK


def _figures(arguments: Namespace, loaded: Loaded) -> Figures:
    zone, now_us = ZoneInfo(loaded.pipeline.site.time_zone), SystemClock().now_us()
    start_us = parse_time(arguments.since, zone, now_us)
    end_us = now_us if arguments.until is None else min(now_us, parse_time(arguments.until, zone, now_us))
    if end_us <= start_us:
        raise SpanError("the span is empty: --until must be later than --since")

    def priority(key: AlarmKey) -> Priority:
        return loaded.alarms.priority(*key)

    connection = open_reader(loaded.store.path)
    try:
        messages = [Message(*row) for row in alarm_messages(connection, start_us, end_us)]
        steps = list(history(connection, 0, end_us))
        since_us = min(reader.first_us(connection) or end_us, steps[0].time_us if steps else end_us)
        return figures(steps, messages, Span(start_us, end_us, zone), priority, since_us)
    finally:
        connection.close()


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise ParchdError(f"{path}: cannot be written ({error.strerror})") from error
