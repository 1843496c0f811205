"""``parchd demo``"""

from argparse import Namespace

from parchd.cli.exits import Exit


def command(arguments: Namespace) -> Exit:
    """Run an invented farm until Ctrl-C."""
    try:
        from parchd.demo.show import show
        from parchd.demo.wishes import Wishes

        clean = show(Wishes(arguments.speed, arguments.seconds, arguments.keep))
    except KeyboardInterrupt:  # before the demo listens to it: nothing has been started yet
        return Exit.OK
    return Exit.OK if clean else Exit.INTERNAL
