"""The configuration of a small invented farm, put together from parts, for a daemon that runs whole."""

from parchd.testing.http_receiver import HttpReceiver
from parchd.testing.mail_sandbox import MailSandbox

GROUND = """\
[site]
name = "Quillmere Orchard"
time_zone = "Europe/Lisbon"
altitude_m = 100

[schedule]
digest_at = "never"

[transducers.direct]
kind = "pressure"
vacuum_positive = true

[defaults]
transducer = "direct"
depth_cm = 30
height_cm = 0
fastest_drying_kpa_per_h = 100000

[zones.north]
title = "north block"
now_kpa = 40
decide = "any"
on_delay_min = 0
off_delay_min = 0
"""
"""One zone that asks for water at 40 kPa and is content at 37; a sample in kPa is the tension, and dries in no time."""


def farm(*parts: str, tensiometers: int = 4, source: str = "field", interval_s: int = 900) -> str:
    """Compose a configuration of tensiometers ``t0``, ``t1``, ... on the channels ``SOURCE/c0``, ``SOURCE/c1``, ..."""
    placed = (
        f'[tensiometers.t{number}]\nzone = "north"\nstation = "post-{number}"\nchannel = "{source}/c{number}"\n'
        f"interval_s = {interval_s}\n"
        for number in range(tensiometers)
    )
    return "\n".join((GROUND, *placed, *parts))


def mqtt_source(port: int, name: str = "field", **options: object) -> str:
    """Messages ``farm/CHANNEL`` with ``{"t": seconds, "v": kPa}``, none of which waits for others."""
    return f"""\
[sources.{name}]
kind = "mqtt"
host = "127.0.0.1"
port = {port}
{_keys({"gather_s": 0, **options})}
[sources.{name}.subscribe.all]
filter = "farm/+"
channel = "{{1}}"
value = "v"
time_field = "t"
unit = "kPa"
"""


def serial_source(port: str, *channels: str, name: str = "bus1", **options: object) -> str:
    """Lines with a number in kPa for each channel."""
    return f"""\
[sources.{name}]
kind = "serial-lines"
port = "{port}"
fields = [{", ".join(f'"{channel}"' for channel in channels)}]
unit = "kPa"
{_keys(options)}"""


def mail(sandbox: MailSandbox, name: str = "people", **options: object) -> str:
    """Mails to one person, as many as there are; without pictures, for a drawing takes longer than a test should."""
    return f"""\
[notifiers.{name}]
kind = "email"
host = "{sandbox.host}"
port = {sandbox.port}
security = "plain"
from_address = "alarms@quillmere.example"
to = ["anne@quillmere.example"]
{_keys({"max_per_hour": 1000, "charts": False, **options})}"""


def webhook(receiver: HttpReceiver, name: str = "hook", **options: object) -> str:
    """Webhooks, as many as there are."""
    keys = _keys({"allow_private": True, "max_per_hour": 1000, **options})
    return f'[notifiers.{name}]\nkind = "webhook"\nurl = "{receiver.url}/alarms"\n{keys}'


def influx(url: str, name: str = "copy", **options: object) -> str:
    """A copy of the journal on a server that takes the InfluxDB 2 write API."""
    keys = _keys({"org": "farm", "bucket": "tension", **options})
    return f'[sinks.{name}]\nkind = "influxdb"\nurl = "{url}"\n{keys}'


def _keys(options: dict[str, object]) -> str:
    return "".join(f"{key} = {_toml(value)}\n" for key, value in options.items())


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else str(value)
