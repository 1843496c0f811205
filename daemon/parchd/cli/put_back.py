"""``parchd put-back``"""

from argparse import Namespace

from parchd.app.requests import PutBack
from parchd.cli.acting import do_to_alarm
from parchd.cli.exits import Exit


def command(arguments: Namespace) -> Exit:
    """Put an alarm back into service."""
    return do_to_alarm(arguments, PutBack)
