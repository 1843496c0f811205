"""One connection to the broker, on top of paho-mqtt: from CONNECT to DISCONNECT, in one thread."""

import logging
from collections.abc import Callable, Iterable, Sequence

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from parchd.contract import SourceLost
from parchd_adapters.mqtt import explain
from parchd_adapters.mqtt.buffered import BufferedSocket
from parchd_adapters.mqtt.library import connect, make_client, subscribe
from parchd_adapters.mqtt.options import MqttOptions
from parchd_adapters.mqtt.security import make_context

logger = logging.getLogger(__name__)

_NEVER_SUBSCRIBED = "parchd-probe/never-subscribed"
_ACCESS = "Check the filter and the broker's access rules."


class Link:
    """Moves packets. ``received`` gets every message; all else is found in attributes after `read`.

    The library's own thread and its reconnecting are not used: a connection that ended stays ended.

    Args:
        received: called for each message; must not raise.
    """

    def __init__(self, options: MqttOptions, client_id: str, received: Callable[[MQTTMessage], None]) -> None:
        self.broker = f"{options.host}:{options.effective_port}"
        self.resumed: bool | None = None
        """Whether the broker knew our session; ``None``: it has not accepted us yet."""
        self.subscribed = False
        self.refused_filters: tuple[str, ...] = ()
        self.answers = 0
        """How many probes were answered."""
        self._options = options
        self._received = received
        self._filters = options.filters
        self._packets = 0
        self._failure = ""
        self._client = make_client(options, client_id)
        self._socket: BufferedSocket | None = None
        self._client.on_connect = self._on_connect
        self._client.on_disconnect = self._on_disconnect
        self._client.on_subscribe = self._on_subscribe
        self._client.on_unsubscribe = self._on_unsubscribe
        self._client.on_message = self._on_message
        self._client.on_publish = self._on_publish

    def open(self) -> None:
        """Connect and send CONNECT.

        Raises:
            SourceLost: it could not be reached; the text says what to do.
        """
        if self._options.tls is not None:
            self._client.tls_set_context(make_context(self._options.tls))
        try:
            connect(self._client, self._options)
        except (OSError, ValueError) as error:
            encrypted = self._options.tls is not None
            raise SourceLost(explain.unreachable(self.broker, error, encrypted=encrypted)) from error
        sock = self._client.socket()
        self._socket = sock if isinstance(sock, BufferedSocket) else None

    def fileno(self) -> int:
        """The socket's number, to poll; -1: there is none any more."""
        sock = self._client.socket()
        return -1 if sock is None else sock.fileno()

    @property
    def wants_write(self) -> bool:
        return self._client.want_write() or (self._socket is not None and self._socket.has_unsent)

    @property
    def has_more(self) -> bool:
        """Whether bytes wait that ``poll`` cannot see: decrypted or read ahead."""
        pending = getattr(self._client.socket(), "pending", None)
        return pending is not None and pending() > 0

    def read(self, most: int) -> None:
        """Read so many packets, or what there is.

        Raises:
            SourceLost: the connection has ended.
        """
        for _ in range(most):
            before = self._packets
            try:
                self._client.loop_read()
            except Exception as error:  # whatever the library stumbles over was sent by the broker
                raise SourceLost(f"{self.broker} sent what is not MQTT: {error!r}") from error
            if self._packets == before:
                break
        self.check()

    def write(self) -> None:
        """Send what could not be sent at once, and the pings that are due.

        Raises:
            SourceLost: the connection has ended.
        """
        if self._client.want_write():
            self._client.loop_write()
        self._client.loop_misc()
        self._flush()
        self.check()

    def acknowledge(self, mids: Iterable[int]) -> None:
        """
        Raises:
            SourceLost: the connection has ended.
        """
        for mid in mids:
            self._client.ack(mid, 1)
        self._flush()

    def publish(self, replies: Sequence[bytes]) -> None:
        """Publish replies to commands, at least once while the connection lasts.

        Raises:
            SourceLost: the connection has ended.
        """
        for reply in replies:
            self._client.publish(self._options.replies_topic, reply, qos=1)
        if replies:
            self._flush()

    def probe(self) -> None:
        """Make the broker answer; `answers` grows when it did.

        It is an UNSUBSCRIBE from what was never subscribed to, for want of a ping that reports its answer.
        """
        self._client.unsubscribe(_NEVER_SUBSCRIBED)

    def close(self) -> None:
        """Say goodbye if there is anybody to say it to. The session stays with the broker."""
        self._client.on_disconnect = None
        self._client.disconnect()
        if (sock := self._client.socket()) is not None:  # it could not be sent at once
            sock.close()

    def check(self) -> None:
        """
        Raises:
            SourceLost: the connection has ended; the text says why.
        """
        if self._failure:
            raise SourceLost(self._failure)
        if self._client.socket() is None:
            raise SourceLost(self._gone(0, "closed"))

    def _flush(self) -> None:
        if self._socket is not None and self._client.socket() is not None:
            try:
                self._socket.flush()
            except OSError as error:
                raise SourceLost(self._gone(0, str(error))) from error

    def _gone(self, code: int, words: str) -> str:
        said = self._socket.trouble if self._socket is not None else ""
        return explain.gone(
            self.broker,
            code,
            said or words,
            connected=self.resumed is not None,
            encrypted=self._options.tls is not None,
        )

    def _on_message(self, _client: Client, _userdata: object, message: MQTTMessage) -> None:
        self._packets += 1
        self._received(message)

    def _on_connect(
        self, client: Client, _userdata: object, flags: ConnectFlags, reason: ReasonCode, properties: Properties | None
    ) -> None:
        self._packets += 1
        if reason.is_failure:
            self._failure = explain.refused(self.broker, reason.value, str(reason))
            return
        self.resumed = flags.session_present
        self._compare_expiry(properties)
        subscribe(client, self._options, self._filters)

    def _on_subscribe(
        self, _client: Client, _userdata: object, _mid: int, reasons: list[ReasonCode], _properties: object
    ) -> None:
        self._packets += 1
        self.subscribed = True
        granted = list(zip(self._filters, reasons, strict=False))
        self.refused_filters = tuple(topic_filter for topic_filter, reason in granted if reason.is_failure)
        for topic_filter, reason in granted:
            self._judge_grant(topic_filter, reason)
        if len(self.refused_filters) == len(self._filters):
            self._failure = f"{self.broker} refused every subscription: {', '.join(self.refused_filters)}. {_ACCESS}"

    def _judge_grant(self, topic_filter: str, reason: ReasonCode) -> None:
        if reason.is_failure:
            text = "%s refused to subscribe us to %r: %s. %s"
            extra = {"event": "mqtt.subscribe-refused"}
            logger.error(text, self.broker, topic_filter, reason, _ACCESS, extra=extra)
        elif reason.value < self._options.qos:
            text = "%s grants %r with QoS 0 only: messages are lost whenever the connection is"
            logger.warning(text, self.broker, topic_filter, extra={"event": "mqtt.qos-lowered"})

    def _on_publish(self, *_: object) -> None:
        self._packets += 1

    def _on_unsubscribe(self, *_: object) -> None:
        self._packets += 1
        self.answers += 1

    def _on_disconnect(
        self, _client: Client, _userdata: object, flags: DisconnectFlags, reason: ReasonCode, _properties: object
    ) -> None:
        self._packets += 1
        code = reason.value if flags.is_disconnect_packet_from_server else 0
        self._failure = self._failure or self._gone(code, str(reason))

    def _compare_expiry(self, properties: Properties | None) -> None:
        granted = getattr(properties, "SessionExpiryInterval", None)
        if granted is not None and granted < self._options.session_expiry_s:
            text = "%s keeps our session for %d s only: what comes later while we are away is lost"
            logger.warning(text, self.broker, granted, extra={"event": "mqtt.session-shortened"})
