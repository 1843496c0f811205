"""``[web]``: its secrets, what must fit together, and what the daemon gets of it."""

import ipaddress
from collections.abc import Mapping
from typing import Any

from parchd.config.draft import Draft
from parchd.config.loaded import WebSettings
from parchd.config.origins import Origins
from parchd.config.secrets import Resolved, resolve_secrets
from parchd.config.web_table import WebTable, address_of

WEB = ("web",)


def web_secrets(data: Mapping[str, Any], origins: Origins) -> Resolved:
    """Fill the secrets of ``[web]`` in that stand in files; ``table`` is all of the document then."""
    written = data.get("web")
    if not isinstance(written, Mapping):
        return Resolved(dict(data))
    resolved = resolve_secrets(WebTable, written, written, WEB, origins)
    resolved.table = {**data, "web": resolved.table}
    return resolved


def check_web(draft: Draft) -> None:
    """What others than this machine can reach needs a token, and what phones reach should be encrypted."""
    web = draft.settings.web
    if web is None:
        return
    host, _ = address_of(web.listen)
    tokens_broken = any(loc[:2] == ("web", "tokens") for loc in draft.broken)
    if not _is_loopback(host) and not web.tokens and not tokens_broken:
        draft.error(
            (*WEB, "listen"),
            found=f'"{web.listen}", which others can reach',
            expected="a token in [web.tokens.NAME], or this machine's own address",
            hint='behind a reverse proxy on this machine leave it at "127.0.0.1:8420"',
        )
    if web.public_url is not None and web.public_url.startswith("http://"):
        draft.warn(
            (*WEB, "public_url"),
            found=f'"{web.public_url}", which is not encrypted',
            expected="https://",
            hint="whoever listens on the way can use a link before the person does",
        )


def web_settings(draft: Draft) -> WebSettings | None:
    """What the daemon gets; ``None``: no pages."""
    web = draft.settings.web
    if web is None:
        return None
    host, port = address_of(web.listen)
    tokens = {name: table.token.get_secret_value() for name, table in web.tokens.items()}
    return WebSettings(host, port, web.public_url, web.link_days, web.proxies, tokens)


def _is_loopback(host: str) -> bool:
    return ipaddress.ip_address(host).is_loopback
