"""Reading the TOML files of a configuration and merging them into one document."""

import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from parchd.config.origins import Origins, Where, dotted, shown
from parchd.config.toml_lines import Loc, key_lines
from parchd.contract import Problem

MAX_BYTES = 10_000_000
_PLACE = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")


@dataclass(slots=True)
class Document:
    """What the files say, before anybody asks whether it makes sense."""

    data: dict[str, Any]
    origins: Origins
    problems: list[Problem] = field(default_factory=list)
    unreadable: bool = False


def read_document(path: Path, include: str = "") -> Document:
    """Read the main file and the folder it includes. Problems are collected, nothing is raised.

    Args:
        path: the main file.
        include: a folder to include instead of the one that it names.
    """
    document = Document({}, Origins(str(path)))
    _add_file(document, path)
    include = include or document.data.get("include", "")
    if isinstance(include, str) and include:
        _add_folder(document, path.parent / include)
    return document


def read_text(path: Path) -> str:
    """Read a file of text.

    Raises:
        ValueError: it cannot be read; the message says what was expected.
    """
    refuse_nul(path)
    try:
        if path.stat().st_size > MAX_BYTES:
            raise ValueError(f"a file of at most {MAX_BYTES // 1_000_000} MB")
        content = path.read_bytes()
    except OSError as error:
        raise ValueError(f"a file that can be read ({error.strerror or error})") from None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise ValueError(f"text in UTF-8; line {line} has another encoding") from None


def read_toml(path: Path) -> tuple[dict[str, Any], dict[Loc, int]] | Problem:
    """Read one TOML file: its content and the line of each key, or what keeps it from being read."""
    try:
        text = read_text(path)
    except ValueError as error:
        return Problem(str(path), None, "file", "", str(error), _missing_hint(path))
    try:
        data = tomllib.loads(text)
        return data, key_lines(text)
    except RecursionError:
        return Problem(str(path), None, "file", "brackets within brackets, hundreds deep", "a TOML file")
    except ValueError as error:
        return _syntax_problem(path, text, str(error))


def toml_files(folder: Path) -> list[Path]:
    """List the TOML files of a folder by name; hidden ones are left out.

    Raises:
        ValueError: it cannot be read; the message says what was expected.
    """
    refuse_nul(folder)
    try:
        entries = sorted(folder.iterdir())
    except OSError as error:
        raise ValueError(f"a folder that can be read ({error.strerror or error})") from None
    return [entry for entry in entries if entry.suffix == ".toml" and not entry.name.startswith(".")]


def refuse_nul(path: Path) -> None:
    """Refuse a path that the system cannot even be asked for.

    Raises:
        ValueError: it has a NUL character.
    """
    if "\0" in str(path):
        raise ValueError("a path without a NUL character")


def _add_file(document: Document, path: Path, *, included: bool = False) -> None:
    result = read_toml(path)
    if isinstance(result, Problem):
        document.problems.append(result)
        document.unreadable = True
        return
    data, lines = result
    places = {loc: Where(str(path), line) for loc, line in lines.items()}
    if included and data.pop("include", None) is not None:
        line = lines[("include",)]
        document.problems.append(
            Problem(str(path), line, "include", "", "no include in an included file", "put it into the main file")
        )
    _merge(document, document.data, data, (), places)
    for loc, where in places.items():
        document.origins.written.setdefault(loc, where)


def _add_folder(document: Document, folder: Path) -> None:
    try:
        paths = toml_files(folder)
    except ValueError as error:
        found = shown(str(folder))
        document.problems.append(document.origins.problem(("include",), found=found, expected=str(error)))
        return
    for path in paths:
        _add_file(document, path, included=True)


def _merge(document: Document, into: dict[str, Any], data: dict[str, Any], loc: Loc, places: dict[Loc, Where]) -> None:
    for key, value in data.items():
        here = (*loc, key)
        if key not in into:
            into[key] = value
        elif isinstance(value, dict) and isinstance(into[key], dict):
            _merge(document, into[key], value, here, places)
        else:
            document.problems.append(_set_twice(document.origins, here, places))


def _set_twice(origins: Origins, loc: Loc, places: dict[Loc, Where]) -> Problem:
    where = next((places[loc[:end]] for end in range(len(loc), 0, -1) if loc[:end] in places), Where(origins.main))
    first = origins.at(loc)
    return Problem(
        where.file,
        where.line,
        dotted(loc),
        "it is set twice",
        f"one place; {first} has it too",
        "remove one of the two",
    )


def _syntax_problem(path: Path, text: str, message: str) -> Problem:
    match = _PLACE.search(message)
    if match is None:
        return Problem(str(path), None, "file", "", f"a TOML file: {message}")
    line = int(match[1]) if match[1] else text.count("\n") + (not text.endswith("\n"))
    column = f" in column {match[2]}" if match[2] else " at the end of the file"
    return Problem(str(path), line, "syntax", f"{message[: match.start()]}{column}", "TOML", _syntax_hint(text, line))


def _syntax_hint(text: str, line: int) -> str:
    lines = text.splitlines()
    content = lines[line - 1] if line <= len(lines) else ""
    if re.search(r"=\s*-?\d+,\d+\s*(#|$)", content):
        return "write decimals with a point: 2.5"
    if re.match(r"\s*[A-Za-z0-9_.-]+\s*=\s*[A-Za-z]", content):
        return "text stands between double quotes"
    if re.match(r"\s*[A-Za-z0-9_.-]+\s*:", content):
        return "keys and values are joined by =, not by a colon"
    return "names of tables stand in brackets, text in double quotes, a key and its value are joined by ="


def _missing_hint(path: Path) -> str:
    try:
        near = [] if path.exists() else [entry.name for entry in toml_files(path.parent)]
    except (OSError, ValueError):
        return ""
    return f"the folder has {', '.join(near[:5])}" if near else ""
