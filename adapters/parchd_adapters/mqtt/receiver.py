"""From messages to the inbox."""

import logging
from collections.abc import Callable

from paho.mqtt.client import MQTTMessage

from parchd.clock import US_PER_S
from parchd.contract import TimeSource
from parchd_adapters.mqtt.commands import Commands
from parchd_adapters.mqtt.decode import Decoded, Stamp
from parchd_adapters.mqtt.inbox import Inbox
from parchd_adapters.mqtt.options import MqttOptions
from parchd_adapters.mqtt.pace import Backlog
from parchd_adapters.mqtt.reasons import BROKEN, NOT_UTF8, TOO_LARGE
from parchd_adapters.mqtt.routes import Routes

logger = logging.getLogger(__name__)


class Stamps:
    """Times of arrival, each later than the one before: the journal keeps one sample per channel and time."""

    def __init__(self, now_us: Callable[[], int]) -> None:
        self._now_us = now_us
        self._last_us = 0

    def next_us(self) -> int:
        """The time of day, or a microsecond after the last stamp; a clock that was set back is followed."""
        now_us = self._now_us()
        if now_us <= self._last_us < now_us + US_PER_S:
            now_us = self._last_us + 1
        self._last_us = now_us
        return now_us


class Receiver:
    """Decodes each message and puts it into the inbox. It never raises: that would end the library's loop."""

    def __init__(self, options: MqttOptions, routes: Routes, stamps: Stamps, inbox: Inbox, commands: Commands) -> None:
        self.backlog = Backlog()
        self._routes = routes
        self._inbox = inbox
        self._commands = commands
        self._commands_topic = options.commands
        self._most_bytes = options.max_payload_bytes
        self._fresh = Stamp(stamps.next_us, TimeSource.ARRIVAL)
        self._old = Stamp(stamps.next_us, TimeSource.UNKNOWN)
        self._failed = False

    def receive(self, message: MQTTMessage) -> None:
        if self._commands_topic is not None and _topic(message) == self._commands_topic:
            self._take_command(message)
            return
        try:
            samples, problems = self._decode(message)
        except Exception as error:
            self._report_once(error)
            samples, problems = (), (BROKEN,)
        for problem in problems:
            self._inbox.reject(problem, _topic(message), message.payload)
        self._inbox.add(samples, message.mid if message.qos else None)

    def _take_command(self, message: MQTTMessage) -> None:
        receipt = self._inbox.hold(message.mid if message.qos else None)
        problem = self._commands.take(
            message.payload, receipt, retained=message.retain, waited=not self.backlog.is_over
        )
        if problem is not None:
            self._inbox.reject(problem, _topic(message), message.payload)

    def _decode(self, message: MQTTMessage) -> Decoded:
        try:
            topic = message.topic
        except UnicodeDecodeError:
            return (), (NOT_UTF8,)
        if len(message.payload) > self._most_bytes:
            return (), (TOO_LARGE,)
        route = self._routes.find(topic)
        if isinstance(route, str):
            return (), (route,)
        return route.decode(message.payload, self._old if message.retain or not self.backlog.is_over else self._fresh)

    def _report_once(self, error: Exception) -> None:
        if not self._failed:
            self._failed = True
            extra = {"event": "mqtt.decoder-failed"}
            logger.error("decoding failed; such messages are left out", exc_info=error, extra=extra)


def _topic(message: MQTTMessage) -> str:
    try:
        return message.topic
    except UnicodeDecodeError:
        return "?"
