"""``parchd reset``"""

from argparse import Namespace

from parchd.app.requests import Reset
from parchd.cli.acting import do_to_alarm
from parchd.cli.exits import Exit


def command(arguments: Namespace) -> Exit:
    """Say that the cause of a latched alarm is mended."""
    return do_to_alarm(arguments, Reset)
