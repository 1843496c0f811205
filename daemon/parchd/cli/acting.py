"""What the commands that do something to alarms have in common."""

import getpass
import os
from argparse import Namespace
from collections.abc import Callable, Mapping
from typing import Any

from parchd.alarms.kinds import AlarmKind
from parchd.app.requests import AlarmAct
from parchd.cli.asking import carry_out
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.contract import ParchdError

ALL = "all"
MOST, MOST_NAME = 1000, 100
"""Letters that are kept of a reason and of a name."""


def do_to_alarm(arguments: Namespace, request: Callable[..., AlarmAct], **more: Any) -> Exit:
    """Ask the daemon to do something to alarms.

    Args:
        more: fields that only this request has.
    """
    asked = request(
        subject="" if arguments.subject == ALL else arguments.subject,
        kind=None if arguments.alarm is None else alarm_kind(arguments.alarm),
        by=(arguments.by or who(os.environ))[:MOST_NAME],
        why=(arguments.because or "")[:MOST],
        **more,
    )
    return carry_out(load_config(arguments.config), asked)


def alarm_kind(word: str) -> AlarmKind:
    """The kind of alarm that is called so, or the only one that begins so.

    >>> alarm_kind("irrigate-n").value
    'irrigate-now'

    Raises:
        ParchdError: there is none, or more than one.
    """
    found = [kind for kind in AlarmKind if kind == word] or [kind for kind in AlarmKind if kind.startswith(word)]
    if len(found) == 1:
        return found[0]
    several = f"may be {', '.join(found)}" if found else "is no alarm; parchd alarms shows those that there are"
    raise ParchdError(f"{word} {several}")


def who(environ: Mapping[str, str]) -> str:
    """Who types: the person behind sudo, else the user.

    >>> who({"SUDO_USER": "ines", "LOGNAME": "parchd"})
    'ines'
    """
    try:
        return environ.get("SUDO_USER") or getpass.getuser()
    except (KeyError, OSError):  # a user without a name, as in a container
        return ""
