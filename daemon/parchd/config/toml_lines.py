"""On which line of a TOML text each key stands: the standard parser does not say."""

import re
import tomllib
from collections.abc import Iterator
from typing import Any

Loc = tuple[str | int, ...]
"""Path of a key: names of tables and keys, numbers for elements of arrays."""

_PIECE = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?\'{3,5}'
    r'|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|#[^\n]*|[\[{]|[\]}]|\n|[^"\'#\[\]{}\n]+|.',
    re.DOTALL,
)
_KEY = re.compile(r'(?:"(?:\\.|[^"\\])*"|\'[^\']*\'|[^="\'])+(?==)')
_BARE = re.compile(r"[A-Za-z0-9_-]+(?:\s*\.\s*[A-Za-z0-9_-]+)*")


def key_lines(text: str) -> dict[Loc, int]:
    """Find the line of each table header and key of a valid TOML text.

    Keys inside of inline tables are not listed: their table is.

    >>> key_lines('[site]\\nname = "A"\\n\\n[[sites.x]]\\na.b = [\\n1]\\nc = 1')[("sites", "x", 0, "c")]
    7
    """
    lines: dict[Loc, int] = {}
    arrays: dict[Loc, int] = {}
    table: Loc = ()
    for line, statement in _statements(text):
        if statement.startswith("[["):
            table = _inside(_keys(statement[2:-2]), arrays)
            arrays[table] = arrays.get(table, 0) + 1
            table = (*table, arrays[table] - 1)
            _note(lines, table, line)
        elif statement.startswith("["):
            table = _inside(_keys(statement[1:-1]), arrays)
            _note(lines, table, line)
        elif match := _KEY.match(statement):
            _note(lines, table + _keys(match[0]), line)
    return lines


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Cut a text into headers and assignments, each with its first line, comments left out."""
    line, first, depth, parts = 1, 1, 0, list[str]()
    for match in _PIECE.finditer(text + "\n"):
        piece = match[0]
        if piece == "\n" and depth <= 0:
            if statement := "".join(parts).strip():
                yield first, statement
            depth, parts, first = 0, [], line + 1
        elif not piece.startswith("#"):
            parts.append(piece)
            depth += (piece in ("[", "{")) - (piece in ("]", "}"))
        line += piece.count("\n")


def _keys(text: str) -> Loc:
    text = text.strip()
    if _BARE.fullmatch(text):
        return tuple(part.strip() for part in text.split("."))
    keys: list[str] = []
    node: Any = tomllib.loads(f"{text} = 0")
    while isinstance(node, dict):
        ((key, node),) = node.items()
        keys.append(key)
    return tuple(keys)


def _inside(keys: Loc, arrays: dict[Loc, int]) -> Loc:
    """Let a header that passes through an array of tables mean the last element of it."""
    path: Loc = ()
    for key in keys[:-1]:
        path = (*path, key)
        if path in arrays:
            path = (*path, arrays[path] - 1)
    return (*path, keys[-1])


def _note(lines: dict[Loc, int], loc: Loc, line: int) -> None:
    """Keep the line of a key; tables that it implies have it too until they have a header of their own."""
    lines[loc] = line
    for end in range(1, len(loc)):
        lines.setdefault(loc[:end], line)
