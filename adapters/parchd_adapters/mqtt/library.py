"""How paho-mqtt is set up."""

from typing import Any

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from parchd_adapters.mqtt.buffered import BufferedSocket
from parchd_adapters.mqtt.options import MqttOptions

_ROOM_FOR_TOPIC = 64 * 1024 + 1024
_LEAST_PACKET = 1024 * 1024
_RETAINED_FOR_NEW_SUBSCRIPTIONS = 1


class BufferingClient(Client):
    """The library's client on a `BufferedSocket`: it takes half the time for a message.

    The hook is not a public one; a version of the library without it works as before, only slower.
    """

    def _create_socket(self) -> BufferedSocket:
        return BufferedSocket(super()._create_socket())


def make_client(options: MqttOptions, client_id: str) -> Client:
    """Make a client whose session outlives it, that acknowledges nothing by itself and never reconnects."""
    v5 = options.protocol == "5"
    client = BufferingClient(
        CallbackAPIVersion.VERSION2,
        client_id,
        protocol=MQTTProtocolVersion.MQTTv5 if v5 else MQTTProtocolVersion.MQTTv311,
        clean_session=None if v5 else False,
        manual_ack=True,
        reconnect_on_failure=False,
    )
    client.connect_timeout = options.connect_timeout_s
    if options.username is not None:
        password = options.password.get_secret_value() if options.password is not None else None
        client.username_pw_set(options.username, password)
    return client


def connect(client: Client, options: MqttOptions) -> None:
    """Send CONNECT.

    In MQTT 5 the library's default would throw the session away at every start, and the session would end with
    the connection: both are set.

    Raises:
        OSError, ValueError: no connection.
    """
    v5: dict[str, Any] = {"clean_start": False, "properties": _properties(options)} if options.protocol == "5" else {}
    client.connect(options.host, options.effective_port, options.keepalive_s, **v5)


def subscribe(client: Client, options: MqttOptions, filters: tuple[str, ...]) -> None:
    """Send SUBSCRIBE; in MQTT 5 a resumed subscription does not bring the retained messages again."""
    qos: int = options.qos
    if options.protocol == "5":
        wish = SubscribeOptions(qos, retainHandling=_RETAINED_FOR_NEW_SUBSCRIPTIONS)
        client.subscribe([(topic_filter, wish) for topic_filter in filters])
    else:
        client.subscribe([(topic_filter, qos) for topic_filter in filters])


def _properties(options: MqttOptions) -> Properties:
    properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call] # paho's has no annotations
    properties.SessionExpiryInterval = options.session_expiry_s
    properties.ReceiveMaximum = options.receive_maximum
    properties.MaximumPacketSize = max(_LEAST_PACKET, 2 * options.max_payload_bytes) + _ROOM_FOR_TOPIC
    return properties
