"""Where each key was written: file and line, row and column, variable, credential."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from parchd.config.toml_lines import Loc
from parchd.contract import Problem

ROWS = "tensiometers_table"
"""Begins the path of a cell: ``(ROWS, tensiometer, column)``. Alone it is the key that names the table."""

CALIBRATIONS = "calibration_dir"
"""Begins the path of a key in a calibration file: ``(CALIBRATIONS, file, key)``. Alone it is the folder's key."""

_BARE = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True, slots=True)
class Where:
    """A place that people can go to.

    Args:
        file: as people gave it; empty: the environment.
        line: 1-based, ``None`` where there is none.
        column: of a table of tensiometers, as a spreadsheet names it; empty elsewhere.
        variable: name of the environment variable; empty elsewhere.
    """

    file: str
    line: int | None = None
    column: str = ""
    variable: str = ""

    def __str__(self) -> str:
        if self.variable:
            return f"the environment ({self.variable})"
        return self.file if self.line is None else f"{self.file}:{self.line}"


@dataclass(slots=True)
class Origins:
    """The places of all keys.

    Args:
        main: the main file, for what was written nowhere.
        written: places in files, by path of the key.
        overridden: variables and credentials that hold instead, by path of the key.
        texts: what those variables and credentials say, word for word; secrets are among it.
    """

    main: str
    written: dict[Loc, Where] = field(default_factory=dict)
    overridden: dict[Loc, Where] = field(default_factory=dict)
    texts: dict[Loc, str] = field(default_factory=dict, repr=False)

    def override(self, loc: Loc, where: Where) -> None:
        """Keep the variable or credential that sets a key; new tables above it have that place too."""
        self.overridden[loc] = where
        for end in range(1, len(loc)):
            if loc[:end] not in self.written:
                self.overridden.setdefault(loc[:end], where)

    def at(self, loc: Loc) -> Where:
        """Find the place of a key, or of the nearest table around it."""
        for end in range(len(loc), 0, -1):
            where = self.overridden.get(loc[:end]) or self.written.get(loc[:end])
            if where is not None:
                return where
        return Where(self.main)

    def in_files(self) -> "Origins":
        """The same without variables and credentials."""
        return Origins(self.main, self.written)

    def folder(self, loc: Loc) -> Path:
        """Give the folder that a relative path written at a key starts from."""
        where = self.at(loc)
        return Path(where.file or self.main).parent

    def problem(self, loc: Loc, *, expected: str, found: str = "", hint: str = "") -> Problem:
        """Say what is wrong with a key."""
        where = self.at(loc)
        key = where.variable or dotted(_as_written(loc))
        if where.column and where.line is not None:
            key += f" (column {where.column})"
        return Problem(where.file, where.line, key, found, expected, hint)


def _as_written(loc: Loc) -> Loc:
    """Name cells of the table of tensiometers, and keys of calibration files, as people know them."""
    if loc[:1] == (ROWS,) and len(loc) > 1:
        return ("tensiometers", *loc[1:])
    return loc[2:] or ("calibration",) if loc[:1] == (CALIBRATIONS,) and len(loc) > 1 else loc


def dotted(loc: Iterable[str | int]) -> str:
    """Write the path of a key as TOML does; elements of arrays are counted from 1.

    >>> dotted(("zones", "north block", "window", 0))
    'zones."north block".window[1]'
    """
    text = ""
    for key in loc:
        if isinstance(key, int):
            text += f"[{key + 1}]"
        else:
            text += "." * bool(text) + (key if _BARE.fullmatch(key) else f'"{key}"')
    return text


def shown(value: Any) -> str:
    """Show a value that was found, shortened to fit on a line; never call it with a secret.

    >>> shown("60 cm"), shown(True), shown([1, 2]), shown({})
    ('"60 cm"', 'true', 'a list of 2', 'a table')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    text = f'"{value}"' if isinstance(value, str) else f"{value}"
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= 48 else text[:45] + "..." + '"' * isinstance(value, str)
