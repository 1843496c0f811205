"""From a topic to the decoder of its payloads. No input and output here."""

from collections.abc import Mapping

from parchd_adapters._shared.pointer import parse_key
from parchd_adapters.mqtt.channels import Channels
from parchd_adapters.mqtt.decode import BareNumber, JsonDocument, Reader
from parchd_adapters.mqtt.options import MqttOptions, Rule, Value
from parchd_adapters.mqtt.reasons import UNKNOWN_TOPIC
from parchd_adapters.mqtt.template import bind
from parchd_adapters.mqtt.topics import Captures, match

Route = BareNumber | JsonDocument

_REMEMBERED_TOPICS = 4096
_LONGEST_REMEMBERED = 256


class Routes:
    """Finds the route of a topic; the first rule whose filter matches has it."""

    def __init__(self, rules: Mapping[str, Rule], channels: Channels) -> None:
        self._rules = tuple(rules.values())
        self._channels = channels
        self._known: dict[str, Route | str] = {}

    @classmethod
    def of(cls, options: MqttOptions) -> "Routes":
        return cls(options.subscribe, Channels(options.max_channels))

    def find(self, topic: str) -> Route | str:
        """Find the route of a topic, or the reason why there is none."""
        route = self._known.get(topic)
        if route is None:
            route = self._look_up(topic)
            self._remember(topic, route)
        return route

    def _look_up(self, topic: str) -> Route | str:
        for rule in self._rules:
            captures = match(rule.filter, topic)
            if captures is not None:
                return self._route(rule, topic, captures)
        return UNKNOWN_TOPIC

    def _route(self, rule: Rule, topic: str, captures: Captures) -> Route:
        def reader(template: str, value: Value) -> Reader:
            bound = bind(template, topic, rule.filter, captures)
            return Reader(bound.fixed, bound, parse_key(value.value), value.unit or rule.unit)

        readers = tuple(reader(template, value) for template, value in rule.channels.items())
        if not rule.is_json:
            return BareNumber(readers[0], self._channels)
        time = None if rule.time_field is None else parse_key(rule.time_field)
        return JsonDocument(readers, self._channels, time, rule.times)

    def _remember(self, topic: str, route: Route | str) -> None:
        if len(topic) > _LONGEST_REMEMBERED:
            return
        if len(self._known) >= _REMEMBERED_TOPICS:
            self._known.clear()
        self._known[topic] = route
