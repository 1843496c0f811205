"""``parchd reprocess``"""

from argparse import Namespace
from zoneinfo import ZoneInfo

from parchd.app.requests import Reprocess
from parchd.cli.asking import carry_out
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.spans import parse_time
from parchd.clock import SystemClock


def command(arguments: Namespace) -> Exit:
    """Compute the readings of a span of time anew from the raw samples, all or nothing.

    A running daemon does it by the configuration it has loaded: reload it first after a change.
    """
    loaded = load_config(arguments.config)
    zone, now_us = ZoneInfo(loaded.pipeline.site.time_zone), SystemClock().now_us()
    start_us = parse_time(arguments.since, zone, now_us)
    end_us = now_us if arguments.until is None else parse_time(arguments.until, zone, now_us)
    names = tuple(arguments.tensiometer or ())
    return carry_out(loaded, Reprocess(start_us=max(0, start_us), end_us=max(0, end_us), tensiometers=names))
