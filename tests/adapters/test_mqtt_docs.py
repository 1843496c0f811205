"""The page about ``mqtt`` against what the source does."""

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from parchd.contract import Sample, TimeSource, Unit
from parchd_adapters.mqtt import KIND
from parchd_adapters.mqtt.decode import Stamp
from parchd_adapters.mqtt.options import MqttOptions, Rule, Tls
from parchd_adapters.mqtt.routes import Routes

PAGE = (Path(__file__).parents[2] / "adapters/docs/mqtt.md").read_text("utf-8")
BLOCKS = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
SECRETS = ("password", "key_password")


def options() -> MqttOptions:
    table: dict[str, Any] = tomllib.loads("\n".join(BLOCKS))["sources"]["field"]
    assert table.pop("kind") == "mqtt"
    table["password"] = Path(table.pop("password_file")).name
    return KIND.options.model_validate(table)


def samples(topic: str, payload: bytes) -> list[Sample]:
    route = Routes.of(options()).find(topic)
    assert not isinstance(route, str), route
    found, problems = route.decode(payload, Stamp(lambda: 7, TimeSource.ARRIVAL))
    assert not problems
    return list(found)


def test_every_option_stands_on_the_page() -> None:
    for model in (MqttOptions, Rule, Tls):
        for name in model.model_fields:
            key = f"{name}_file" if name in SECRETS else name
            assert re.search(rf"^\| `{key}` \|", PAGE, re.MULTILINE), key


@pytest.mark.parametrize("model", [MqttOptions, Rule])
def test_the_defaults_on_the_page_are_the_defaults(model: type[MqttOptions] | type[Rule]) -> None:
    for name, default in re.findall(r'^\| `(\w+)` \| `"?([^`"]+)"?` \|', PAGE, re.MULTILINE):
        if name in model.model_fields:
            found = model.model_fields[name].get_default(call_default_factory=True)
            assert str(found).lower() == default.lower(), name


def test_the_examples_do_what_the_page_says() -> None:
    assert samples("quillmere/north-deep/volts", b"2.501") == [
        Sample("north-deep", 7, 2.501, Unit.V, TimeSource.ARRIVAL)
    ]
    (payload,) = re.findall(r'publishes `(\{"p".*?\})` to', PAGE, re.DOTALL)
    at_0630_us = 1_777_617_000_000_000
    assert samples("quillmere/nodes/creek", payload.encode()) == [
        Sample("creek-shallow", at_0630_us, 2.501, Unit.V),
        Sample("creek-deep", at_0630_us, 2.377, Unit.V),
        Sample("creek-soil", at_0630_us, 14.2, Unit.CELSIUS),
    ]
    assert [(s.channel, s.value) for s in samples("quillmere/tank", b'{"volts": 1.5}')] == [("tank", 1.5)]
