"""What all pages have in common: no script, nothing from elsewhere, kept by nobody."""

import base64
import hashlib
from collections.abc import Mapping
from functools import cache
from html import escape
from importlib.resources import files
from types import MappingProxyType

from starlette.responses import HTMLResponse

_PAGE = """\
<!doctype html>
<html lang="{language}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex, nofollow">
<title>{title}</title>
<style>{look}</style>
</head>
<body>
<main>
<p class="site">{site}</p>
<h1>{title}</h1>
{body}</main>
</body>
</html>
"""


def page(language: str, site: str, title: str, body: str, status: int = 200) -> HTMLResponse:
    """Make a page of its parts.

    Args:
        language: of its texts.
        site, title: texts.
        body: HTML, made with `p` and its like.
        status: of HTTP.
    """
    text = _PAGE.format(language=escape(language), site=escape(site), title=escape(title), body=body, look=look())
    return HTMLResponse(text, status, dict(headers()))


def p(text: str, kind: str = "") -> str:
    """
    >>> p("a < b", "small")
    '<p class="small">a &lt; b</p>\\n'
    """
    mark = f' class="{escape(kind)}"' if kind else ""
    return f"<p{mark}>{escape(text)}</p>\n" if text else ""


def sheet(*parts: str) -> str:
    """Put parts onto a sheet of their own."""
    return f'<div class="sheet">\n{"".join(parts)}</div>\n'


@cache
def look() -> str:
    """The style of all pages."""
    return (files(__package__) / "look.css").read_text("utf-8")


@cache
def headers() -> Mapping[str, str]:
    """What browsers are told of every page: run nothing, load nothing, show it in no frame, tell and keep nothing."""
    style = base64.b64encode(hashlib.sha256(look().encode()).digest()).decode()
    policy = (
        f"default-src 'none'; style-src 'sha256-{style}'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    )
    return MappingProxyType(
        {
            "Content-Security-Policy": policy,
            "Referrer-Policy": "no-referrer",
            "Cache-Control": "no-store",
            "X-Frame-Options": "DENY",
            "X-Content-Type-Options": "nosniff",
            "X-Robots-Tag": "noindex",
        }
    )
