"""Names and zones as options write them."""

import re
from typing import Annotated

from pydantic import AfterValidator

from parchd_adapters._shared.times import parse_zone

_CHANNEL = re.compile(r"[a-zA-Z0-9._-]{1,64}")


def is_channel(name: str) -> bool:
    """Tell whether a channel may be called so.

    >>> is_channel("a0"), is_channel("bus1/a0")
    (True, False)
    """
    return _CHANNEL.fullmatch(name) is not None


def _check_channel(name: str) -> str:
    if not is_channel(name):
        raise ValueError("1 to 64 characters of a-z A-Z 0-9 . _ -")
    return name


Channel = Annotated[str, AfterValidator(_check_channel)]


def _check_zone(name: str) -> str:
    parse_zone(name)
    return name


ZoneName = Annotated[str, AfterValidator(_check_zone)]
