"""``parchd renew-links``"""

import secrets
from argparse import Namespace

from parchd.app.requests import RenewLinks
from parchd.cli.asking import carry_out
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config


def command(arguments: Namespace) -> Exit:
    """Sign links with a new key: whoever has an old message can do nothing with it any more."""
    return carry_out(load_config(arguments.config), RenewLinks(key=secrets.token_hex(32)))
