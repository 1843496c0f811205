"""``parchd acknowledge``"""

from argparse import Namespace

from parchd.app.requests import Acknowledge
from parchd.cli.acting import do_to_alarm
from parchd.cli.exits import Exit


def command(arguments: Namespace) -> Exit:
    """Say that somebody has seen an alarm, or all that wait for it."""
    return do_to_alarm(arguments, Acknowledge)
