"""``parchd dismiss``"""

from argparse import Namespace

from parchd.app.requests import Dismiss
from parchd.cli.asking import carry_out
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.contract import ParchdError
from parchd.diagnosis.kinds import FindingKind

MOST, MOST_NAME = 1000, 100
"""Letters that are kept of a reason and of a name."""


def command(arguments: Namespace) -> Exit:
    """Say that a finding is wrong: readings are believed again, and the same evidence does not bring it back."""
    try:
        kind = FindingKind(arguments.finding)
    except ValueError as error:
        raise ParchdError(f"no finding is called {arguments.finding}; parchd findings shows those that hold") from error
    request = Dismiss(
        subject=arguments.tensiometer, finding=kind, because=arguments.because[:MOST], by=arguments.by[:MOST_NAME]
    )
    return carry_out(load_config(arguments.config), request)
