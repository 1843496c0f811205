"""JSON Pointer (RFC 6901)."""

import re
from typing import Any

_INDEX = re.compile(r"0|[1-9][0-9]*", re.ASCII)
_BAD_ESCAPE = re.compile(r"~(?![01])")

Tokens = tuple[str, ...]


def parse_pointer(text: str) -> Tokens:
    """Split a pointer into its tokens.

    >>> parse_pointer("/a~1b/0/m~0n"), parse_pointer("")
    (('a/b', '0', 'm~n'), ())

    Raises:
        ValueError: it neither is empty nor begins with ``/``, or a ``~`` is not followed by 0 or 1.
    """
    if text and not text.startswith("/"):
        raise ValueError(f"a JSON Pointer begins with '/': {text}")
    if _BAD_ESCAPE.search(text):
        raise ValueError(f"'~' in a JSON Pointer is written '~0': {text}")
    return tuple(token.replace("~1", "/").replace("~0", "~") for token in text.split("/")[1:])


def parse_key(text: str) -> Tokens:
    """Read a pointer, or the plain name of a top-level key.

    >>> parse_key("A0"), parse_key("/adc/A0")
    (('A0',), ('adc', 'A0'))

    Raises:
        ValueError: it begins with ``/`` and is not a pointer.
    """
    return parse_pointer(text) if text.startswith("/") else (text,)


def look_up(document: Any, tokens: Tokens) -> Any:
    """Follow the tokens into a decoded document.

    >>> look_up({"adc": [10, 20]}, ("adc", "1"))
    20

    Raises:
        LookupError: there is nothing at that place.
    """
    for token in tokens:
        document = _step(document, token)
    return document


def _step(document: Any, token: str) -> Any:
    if isinstance(document, dict):
        return document[token]
    if isinstance(document, list) and len(token) < 10 and _INDEX.fullmatch(token):
        return document[int(token)]
    raise LookupError(token)
