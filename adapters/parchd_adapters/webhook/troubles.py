"""What it means for a message that its receiver gave no answer."""

import socket
import ssl
from http.client import HTTPException

from parchd.contract import DeliveryRetry
from parchd_adapters.webhook.calling import Forbidden, NoAuthority, Unreachable

LONGEST_DETAIL = 160

# The first that fits: kind of error, what happened, what to check.
_TROUBLES: tuple[tuple[type[Exception], str, str], ...] = (
    (Forbidden, "is not called, for it is not in the public internet", "write allow_private = true if that is meant"),
    (Unreachable, "cannot be reached", "check url and the network"),
    (socket.gaierror, "has a name that cannot be found", "check url and the network"),
    (ssl.SSLError, "cannot be trusted", "check url, ca_file and this machine's clock"),
    (TimeoutError, "does not answer in time", "check url and the network"),
    (NoAuthority, "cannot be asked", "check ca_file"),
    (HTTPException, "broke off", ""),
    (OSError, "broke off", ""),
)


def trouble(error: OSError | HTTPException, receiver: str) -> DeliveryRetry:
    """Say what happened and what to check, in one short line; all of it may be better later.

    >>> trouble(Forbidden("192.168.7.5, a private network"), "receiver").args[0].partition(":")[0]
    'receiver is not called, for it is not in the public internet (192.168.7.5, a private network)'
    """
    what, check = next((what, check) for kind, what, check in _TROUBLES if isinstance(error, kind))
    detail = " ".join(str(error).split())[:LONGEST_DETAIL]
    return DeliveryRetry(f"{receiver} {what}" + (f" ({detail})" if detail else "") + (f": {check}" if check else ""))
