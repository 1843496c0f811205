"""Signatures as in Standard Webhooks 1.0.0: HMAC-SHA256 over id, time and the exact bytes of the body."""

import base64
import binascii
import hmac
from collections.abc import Iterable

PREFIX = "whsec_"
SHORTEST_KEY, LONGEST_KEY = 24, 64


def key_of(secret: str) -> bytes:
    """Decode a secret.

    Raises:
        ValueError: it is not ``whsec_`` and the base64 of 24 to 64 bytes. The text never contains the secret.

    >>> len(key_of("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"))
    24
    """
    text = secret.strip()
    try:
        padding = "=" * (-len(text.removeprefix(PREFIX)) % 4)
        key = base64.b64decode(text.removeprefix(PREFIX) + padding, validate=True)
    except (binascii.Error, ValueError):
        key = b""
    if not text.startswith(PREFIX) or not SHORTEST_KEY <= len(key) <= LONGEST_KEY:
        # "from None": the cause would quote what was decoded.
        raise ValueError(
            f"{PREFIX} and the base64 of {SHORTEST_KEY} to {LONGEST_KEY} random bytes (openssl rand -base64 32)"
        ) from None
    return key


def signatures(keys: Iterable[bytes], message_id: str, timestamp_s: int, body: bytes) -> str:
    """Sign one attempt with each key; the value of the header ``webhook-signature``.

    A receiver takes a message that any one of them signed: so a secret is changed without a gap.

    The vector is the one of the specification's reference libraries.

    >>> key = key_of("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw")
    >>> signatures([key], "msg_p5jXN8AQM9LWM0D4loKWxJek", 1614265330, b'{"test": 2432232314}')
    'v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE='
    """
    signed = f"{message_id}.{timestamp_s}.".encode() + body
    return " ".join("v1," + base64.b64encode(hmac.digest(key, signed, "sha256")).decode() for key in keys)
