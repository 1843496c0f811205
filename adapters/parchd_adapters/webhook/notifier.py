"""Posts one message."""

import logging
from collections.abc import Mapping
from contextlib import closing
from http.client import HTTPException

from parchd.clock import US_PER_S, Clock
from parchd.contract import Notice
from parchd_adapters._shared.deadline import Deadline
from parchd_adapters.webhook.answers import judge
from parchd_adapters.webhook.calling import Line
from parchd_adapters.webhook.envelope import Body, pack
from parchd_adapters.webhook.keys import Keys
from parchd_adapters.webhook.options import WebhookOptions
from parchd_adapters.webhook.signature import signatures
from parchd_adapters.webhook.troubles import trouble

logger = logging.getLogger(__name__)

BUDGET_S = 55.0
"""For a whole message, of the 60 s that a notifier may take."""


class WebhookNotifier:
    """A `Notifier` that opens a connection for each message: a farm sends a few a day."""

    def __init__(self, options: WebhookOptions, clock: Clock) -> None:
        self._options = options
        self._clock = clock
        self._recipient = options.recipient
        self._keys = Keys.of(options)

    @property
    def recipients(self) -> tuple[str, ...]:
        return (self._recipient,)

    def send(self, notice: Notice, recipient: str) -> None:
        body = pack(notice, self._options.envelope, self._options.event_source or "")
        now_us = self._clock.now_us()
        try:
            status, headers = self._post(body.content, self._headers(notice.id, now_us, body))
        except (OSError, HTTPException) as error:
            raise trouble(error, recipient) from error
        if (problem := judge(status, headers, recipient, now_us)) is not None:
            raise problem
        logger.debug("webhook taken by %s", recipient, extra={"event": "webhook.sent", "notice": notice.id})

    def _headers(self, message_id: str, now_us: int, body: Body) -> dict[str, str]:
        options, timestamp_s = self._options, now_us // US_PER_S
        headers = {
            **options.headers,
            **body.headers,
            "Content-Type": body.content_type,
            "User-Agent": "parchd",
            "Connection": "close",
            "webhook-id": message_id,
            "webhook-timestamp": str(timestamp_s),
        }
        if keys := self._keys.at(now_us):
            headers["webhook-signature"] = signatures(keys, message_id, timestamp_s, body.content)
        if options.authorization is not None:
            headers[options.authorization_header] = options.authorization.get_secret_value().strip()
        return headers

    def _post(self, body: bytes, headers: Mapping[str, str]) -> tuple[int, Mapping[str, str]]:
        """Post, and read the answer's head: the status says all, what else it would send is not read."""
        options = self._options
        line = Line(options.url, options.timeout_s, options.ca_file, allow_private=options.allow_private)
        with closing(line), Deadline(BUDGET_S, lambda: line.sock):
            line.request("POST", line.target, body, dict(headers))
            with line.getresponse() as answer:
                return answer.status, {name.title(): value for name, value in answer.headers.items()}
