"""``parchd check``"""

import sys
from argparse import Namespace

from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.who import people_text, recipients_of
from parchd.clock import SystemClock
from parchd.config.report import effective_text, errors_text


def command(arguments: Namespace) -> Exit:
    """Print every problem at once, or what the configuration amounts to."""
    loaded = load_config(arguments.config)
    if not arguments.quiet:
        now_us = SystemClock().now_us()
        parts = (effective_text(loaded, now_us), people_text(loaded, recipients_of(loaded), now_us))
        print("\n\n".join(part for part in parts if part))
    if loaded.warnings:
        print(errors_text(loaded.warnings, "warning"), file=sys.stderr)
    return Exit.OK
