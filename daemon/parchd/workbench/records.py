"""What a guided command leaves behind: a dated TOML file with its numbers, and a picture."""

import json
from collections.abc import Iterable, Mapping
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path

from parchd.contract import ParchdError
from parchd.workbench.chart import Chart
from parchd.workbench.chart_svg import chart_svg

RecordValue = str | int | float | bool | date | datetime | tuple["RecordValue", ...]
_WIDTH = 110


class RecordError(ParchdError, OSError):
    """A record cannot be kept; the text says why and what to do."""


def record_folder(given: Path | None, journal: Path) -> Path:
    """Make the folder for records: the one given, else ``records`` beside the journal; see that files can go there.

    Raises:
        RecordError: they cannot.
    """
    return writable(given or journal.parent / "records", "records", "name another folder with --records")


def writable(folder: Path, what: str, todo: str) -> Path:
    """Make a folder, and see that files can go there before anybody works for nothing.

    Args:
        what, todo: for the error: what was to go there, and what to do.

    Raises:
        RecordError: they cannot.
    """
    probe = folder / ".may-write"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe.touch()
        probe.unlink()
    except OSError as error:
        raise RecordError(f"{folder}: {what} cannot be kept there ({error.strerror}); {todo}") from error
    return folder


def keep(folder: Path, name: str, content: Mapping[str, RecordValue], comment: str, chart: Chart) -> tuple[Path, Path]:
    """Write a record and its picture under a name that no other file has.

    Args:
        name: of both files, without ending.
        comment: lines for the head of the record.

    Returns:
        the record and the picture.

    Raises:
        RecordError: they cannot be written.
    """
    record = write_new(folder, name, ".toml", toml_text(content, comment))
    return record, write_new(folder, record.stem, ".svg", chart_svg(chart))


def write_new(folder: Path, name: str, ending: str, text: str) -> Path:
    """Write a file that was not there before; a number is added to a name that is taken.

    Raises:
        RecordError: it cannot be written.
    """
    for number in range(1, 1000):
        path = folder / f"{name}{'' if number == 1 else f'-{number}'}{ending}"
        with suppress(FileExistsError):
            try:
                with path.open("x", encoding="utf-8") as file:
                    file.write(text)
            except FileExistsError:
                raise
            except OSError as error:
                raise RecordError(f"{path}: cannot be written ({error.strerror})") from error
            return path
    raise RecordError(f"{folder / name}{ending}: a thousand files have this name")


def stamp(moment: datetime) -> str:
    """Write a time for a file name, so that names sort by time.

    >>> stamp(datetime(2026, 5, 14, 15, 2, 7))
    '2026-05-14_1502'
    """
    return f"{moment:%Y-%m-%d_%H%M}"


def toml_text(content: Mapping[str, RecordValue], comment: str = "") -> str:
    """Write a flat table as TOML.

    >>> print(toml_text({"name": "a\\tb", "kpa": 20.0, "points": ((0.0, 1.25), (1.0, 2.0))}, "made by hand"), end="")
    # made by hand
    name = "a\\tb"
    kpa = 20.0
    points = [[0.0, 1.25], [1.0, 2.0]]
    """
    head = [f"# {line}".rstrip() for line in comment.splitlines()]
    return "".join(f"{line}\n" for line in (*head, *(f"{key} = {toml_value(value)}" for key, value in content.items())))


def toml_value(value: RecordValue) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, tuple):
        return _array([toml_value(one) for one in value])
    return repr(value)


def _array(items: list[str]) -> str:
    if sum(map(len, items)) <= _WIDTH:
        return f"[{', '.join(items)}]"
    return f"[\n{''.join(f'    {line}{chr(10)}' for line in _lines(items))}]"


def _lines(items: Iterable[str]) -> list[str]:
    lines: list[str] = [""]
    for item in items:
        if len(lines[-1]) + len(item) > _WIDTH:
            lines.append("")
        lines[-1] += f"{' ' if lines[-1] else ''}{item},"
    return lines
