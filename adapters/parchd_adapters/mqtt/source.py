"""The source: connects, tells what it found, keeps the conversation going until the stop."""

import contextlib
import logging

from parchd.contract import Intake, Services, SourceLost, Stopping, StopSignal
from parchd_adapters.mqtt.commands import Commands
from parchd_adapters.mqtt.conversation import Conversation
from parchd_adapters.mqtt.identity import default_client_id
from parchd_adapters.mqtt.inbox import Inbox
from parchd_adapters.mqtt.link import Link
from parchd_adapters.mqtt.options import MqttOptions
from parchd_adapters.mqtt.receiver import Receiver, Stamps
from parchd_adapters.mqtt.routes import Routes
from parchd_adapters.mqtt.wake import Wake

logger = logging.getLogger(__name__)

_ANSWER_S = 10.0


class MqttSource:
    """Subscribes to a broker and delivers what is published; its thread is the one that serves the connection."""

    def __init__(self, options: MqttOptions, services: Services) -> None:
        self._options = options
        self._name = services.name
        self._clock = services.clock
        self._ask = services.ask
        self._client_id = options.client_id or default_client_id(services.site, services.name)
        self._routes = Routes.of(options)
        self._stamps = Stamps(services.clock.now_us)
        self._was_connected = False

    def run(self, intake: Intake, stop: StopSignal) -> None:
        with Wake() as wake:
            inbox = Inbox(self._name, wake.ring)
            commands = Commands(self._ask, wake.ring)
            receiver = Receiver(self._options, self._routes, self._stamps, inbox, commands)
            link = Link(self._options, self._client_id, receiver.receive)
            conversation = Conversation(
                link, inbox, receiver, commands, wake, intake, self._clock, self._options.gather_s
            )
            try:
                link.open()
                with contextlib.suppress(Stopping):
                    self._serve(link, conversation, intake, stop)
                with contextlib.suppress(SourceLost):
                    conversation.end()
            finally:
                link.close()

    def _serve(self, link: Link, conversation: Conversation, intake: Intake, stop: StopSignal) -> None:
        """Go through the three states: before the broker's answer, before its subscription's, and after both."""
        deadline_s = self._clock.monotonic_s() + _ANSWER_S
        accepted = announced = False
        while not stop.is_set():
            conversation.turn()
            if not accepted and link.resumed is not None:
                accepted = True
                conversation.begin()
            if not announced and link.subscribed:
                announced = True
                self._announce(link, intake)
            if not announced and self._clock.monotonic_s() > deadline_s:
                raise SourceLost(f"{link.broker} accepts connections, but does not answer as an MQTT broker does.")

    def _announce(self, link: Link, intake: Intake) -> None:
        session = "session resumed" if link.resumed else "new session"
        refused = f", refused: {' '.join(link.refused_filters)}" if link.refused_filters else ""
        intake.connected(f"{link.broker} as {self._client_id}, {session}{refused}")
        if self._was_connected and not link.resumed:
            text = "%s has forgotten our session: what was published while we were away is lost"
            logger.warning(text, link.broker, extra={"event": "mqtt.session-lost"})
        self._was_connected = True
