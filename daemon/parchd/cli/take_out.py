"""``parchd take-out``"""

from argparse import Namespace

from parchd.app.requests import TakeOut
from parchd.cli.acting import do_to_alarm
from parchd.cli.exits import Exit


def command(arguments: Namespace) -> Exit:
    """Take an alarm out of service until somebody puts it back."""
    return do_to_alarm(arguments, TakeOut)
