"""``[web]``: the pages behind links in messages, and the interface for programs."""

import ipaddress
import re
from typing import Annotated
from urllib.parse import urlsplit

from pydantic import AfterValidator, Field

from parchd.config.fields import Name, TableModel, Whole
from parchd.contract import Secret

SHORTEST_TOKEN = 24
_LISTEN = re.compile(r"(\[[0-9a-fA-F:.%]+\]|[0-9.]+):(\d{1,5})")


def address_of(listen: str) -> tuple[str, int]:
    """Take an address and its port apart.

    >>> address_of("127.0.0.1:8420"), address_of("[::1]:8420")
    (('127.0.0.1', 8420), ('::1', 8420))

    Raises:
        ValueError: it is none.
    """
    match = _LISTEN.fullmatch(listen)
    if match is None or not 0 < int(match[2]) < 65536:
        raise ValueError('an address and a port, such as "127.0.0.1:8420" or "[::1]:8420"')
    host = match[1].strip("[]")
    ipaddress.ip_address(host)
    return host, int(match[2])


def _listen(value: str) -> str:
    try:
        address_of(value)
    except ValueError:
        raise ValueError('an address and a port, such as "127.0.0.1:8420" or "[::1]:8420"') from None
    return value


def _public_url(value: str) -> str:
    parts = urlsplit(value)
    plain = value.isascii() and value.isprintable() and not re.search(r"[\s\"'<>\\@?#]", value)
    if not plain or parts.scheme not in ("https", "http") or not parts.hostname or len(value) > 200:
        raise ValueError('the address of the page as phones reach it, such as "https://parchd.quillmere.example"')
    return value.rstrip("/")


def _address(value: str) -> str:
    try:
        return str(ipaddress.ip_address(value))
    except ValueError:
        raise ValueError('an IP address such as "127.0.0.1"') from None


def _token(value: Secret) -> Secret:
    text = value.get_secret_value()
    if len(text) < SHORTEST_TOKEN or not text.isascii() or not text.isprintable() or " " in text:
        raise ValueError(f"at least {SHORTEST_TOKEN} characters without blanks; openssl rand -hex 24 makes one")
    return value


class TokenTable(TableModel):
    """``[web.tokens.NAME]``"""

    token: Annotated[Secret, AfterValidator(_token)] = Field(
        description=f"secret of at least {SHORTEST_TOKEN} characters; whoever has it may ask, acknowledge and shelve"
    )


class WebTable(TableModel):
    """``[web]``"""

    listen: Annotated[str, AfterValidator(_listen)] = Field(
        "127.0.0.1:8420", description="address and port; other than this machine's own need a token"
    )
    public_url: Annotated[str, AfterValidator(_public_url)] | None = Field(
        None, description="how phones reach the page, such as https://parchd.quillmere.example; without it no links"
    )
    link_days: Whole = Field(7, ge=1, le=60, description="days for which a link in a message can be used")
    proxies: tuple[Annotated[str, AfterValidator(_address)], ...] = Field(
        (), description="addresses of reverse proxies that are believed when they say who is asking"
    )
    tokens: dict[Name, TokenTable] = Field({}, description="secrets of programs, by the name that is written down")
