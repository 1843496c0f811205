"""The demo's configuration: a file like any farm's."""

import json
from dataclasses import dataclass
from pathlib import Path

from parchd.demo.farm import ALTITUDE_M, CONTROLLER, GROWER, INTERVAL_S, SITE, TIME_ZONE, ZONES, Tensiometer, Zone
from parchd.demo.script import DIGEST_AT

FILE = "demo.toml"
SECRET_FILE = "webhook.secret"  # noqa: S105 - a file's name
SUPPLY = "supply"
ADC_BITS = 12
FULL_SCALE_V = 5.0


@dataclass(frozen=True, slots=True)
class Places:
    """Where the far ends are: the serial device, and ports on this machine."""

    device: str
    broker_port: int
    mail_port: int
    webhook_url: str


def configuration(places: Places) -> str:
    """Write the configuration of the farm."""
    serial, field = _SERIAL, _FIELD
    parts = [
        _HEAD.format(site=_text(SITE), zone=_text(TIME_ZONE), altitude=ALTITUDE_M, digest=_text(DIGEST_AT)),
        serial.format(port=_text(places.device), fields=_fields(ZONES[0]), bits=ADC_BITS, volts=FULL_SCALE_V),
        field.format(port=places.broker_port),
        _MAIL.format(port=places.mail_port, to=_text(GROWER)),
        _WEBHOOK.format(name=CONTROLLER, url=_text(places.webhook_url), secret=_text(SECRET_FILE)),
        _DEFAULTS.format(interval=INTERVAL_S),
        *(_zone(zone) for zone in ZONES),
    ]
    return "\n".join(parts)


def write_configuration(folder: Path, places: Places) -> Path:
    """Write it into a folder; return the file."""
    path = folder / FILE
    path.write_text(configuration(places), encoding="utf-8")
    return path


def _fields(zone: Zone) -> str:
    return _list([*(tensiometer.name for tensiometer in zone.tensiometers), f"{SUPPLY}:V"])


def _zone(zone: Zone) -> str:
    head = _ZONE.format(
        key=zone.key, title=_text(zone.title), crop=_text(zone.crop), plan=zone.plan_kpa, now=zone.now_kpa
    )
    return "\n".join([head, *(_tensiometer(zone, tensiometer) for tensiometer in zone.tensiometers)])


def _tensiometer(zone: Zone, tensiometer: Tensiometer) -> str:
    return _TENSIOMETER.format(
        name=tensiometer.name,
        zone=_text(zone.key),
        station=_text(tensiometer.station),
        channel=_text(f"{zone.board}/{tensiometer.name}"),
        transducer=_text("converted" if zone.board == ZONES[0].board else "direct"),
        depth=tensiometer.depth_cm,
        height=tensiometer.height_cm,
    )


def _text(value: str) -> str:
    """Write a text as a TOML basic string; JSON's is one, too."""
    return json.dumps(value, ensure_ascii=False)


def _list(values: list[str]) -> str:
    return json.dumps(values, ensure_ascii=False)


_HEAD = """\
# An invented farm. parchd demo wrote this file; the daemon of the demo runs by it.
# Look at what it means:  parchd check demo.toml

[site]
name = {site}
time_zone = {zone}
altitude_m = {altitude:g}

[store]
path = "parchd.db"
commit_ms = 50                  # the clock of the demo runs fast; 500 is the usual

[schedule]
digest_at = {digest}
"""

_SERIAL = """\
# --- The north block: a board on a serial line --------------------------------
# A line each minute, the codes of a 12-bit converter and the supply in volts:
#     1206,1021,1180,988,5.002

[sources.north-board]
kind = "serial-lines"
port = {port}
fields = {fields}
unit = "counts"

[transducers.converted]
kind = "ratiometric"            # the signal is a part of the supply
low_kpa = 0                     # at 10 % of it
high_kpa = -100                 # at 90 %; vacuum is negative
supply_channel = "north-board/supply"

[transducers.converted.adc]
bits = {bits}
full_scale_v = {volts:g}
"""

_FIELD = """\
# --- Creek terrace and nursery: boards that speak MQTT ------------------------
# quillmere/nursery/shed-30  {{"time": "2026-05-12T04:41:00Z", "volts": 1.095}}

[sources.field]
kind = "mqtt"
host = "127.0.0.1"
port = {port}
gather_s = 0                    # time runs fast here: no message waits for others

[sources.field.subscribe.probes]
filter = "quillmere/+/+"
channel = "{{2}}"                 # the second wildcard: shed-30
value = "volts"
unit = "V"
time_field = "time"

[transducers.direct]
kind = "ratiometric"
low_kpa = 0
high_kpa = -100
"""

_MAIL = """\
# --- Who is told ---------------------------------------------------------------

[notifiers.mail]
kind = "email"
host = "127.0.0.1"              # the demo's own mail server
port = {port}
security = "plain"
from_address = "parchd@quillmere.example"
to = [{to}]
max_per_hour = 60
"""

_WEBHOOK = """\
[notifiers.{name}]
kind = "webhook"
url = {url}
name = "{name}"
secret_file = {secret}
allow_private = true            # the demo's receiver is on this machine
max_per_hour = 60
digest = false                  # programs do not read digests
"""

_DEFAULTS = """\
# --- The ground ------------------------------------------------------------------

[defaults]
interval_s = {interval:g}
silent_intervals = 5
"""

_ZONE = """\
[zones.{key}]
title = {title}
crop = {crop}
plan_kpa = {plan:g}
now_kpa = {now:g}
on_delay_min = 2                # short, for the demo; 30 and 60 are usual
off_delay_min = 5
"""

_TENSIOMETER = """\
[tensiometers.{name}]
zone = {zone}
station = {station}
channel = {channel}
transducer = {transducer}
depth_cm = {depth}
height_cm = {height}
"""
