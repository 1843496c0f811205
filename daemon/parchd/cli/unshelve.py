"""``parchd unshelve``"""

from argparse import Namespace

from parchd.app.requests import Unshelve
from parchd.cli.acting import do_to_alarm
from parchd.cli.exits import Exit


def command(arguments: Namespace) -> Exit:
    """Take an alarm off the shelf before its time."""
    return do_to_alarm(arguments, Unshelve)
