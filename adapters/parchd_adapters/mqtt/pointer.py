"""JSON Pointer (RFC 6901): where in a JSON document a value stands."""

import re

from parchd.contract import JsonValue

Tokens = tuple[str, ...]
"""A pointer taken apart; empty: the whole document."""

_INDEX = re.compile(r"0|[1-9][0-9]{0,8}")
_BAD_ESCAPE = re.compile(r"~(?![01])")


def parse_pointer(pointer: str) -> Tokens:
    """Take a pointer apart.

    >>> parse_pointer("/pressure/v")
    ('pressure', 'v')
    >>> parse_pointer("/a~1b/~01")
    ('a/b', '~1')

    Raises:
        ValueError: it does not start with ``/``, or has a ``~`` without ``0`` or ``1`` (RFC 6901 section 3).
    """
    if not pointer:
        return ()
    if not pointer.startswith("/"):
        raise ValueError(f"a JSON Pointer starts with '/': '/{pointer}'")
    if _BAD_ESCAPE.search(pointer):
        raise ValueError("in a JSON Pointer '~' is written '~0', and '/' inside a name '~1'")
    return tuple(token.replace("~1", "/").replace("~0", "~") for token in pointer[1:].split("/"))


def resolve(document: JsonValue, tokens: Tokens) -> JsonValue:
    """Get the value a pointer names.

    >>> resolve({"pressure": [{"v": 2.5}]}, parse_pointer("/pressure/0/v"))
    2.5

    Raises:
        LookupError: nothing stands there (RFC 6901 section 4).
    """
    for token in tokens:
        if isinstance(document, dict):
            document = document[token]
        elif isinstance(document, list) and _INDEX.fullmatch(token):
            document = document[int(token)]
        else:
            raise LookupError(token)
    return document
