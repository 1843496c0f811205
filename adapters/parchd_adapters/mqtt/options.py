"""What stands under ``[sources.NAME]`` with ``kind = "mqtt"``."""

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from parchd.contract import Options, Secret, Unit
from parchd_adapters._shared.fields import ZoneName
from parchd_adapters._shared.pointer import parse_key
from parchd_adapters._shared.times import TimeFormat, TimeReader, parse_zone
from parchd_adapters.mqtt.template import check_template
from parchd_adapters.mqtt.topics import check_filter, check_topic

DAY_S = 86_400
_V5_ONLY = ("session_expiry_s", "receive_maximum")


def _check_key(key: str) -> str:
    parse_key(key)
    return key


def _check_host(host: str) -> str:
    if "/" in host or any(character.isspace() for character in host):
        raise ValueError("a host's name or address alone, without 'mqtt://' and port: 'broker.lan'")
    return host


def _short_form(value: object) -> object:
    return {"value": value} if isinstance(value, str) else value


Key = Annotated[str, Field(min_length=1), AfterValidator(_check_key)]
"""A JSON Pointer (RFC 6901), or the plain name of a top-level key."""


class Tls(Options):
    """An encrypted connection. The broker's certificate and name are always checked."""

    ca_file: Path | None = None
    """Certificates to trust, PEM; left out: those the system trusts."""
    cert_file: Path | None = None
    """Our own certificate, PEM."""
    key_file: Path | None = None
    """The key to it, PEM; left out: it stands in ``cert_file``."""
    key_password: Secret | None = None
    """What the key is encrypted with."""

    @model_validator(mode="after")
    def _a_key_needs_a_certificate(self) -> Self:
        if self.cert_file is None and (self.key_file or self.key_password):
            raise ValueError("cert_file, because there is a key")
        return self


class Value(Options):
    """Where a channel's value stands in a JSON payload."""

    value: Annotated[Key, Field(description="a key or JSON Pointer")]
    unit: Unit | None = None


class Rule(Options):
    """Which topics to subscribe to, and what their payloads mean."""

    filter: Annotated[str, Field(description="a topic filter such as farm/+/volts"), AfterValidator(check_filter)]
    channel: str = "{topic}"
    value: Key | None = None
    values: dict[str, Annotated[Value, BeforeValidator(_short_form)]] = Field(default_factory=dict)
    unit: Unit = Unit.V
    time_field: Key | None = None
    time_format: TimeFormat = TimeFormat.AUTO
    time_zone: ZoneName | None = None
    daylight_saving: bool = True

    @property
    def is_json(self) -> bool:
        """Whether the payload is a JSON document; else it is a bare number."""
        return self.value is not None or bool(self.values)

    @property
    def channels(self) -> dict[str, Value]:
        """What a JSON payload holds, by the template of the channel's name."""
        return self.values or {self.channel: Value(value=self.value or "-")}

    @property
    def times(self) -> TimeReader:
        """How the time in a JSON payload is read."""
        zone = parse_zone(self.time_zone) if self.time_zone else None
        return TimeReader(self.time_format, zone, self.daylight_saving)

    @model_validator(mode="after")
    def _say_where_the_value_is_once(self) -> Self:
        if self.values and not self.model_fields_set.isdisjoint({"value", "channel"}):
            raise ValueError("either channel and value, or the table values that holds both")
        if self.time_field is not None and not self.is_json:
            raise ValueError(
                "value or values, because a bare number has no time_field: where in the JSON payload it stands"
            )
        return self

    @model_validator(mode="after")
    def _name_channels_well(self) -> Self:
        for template in self.channels:
            check_template(template, self.filter)
            if "{/" in template and not self.is_json:
                raise ValueError(f"value, because {template!r} takes a part of the name from a JSON payload")
        return self


class MqttOptions(Options):
    """A broker, and what to subscribe to."""

    host: Annotated[
        str,
        Field(min_length=1, max_length=253, description="name or address of the broker"),
        AfterValidator(_check_host),
    ]
    port: Annotated[int, Field(ge=1, le=65535)] | None = None
    client_id: Annotated[str, Field(max_length=256, pattern=r"^[^\x00-\x1f\x7f]*$")] = ""
    protocol: Literal["3.1.1", "5"] = "3.1.1"
    username: Annotated[str, Field(min_length=1)] | None = None
    password: Secret | None = None
    tls: Tls | None = None
    keepalive_s: Annotated[int, Field(ge=1, le=1200)] = 60
    connect_timeout_s: Annotated[float, Field(gt=0, le=60)] = 5.0
    qos: Literal[0, 1] = 1
    session_expiry_s: Annotated[int, Field(ge=60, le=0xFFFFFFFF)] = 30 * DAY_S
    receive_maximum: Annotated[int, Field(ge=1, le=65535)] = 1000
    gather_s: Annotated[float, Field(ge=0, le=60)] = 5.0
    max_payload_bytes: Annotated[int, Field(ge=1, le=16 * 1024 * 1024)] = 64 * 1024
    max_channels: Annotated[int, Field(ge=1, le=100_000)] = 1000
    commands: Annotated[str, AfterValidator(check_topic)] | None = None
    """Topic of commands about alarms; left out: nobody gives any here."""
    replies: Annotated[str, AfterValidator(check_topic)] | None = None
    """Topic of the replies; left out: below the one of the commands."""
    subscribe: Annotated[
        dict[str, Rule], Field(min_length=1, description="tables such as [sources.NAME.subscribe.volts]")
    ]

    @property
    def effective_port(self) -> int:
        """The port: the one given, else the usual one."""
        return self.port or (1883 if self.tls is None else 8883)

    @property
    def filters(self) -> tuple[str, ...]:
        """What to subscribe to, each filter once."""
        commands = [] if self.commands is None else [self.commands]
        return tuple(dict.fromkeys([*(rule.filter for rule in self.subscribe.values()), *commands]))

    @property
    def replies_topic(self) -> str:
        """Where replies to commands go."""
        return self.replies or f"{self.commands}/replies"

    @model_validator(mode="after")
    def _replies_need_commands_and_another_topic(self) -> Self:
        if self.replies is not None and self.commands is None:
            raise ValueError("commands, because there are replies")
        if self.replies is not None and self.replies == self.commands:
            raise ValueError("replies to another topic than the commands: else each reply would be read as a command")
        return self

    @model_validator(mode="after")
    def _a_password_needs_a_user(self) -> Self:
        if self.password is not None and self.username is None:
            raise ValueError("username, because there is a password")
        return self

    @model_validator(mode="after")
    def _keep_version_5_apart(self) -> Self:
        if self.protocol != "5" and (found := self.model_fields_set.intersection(_V5_ONLY)):
            raise ValueError(f'protocol = "5", because of {" and ".join(sorted(found))}')
        return self
