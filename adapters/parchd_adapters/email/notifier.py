"""Sends one message to one recipient."""

import logging
from email.message import EmailMessage

from parchd.clock import Clock
from parchd.contract import Notice
from parchd_adapters.email.message import compose
from parchd_adapters.email.options import EmailOptions
from parchd_adapters.email.pictures import Pictures
from parchd_adapters.email.replies import verdict
from parchd_adapters.email.session import session

logger = logging.getLogger(__name__)


class EmailNotifier:
    """A `Notifier` that opens a connection for each message: a farm sends a few a day."""

    def __init__(self, options: EmailOptions, clock: Clock) -> None:
        self._options = options
        self._clock = clock
        self._server = f"{options.host}:{options.effective_port}"
        self._pictures = Pictures()

    @property
    def recipients(self) -> tuple[str, ...]:
        return self._options.to

    def send(self, notice: Notice, recipient: str) -> None:
        begun_s = self._clock.monotonic_s()
        drawn = self._options.charts and bool(notice.charts)
        pictures = self._pictures.of(notice) if drawn else ()
        used_s = self._clock.monotonic_s() - begun_s if drawn else 0.0
        message = compose(notice, recipient, self._options.from_address, self._clock.now_us(), pictures)
        try:
            self._hand_over(message, recipient, used_s)
        except OSError as error:
            raise verdict(error, self._server) from error
        logger.debug("mail handed to %s", self._server, extra={"event": "email.sent", "notice": notice.id})

    def _hand_over(self, message: EmailMessage, recipient: str, used_s: float) -> None:
        with session(self._options, self._clock, used_s) as client:
            client.sendmail(self._options.from_address, [recipient], message.as_bytes())
