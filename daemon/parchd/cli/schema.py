"""``parchd schema``"""

from argparse import Namespace

from parchd.cli.exits import Exit
from parchd.config.registry import listing, load_kind
from parchd.contract import ParchdError


def command(arguments: Namespace) -> Exit:
    """Print the JSON Schema of what a kind of notifier sends."""
    kind = load_kind(listing("notifiers"), arguments.kind)
    if kind.schema is None:
        raise ParchdError(f"{arguments.kind} has no schema: it speaks to people")
    print(kind.schema(), end="")
    return Exit.OK
