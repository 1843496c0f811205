"""Options of the source ``mqtt``."""

from typing import Any

import pytest
from pydantic import ValidationError

from parchd.contract import Services, Unit
from parchd.testing import FakeClock
from parchd_adapters.mqtt import KIND
from parchd_adapters.mqtt.identity import default_client_id
from parchd_adapters.mqtt.options import MqttOptions

RULE = {"filter": "farm/+/volts", "channel": "{1}"}


def options(**given: Any) -> MqttOptions:
    return MqttOptions.model_validate({"host": "broker.lan", "subscribe": {"raw": RULE}, **given})


def rule(**given: Any) -> MqttOptions:
    return options(subscribe={"raw": {"filter": "farm/+/volts", **given}})


def test_a_host_and_a_filter_are_enough() -> None:
    found = MqttOptions.model_validate({"host": "broker.lan", "subscribe": {"raw": {"filter": "farm/+"}}})
    assert (found.effective_port, found.protocol, found.qos) == (1883, "3.1.1", 1)
    assert found.subscribe["raw"].channel == "{topic}"
    assert found.subscribe["raw"].unit is Unit.V


def test_an_empty_table_tls_encrypts_and_changes_the_port() -> None:
    assert options(tls={}).effective_port == 8883
    assert options(tls={}, port=1234).effective_port == 1234


def test_a_value_may_be_written_short_or_with_its_unit() -> None:
    found = rule(values={"{1}-deep": "/p/v", "{1}-soil": {"value": "t", "unit": "degC"}}).subscribe["raw"]
    assert found.is_json
    assert {name: (value.value, value.unit) for name, value in found.channels.items()} == {
        "{1}-deep": ("/p/v", None),
        "{1}-soil": ("t", Unit.CELSIUS),
    }


def test_a_password_is_not_shown() -> None:
    found = options(username="parchd", password="quiet water")
    assert "quiet water" not in repr(found)
    assert found.password is not None
    assert found.password.get_secret_value() == "quiet water"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"host": "mqtt://broker.lan"}, "without 'mqtt://'"),
        ({"host": "broker lan"}, "without 'mqtt://'"),
        ({"host": ""}, "at least 1 character"),
        ({"port": 0}, "greater than or equal to 1"),
        ({"client_id": "a\0b"}, "match pattern"),
        ({"protocol": "3.1"}, "'3.1.1' or '5'"),
        ({"password": "x"}, "username, because"),
        ({"qos": 2}, "0 or 1"),
        ({"receive_maximum": 100}, 'protocol = "5", because of receive_maximum'),
        ({"session_expiry_s": 3600}, 'protocol = "5", because of session_expiry_s'),
        ({"protocol": "5", "receive_maximum": 0}, "greater than or equal to 1"),
        ({"subscribe": {}}, "at least 1 item"),
        ({"tls": {"key_file": "a.key"}}, "cert_file, because"),
        ({"tls": {"verify": False}}, "Extra inputs"),
        ({"nonsense": 1}, "Extra inputs"),
    ],
)
def test_options_that_cannot_work_are_refused_with_the_reason(given: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        options(**given)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"filter": "farm/v+"}, "whole level"),
        ({"channel": "{2}"}, "offers, not"),
        ({"value": "/a~2"}, "JSON Pointer"),
        ({"value": ""}, "at least 1 character"),
        ({"value": "/v", "values": {"a": "/v"}}, "either channel and value, or the table values"),
        ({"channel": "{1}", "values": {"a": "/v"}}, "either channel and value, or the table values"),
        ({"values": {"a b": "/v"}}, "name of a-z"),
        ({"values": {"a": {"unit": "V"}}}, "Field required"),
        ({"values": {"a": {"value": "/v", "unit": "bar"}}}, "Input should be"),
        ({"time_field": "/t"}, "value or values, because"),
        ({"value": "/v", "time_field": "/t", "time_format": "stardate"}, "Input should be"),
        ({"value": "/v", "time_field": "/t", "time_zone": "Quillmere"}, "a time zone such as"),
        ({"channel": "{/id}"}, "value, because"),
    ],
)
def test_a_rule_that_cannot_work_is_refused_with_the_reason(given: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        rule(**given)


def test_the_default_client_id_is_safe_stable_and_different_for_each_source() -> None:
    names = ["field", "an-extremely-long-name-of-a-source", "süd", "…", "bus1"]
    ids = [default_client_id("Quillmere Orchard", name) for name in names]
    assert all(len(one) <= 23 and one.isascii() and one.isalnum() for one in ids)
    assert len(set(ids)) == len(names)
    assert default_client_id("Quillmere Orchard", "field") == ids[0]
    assert default_client_id("another site", "field") != ids[0]


def test_listing_the_kind_does_not_load_the_mqtt_library() -> None:
    import subprocess
    import sys

    code = "import sys, parchd_adapters.mqtt as m; assert m.KIND; assert 'paho' not in sys.modules"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_building_reads_no_file_and_opens_nothing() -> None:
    given = options(tls={"ca_file": "nowhere.pem"}, host="nowhere.invalid")
    assert callable(KIND.build(given, Services("field", "Quillmere Orchard", FakeClock())).run)
