"""What a receiver's answer means for a message."""

from collections.abc import Mapping
from http import HTTPStatus

from parchd.contract import DeliveryRefused, DeliveryRetry, RecipientGone
from parchd_adapters._shared.retry_after import retry_after_s

_FINAL = frozenset({400, 413, 422})
"""Only these speak of this one message. All others may come from a wrong address, a wrong token, a portal in between
or a receiver that is being mended: a message that waits for a person is better than an alarm that is lost."""

_CHECKS = {
    401: "check authorization and secret",
    403: "check authorization and secret",
    404: "check url",
    405: "check url: it takes no POST",
    407: "a proxy is in between",
}


def judge(
    status: int, headers: Mapping[str, str], receiver: str, now_us: int
) -> DeliveryRetry | DeliveryRefused | RecipientGone | None:
    """Judge an answer; ``None``: delivered.

    Args:
        status: HTTP status.
        headers: of the answer, names in any case the mapping understands.
        receiver: its name for the words.
        now_us: for a ``Retry-After`` that is a date.

    >>> judge(204, {}, "receiver", 0) is None
    True
    >>> judge(503, {"Retry-After": "120"}, "receiver", 0).retry_after_s
    120.0
    """
    if 200 <= status < 300:
        return None
    text = f"{receiver} answered {status}{_phrase(status)}"
    if status == HTTPStatus.GONE:
        return RecipientGone(f"{text}: it wants no more messages")
    if status in _FINAL:
        return DeliveryRefused(text)
    check = "check url: it leads elsewhere, which is not followed" if 300 <= status < 400 else _CHECKS.get(status, "")
    return DeliveryRetry(
        f"{text}: {check}" if check else text, retry_after_s=retry_after_s(headers.get("Retry-After"), now_us)
    )


def _phrase(status: int) -> str:
    try:
        return f" ({HTTPStatus(status).phrase.lower()})"
    except ValueError:
        return ""
