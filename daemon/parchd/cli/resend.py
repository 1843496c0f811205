"""``parchd resend``"""

from argparse import Namespace
from zoneinfo import ZoneInfo

from parchd.app.requests import Resend
from parchd.cli.asking import carry_out
from parchd.cli.choosing import chosen
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.spans import parse_time
from parchd.clock import SystemClock


def command(arguments: Namespace) -> Exit:
    """Put the messages of a span of time into the outbox again, under the ids that they had."""
    loaded = load_config(arguments.config)
    zone, now_us = ZoneInfo(loaded.pipeline.site.time_zone), SystemClock().now_us()
    start_us = parse_time(arguments.since, zone, now_us)
    end_us = now_us if arguments.until is None else parse_time(arguments.until, zone, now_us)
    request = Resend(
        start_us=max(0, start_us),
        end_us=max(0, end_us),
        notifiers=chosen(arguments.notifier, loaded.notifiers),
        undelivered=arguments.undelivered,
    )
    return carry_out(loaded, request)
