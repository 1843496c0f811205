from typing import Any

import pytest
from pydantic import ValidationError

from parchd.contract import Unit
from parchd_adapters.serial_lines.options import SerialLinesOptions

PORT = "/dev/serial/by-id/usb-quillmere-0"


def options(**given: Any) -> SerialLinesOptions:
    return SerialLinesOptions.model_validate({"port": PORT, "fields": ["a0"], **given})


@pytest.mark.parametrize(
    "port", [PORT, "/dev/ttyUSB0", "socket://10.0.0.7:4001", "rfc2217://[::1]:2217?ign_set_control"]
)
def test_a_port_is_a_path_or_a_url(port: str) -> None:
    assert options(port=port).port == port


@pytest.mark.parametrize(
    "port",
    [
        "ttyUSB0",
        "COM3",
        "",
        "loop://",
        "spy:///dev/ttyUSB0",
        "socket://host",
        "socket://:4001",
        "socket://h:1/?logging=debug",
    ],
)
def test_any_other_port_is_refused(port: str) -> None:
    with pytest.raises(ValidationError, match="port"):
        options(port=port)


def test_an_entry_of_the_list_may_carry_its_unit() -> None:
    fields = options(fields=["a0", "supply:V", " t1 : degC "]).fields
    assert [(field.channel, field.unit) for field in fields] == [("a0", None), ("supply", Unit.V), ("t1", Unit.CELSIUS)]


def test_a_table_names_the_key_of_each_channel() -> None:
    fields = options(format="json", fields={"a0": "/adc/0", "vs": {"key": "vs", "unit": "V"}}).fields
    assert [(field.channel, field.key, field.unit) for field in fields] == [
        ("a0", "/adc/0", None),
        ("vs", "vs", Unit.V),
    ]


def test_options_survive_being_written_and_read() -> None:
    one = options(fields=["a0", "-", "supply:V"])
    assert SerialLinesOptions.model_validate(one) == one


@pytest.mark.parametrize(
    ("given", "hint"),
    [
        ({"fields": []}, "at least one channel"),
        ({"fields": ["-", ""]}, "at least one channel"),
        ({"fields": ["a0", "a0"]}, "each channel once"),
        ({"fields": ["a 0"]}, "of 1 to 64 characters"),
        ({"fields": ["a" * 65]}, "of 1 to 64 characters"),
        ({"fields": ["a0:volts"]}, "a unit among counts, V, mV"),
        ({"fields": [1]}, "text like"),
        ({"fields": "a0"}, "a list of channels, or a table"),
        ({"fields": ["...", "a0"]}, "only at the end"),
        ({"fields": {"a0": "A0"}}, "a list of channels, because format is delimited"),
        ({"format": "json"}, "a table from channel to key, because format is json"),
        ({"format": "key-value", "fields": {"a0": 5}}, "a key, or a table"),
        ({"format": "key-value", "fields": {"a0": {"unit": "V"}}}, "a key, or a table"),
        (
            {"format": "key-value", "fields": {"a0": {"key": "A", "units": "V"}}},
            "key and unit and nothing else, not 'units'",
        ),
        ({"format": "json", "fields": {"a0": "/adc/~2"}}, "written '~0'"),
        ({"format": "json", "fields": {"a0": "x"}, "time_field": "/~"}, "written '~0'"),
        ({"format": "json", "fields": {"a0": "x"}, "delimiter": ";"}, "delimiter: none"),
        ({"time_field": "t"}, "one of the names in fields"),
        ({"fields": ["t"], "time_field": "t"}, "at least one channel beside the time"),
        ({"time_zone": "Europe/Quillmere"}, "a time zone such as"),
        ({"baud": 0}, "baud"),
        ({"parity": "maybe"}, "'none', 'even' or 'odd'"),
        ({"max_line_bytes": 10_000_000}, "max_line_bytes"),
        ({"bauds": 9600}, "bauds"),
    ],
)
def test_what_is_wrong_is_said(given: dict[str, Any], hint: str) -> None:
    with pytest.raises(ValidationError) as caught:
        options(**given)
    assert hint in str(caught.value)
