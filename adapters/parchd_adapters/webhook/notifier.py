"""Posts one message."""

import logging
import ssl
from collections.abc import Mapping

import urllib3
from urllib3 import exceptions

from parchd.clock import US_PER_S, Clock
from parchd.contract import DeliveryRetry, Notice
from parchd_adapters.webhook.answers import judge
from parchd_adapters.webhook.body import encode
from parchd_adapters.webhook.options import WebhookOptions
from parchd_adapters.webhook.signature import key_of, signature

logger = logging.getLogger(__name__)
# At DEBUG, urllib3 writes whole addresses to the log, and with them the tokens that some receivers put there.
logging.getLogger("urllib3.connectionpool").setLevel(logging.INFO)

CONNECT_S = 5.0

# The first that fits: kind of error, what happened, what to check.
_TROUBLES: tuple[tuple[type[Exception], str, str], ...] = (
    (exceptions.SSLError, "cannot be trusted", "check url, ca_file and this machine's clock"),
    (exceptions.NameResolutionError, "has a name that cannot be found", "check url and the network"),
    (exceptions.NewConnectionError, "cannot be reached", "check url and the network"),
    (exceptions.TimeoutError, "does not answer in time", "check url and the network"),
    (exceptions.HTTPError, "broke off", ""),
    (OSError, "cannot be asked", "check ca_file"),
)


class WebhookNotifier:
    """A `Notifier` that opens a connection for each message: a farm sends a few a day."""

    def __init__(self, options: WebhookOptions, clock: Clock) -> None:
        self._options = options
        self._clock = clock
        self._recipient = options.recipient
        self._key = key_of(options.secret.get_secret_value()) if options.secret else None

    @property
    def recipients(self) -> tuple[str, ...]:
        return (self._recipient,)

    def send(self, notice: Notice, recipient: str) -> None:
        body = encode(notice)
        now_us = self._clock.now_us()
        try:
            status, headers = self._post(body, self._headers(notice.id, now_us // US_PER_S, body))
        except (exceptions.HTTPError, OSError) as error:
            raise DeliveryRetry(f"{recipient} {_trouble(error)}") from error
        if (problem := judge(status, headers, recipient, now_us)) is not None:
            raise problem
        logger.debug("webhook taken by %s", recipient, extra={"event": "webhook.sent", "notice": notice.id})

    def _headers(self, message_id: str, timestamp_s: int, body: bytes) -> dict[str, str]:
        options = self._options
        headers = {
            **options.headers,
            "Content-Type": "application/json",
            "User-Agent": "parchd",
            "Connection": "close",
            "webhook-id": message_id,
            "webhook-timestamp": str(timestamp_s),
        }
        if self._key is not None:
            headers["webhook-signature"] = signature(self._key, message_id, timestamp_s, body)
        if options.authorization is not None:
            headers[options.authorization_header] = options.authorization.get_secret_value().strip()
        return headers

    def _post(self, body: bytes, headers: Mapping[str, str]) -> tuple[int, Mapping[str, str]]:
        options = self._options
        timeout = urllib3.Timeout(connect=min(CONNECT_S, options.timeout_s), read=options.timeout_s)
        with urllib3.PoolManager(1, ssl_context=ssl.create_default_context(cafile=options.ca_file)) as pool:
            response = pool.request(
                "POST",
                options.url,
                body=body,
                headers=headers,
                timeout=timeout,
                retries=False,
                redirect=False,
                preload_content=False,
                decode_content=False,
            )
            response.close()  # the status says all: what else it would send is not read
            return response.status, response.headers


def _trouble(error: Exception) -> str:
    """Say what happened and what to check, in one short line."""
    what, check = next((what, check) for kind, what, check in _TROUBLES if isinstance(error, kind))
    detail = " ".join(str(error).rpartition(": ")[2].split())[:160]
    return f"{what} ({detail})" + (f": {check}" if check else "")
