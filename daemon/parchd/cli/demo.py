"""``parchd demo``"""

import signal
from argparse import Namespace

from parchd.cli.exits import Exit


def command(arguments: Namespace) -> Exit:
    """Run an invented farm until Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # nothing has been started yet: Ctrl-C ends it here without a trace
    from parchd.demo.show import show
    from parchd.demo.wishes import Wishes

    clean = show(Wishes(arguments.speed, arguments.seconds, arguments.keep))
    return Exit.OK if clean else Exit.INTERNAL
