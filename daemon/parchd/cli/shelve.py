"""``parchd shelve``"""

from argparse import Namespace

from parchd.app.requests import Shelve
from parchd.cli.acting import do_to_alarm
from parchd.cli.exits import Exit


def command(arguments: Namespace) -> Exit:
    """Keep an alarm quiet for some hours."""
    return do_to_alarm(arguments, Shelve, hours=arguments.hours)
