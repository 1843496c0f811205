"""What stands under ``[notifiers.NAME]`` for webhooks."""

import re
from datetime import date
from typing import Annotated
from urllib.parse import SplitResult, urlsplit

from pydantic import AfterValidator, Field, FilePath, SecretStr, model_validator

from parchd.contract import Options, Secret
from parchd_adapters._shared.hosts import is_loopback
from parchd_adapters.webhook.addresses import plainly_special
from parchd_adapters.webhook.envelope import Envelope
from parchd_adapters.webhook.signature import key_of

_TOKEN = re.compile(r"[A-Za-z0-9!#$%&'*+.^_`|~-]{1,64}")  # RFC 9110, 5.6.2
_VALUE = re.compile(r"[\x21-\x7e]([\x20-\x7e]{0,1022}[\x21-\x7e])?")
_REFERENCE = re.compile(r"[A-Za-z0-9._~:/?#\[\]@!$&'()*+,;=%-]{1,200}")  # RFC 3986, 2
_OURS = frozenset(
    {"connection", "content-encoding", "content-length", "content-type", "host", "transfer-encoding", "user-agent"}
)
_SECRET = frozenset({"authorization", "cookie", "proxy-authorization"})


def _url(text: str) -> str:
    """Check an address: http or https, a host in ASCII, no user name, no fragment."""
    parts = _split(text)
    if parts is None or parts.scheme not in ("http", "https") or not parts.hostname:
        raise ValueError("an address such as https://receiver.quillmere.example/alarms, in ASCII")
    if "@" in parts.netloc:
        raise ValueError("an address without user name and password: they belong into 'authorization'")
    if "#" in text:
        raise ValueError("an address without a fragment (#...)")
    return text


def _split(text: str) -> SplitResult | None:
    if not re.fullmatch(r"[\x21-\x7e]{1,2000}", text):
        return None
    try:
        parts = urlsplit(text)
        _ = parts.port  # raises for one that is none
    except ValueError:
        return None
    return parts if re.fullmatch(r"[A-Za-z0-9._:-]*", parts.hostname or "") else None


def _name(text: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,63}", text):
        raise ValueError("a name of letters, digits, spaces and . _ -, 64 characters at most")
    return text


def _is_ours(name: str) -> bool:
    return name.lower() in _OURS or name.lower().startswith(("webhook-", "ce-"))


def _headers(headers: dict[str, str]) -> dict[str, str]:
    for name, value in headers.items():
        if not _TOKEN.fullmatch(name) or not _VALUE.fullmatch(value):
            raise ValueError("names and values of HTTP headers in printable ASCII")
        if name.lower() in _SECRET:
            raise ValueError(f"no secret in the file: {name} belongs into 'authorization'")
        if _is_ours(name):
            raise ValueError(f"no header that parchd sets itself ({name})")
    return headers


def _event_source(text: str) -> str:
    if not _REFERENCE.fullmatch(text):
        raise ValueError("a URI reference in ASCII, such as https://quillmere.example/farm or /farm/north")
    return text


def _secret(secret: SecretStr) -> SecretStr:
    key_of(secret.get_secret_value())
    return secret


def _authorization(secret: SecretStr) -> SecretStr:
    if not _VALUE.fullmatch(secret.get_secret_value().strip()):
        raise ValueError("the whole value of the header in printable ASCII, such as: Bearer TOKEN")
    return secret


def _header_name(name: str) -> str:
    if not _TOKEN.fullmatch(name) or _is_ours(name):
        raise ValueError("the name of a header that parchd does not set itself, such as X-Api-Key")
    return name


class WebhookOptions(Options):
    """Options of the notifier ``webhook``; ``adapters/docs/webhook.md`` describes each."""

    url: Annotated[str, AfterValidator(_url), Field(description="where to post the messages")]
    name: Annotated[str, AfterValidator(_name)] | None = None
    secret: Annotated[Secret, AfterValidator(_secret)] | None = None
    previous_secret: Annotated[Secret, AfterValidator(_secret)] | None = None
    previous_secret_until: date | None = None
    authorization: Annotated[Secret, AfterValidator(_authorization)] | None = None
    authorization_header: Annotated[str, AfterValidator(_header_name)] = "Authorization"
    headers: Annotated[dict[str, str], AfterValidator(_headers)] = Field(default_factory=dict)
    envelope: Envelope = Envelope.PLAIN
    event_source: Annotated[str, AfterValidator(_event_source)] | None = None
    ca_file: FilePath | None = None
    timeout_s: Annotated[float, Field(ge=1, le=45)] = 15.0
    allow_private: bool = False

    @property
    def recipient(self) -> str:
        """What logs and the outbox call the receiver: never the path or the query, which may hold a token."""
        parts = urlsplit(self.url)
        host = parts.hostname or ""
        return self.name or (host if parts.port is None else f"{host}:{parts.port}")

    @model_validator(mode="after")
    def _only_the_internet_is_called_unless_told(self) -> "WebhookOptions":
        host = urlsplit(self.url).hostname or ""
        if not self.allow_private and (what := plainly_special(host)):
            raise ValueError(f"an address in the public internet, or allow_private = true ({host} is {what})")
        return self

    @model_validator(mode="after")
    def _a_previous_secret_comes_before_another(self) -> "WebhookOptions":
        if self.previous_secret_until is not None and self.previous_secret is None:
            raise ValueError("previous_secret_until only with a previous secret")
        if self.previous_secret is None:
            return self
        if self.secret is None or key_of(self.secret.get_secret_value()) == key_of(
            self.previous_secret.get_secret_value()
        ):
            raise ValueError("a new secret besides the previous one, and different from it")
        return self

    @model_validator(mode="after")
    def _one_header_has_one_value(self) -> "WebhookOptions":
        if self.authorization and self.authorization_header.lower() in map(str.lower, self.headers):
            raise ValueError(f"{self.authorization_header} once: it stands in 'headers' too")
        return self

    @model_validator(mode="after")
    def _authorization_is_never_in_the_clear(self) -> "WebhookOptions":
        parts = urlsplit(self.url)
        if self.authorization is not None and parts.scheme == "http" and not is_loopback(parts.hostname or ""):
            raise ValueError("an https address for 'authorization': over http it could be read on the way")
        return self
