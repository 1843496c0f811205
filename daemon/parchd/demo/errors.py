"""What keeps the demo from starting."""

from parchd.contract import ParchdError


class DemoError(ParchdError, RuntimeError):
    """The demo cannot run; the text says what to do."""


def needs_extra(what: str) -> DemoError:
    """Say how to install what the demo needs beside the daemon.

    >>> str(needs_extra("a mail server")).splitlines()[0]
    'the demo brings a mail server of its own, which is not installed yet.'
    """
    return DemoError(
        f"the demo brings {what} of its own, which is not installed yet.\n"
        "        In a checkout this installs it and starts the demo:  make demo\n"
        "        Elsewhere:  pip install 'parchd[demo]'"
    )
