"""The farm of the benchmarks: a hundred tensiometers in ten zones, all on one broker."""

import json
import math
from collections.abc import Iterator
from pathlib import Path

SENSORS = 100
ZONES = 10
INTERVAL_MS = 60_000
TOPICS = tuple(f"quillmere/n{number:02d}/probe" for number in range(SENSORS))
FILTER = "quillmere/+/probe"
PAYLOAD_BYTES = 200

_TABLES = """
[site]
name = "Quillmere Orchard"
time_zone = "Europe/Lisbon"
altitude_m = 120

[store]
path = "{journal}"

[transducers.part]
kind = "ratiometric"
low_kpa = 0
high_kpa = -100

[defaults]
transducer = "part"
height_cm = 45
interval_s = 60
silent_intervals = 1000

[sources.field]
kind = "mqtt"
port = {port}
host = "127.0.0.1"
client_id = "{client_id}"

[sources.field.subscribe.probes]
filter = "quillmere/+/probe"
channel = "{{1}}"
value = "volts"
time_field = "time"
time_format = "unix-ms"

[notifiers.people]
kind = "email"
host = "127.0.0.1"
port = 9
security = "plain"
from_address = "alarms@quillmere.example"
to = ["irrigation@quillmere.example"]
"""

_SINK = """
[sinks.history]
kind = "influxdb"
url = "{url}"
org = "quillmere"
bucket = "soil"
"""

_ZONE = """
[zones.block-{zone}]
plan_kpa = 30
now_kpa = 40
decide = "any"
"""

_TENSIOMETER = """
[tensiometers.t{number:02d}]
zone = "block-{zone}"
station = "post-{station}"
channel = "field/n{number:02d}"
depth_cm = 30

[[tensiometers.t{number:02d}.calibration]]
valid_from = 2020-02-11
points = [[0.523, 0.0], [2.114, 40.0], [3.712, 80.0]]
"""


def configuration(folder: Path, port: int, client_id: str = "bench", sink_url: str | None = None) -> Path:
    """Write the configuration of the farm; its journal is ``journal.db`` beside it.

    Everything is on: calibrations, irrigation alarms on every reading of every zone, fault alarms, a notifier (whose
    server is away), and the copy to a time-series server when there is one.
    """
    text = _TABLES.format(journal=folder / "journal.db", port=port, client_id=client_id)
    text += "" if sink_url is None else _SINK.format(url=sink_url)
    text += "".join(_ZONE.format(zone=zone) for zone in range(ZONES))
    text += "".join(
        _TENSIOMETER.format(number=number, zone=number % ZONES, station=number // ZONES % 5)
        for number in range(SENSORS)
    )
    path = folder / "farm.toml"
    path.write_text(text, encoding="utf-8")
    return path


def volts(number: int, step: int) -> float:
    """What a sensor says: 10 to 35 kPa of vacuum and back within some days, noise of a few millivolts."""
    vacuum_kpa = 22.5 - 12.5 * math.cos(step / 700.0 + number) + 0.1 * ((step * 7 + number * 3) % 11)
    return round(0.5 + 0.04 * vacuum_kpa, 4)


def messages(count: int, end_ms: int) -> Iterator[tuple[str, bytes]]:
    """Give what the sensors publish one after another, each once a minute, up to ``end_ms``: topics and payloads."""
    begin_ms = end_ms - count // SENSORS * INTERVAL_MS
    for index in range(count):
        step, number = divmod(index, SENSORS)
        time_ms = begin_ms + step * INTERVAL_MS + number * INTERVAL_MS // SENSORS
        yield TOPICS[number], _payload(number, step, time_ms)


def _payload(number: int, step: int, time_ms: int) -> bytes:
    document = {
        "node": f"node-{number:02d}",
        "time": time_ms,
        "volts": volts(number, step),
        "battery": 3.87,
        "rssi": -71 - step % 9,
        "uptime_s": 60 * step,
        "firmware": "2.4.1",
    }
    text = json.dumps({**document, "note": ""})
    return json.dumps({**document, "note": "." * max(0, PAYLOAD_BYTES - len(text))}).encode()
