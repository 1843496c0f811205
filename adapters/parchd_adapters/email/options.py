"""What stands under ``[notifiers.NAME]`` for mail."""

import re
from enum import StrEnum
from typing import Annotated

from pydantic import AfterValidator, Field, FilePath, model_validator

from parchd.contract import Options, Secret
from parchd_adapters._shared.hosts import is_loopback

_ADDRESS = re.compile(r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+(\.[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+)*@[A-Za-z0-9.-]+")
_LABEL = re.compile(r"[A-Za-z0-9]([A-Za-z0-9-]{0,61}[A-Za-z0-9])?")
_PRINTABLE = re.compile(r"[\x20-\x7e]*")


class Security(StrEnum):
    STARTTLS = "starttls"
    TLS = "tls"
    PLAIN = "plain"


USUAL_PORT = {Security.STARTTLS: 587, Security.TLS: 465, Security.PLAIN: 25}


def _address(text: str) -> str:
    """Check one mail address (RFC 5321, 4.5.3.1: 64 characters, then 255), in ASCII.

    >>> _address("north.block@quillmere.example")
    'north.block@quillmere.example'
    """
    local, _, domain = text.rpartition("@")
    right = _ADDRESS.fullmatch(text) and all(_LABEL.fullmatch(label) for label in domain.split("."))
    if not right or len(local) > 64 or len(domain) > 255:
        raise ValueError("a mail address like name@domain, without a display name, the domain in ASCII (xn--...)")
    return text


def _host(text: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9._-]{1,255}|[0-9A-Fa-f:.]*:[0-9A-Fa-f:.]*:[0-9A-Fa-f:.]*", text):
        raise ValueError("the name or IP address of the mail server, without a port")
    return text


Address = Annotated[str, AfterValidator(_address)]


class EmailOptions(Options):
    """Options of the notifier ``email``; ``adapters/docs/email.md`` describes each."""

    host: Annotated[str, AfterValidator(_host), Field(description="the mail server")]
    port: Annotated[int, Field(ge=1, le=65535)] | None = None
    security: Security = Security.STARTTLS
    username: str = ""
    password: Secret | None = None
    from_address: Annotated[Address, Field(description="the address that mails come from")]
    to: Annotated[tuple[Address, ...], Field(max_length=50, description="a list of addresses to send to")] = ()
    ca_file: FilePath | None = None
    timeout_s: Annotated[float, Field(ge=1, le=50)] = 20.0
    charts: bool = True

    @property
    def effective_port(self) -> int:
        """The port, or the usual one for the kind of connection."""
        return self.port or USUAL_PORT[self.security]

    @model_validator(mode="after")
    def _login_is_whole_and_never_in_the_clear(self) -> "EmailOptions":
        secret = self.password.get_secret_value() if self.password else ""
        if bool(self.username) != bool(secret):
            raise ValueError("username and password together, or neither of them")
        if not _PRINTABLE.fullmatch(self.username + secret):
            raise ValueError("a username and a password of printable ASCII characters: SMTP logins know no others")
        if self.username and self.security is Security.PLAIN and not is_loopback(self.host):
            raise ValueError(
                "an encrypted connection for the login: set security to 'starttls' or 'tls'"
                " (a login over 'plain' is for a server on this machine only)"
            )
        return self

    @model_validator(mode="after")
    def _nobody_is_named_twice(self) -> "EmailOptions":
        if len({address.lower() for address in self.to}) < len(self.to):
            raise ValueError("each address once in to")
        return self
