"""The ``mqtt`` source: readings that sensors publish to an MQTT broker."""

from parchd.contract import AdapterKind, Services, Source
from parchd_adapters.mqtt.options import MqttOptions


def build(options: MqttOptions, services: Services) -> Source:
    """Make the source; nothing is opened yet."""
    from parchd_adapters.mqtt.source import MqttSource

    return MqttSource(options, services)


KIND: AdapterKind[MqttOptions, Source] = AdapterKind(options=MqttOptions, build=build)
