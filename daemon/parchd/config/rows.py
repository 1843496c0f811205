"""Tensiometers from a CSV table: a row each, columns named like the keys."""

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from pydantic import ValidationError

from parchd.config.fields import NAME
from parchd.config.files import read_text
from parchd.config.ground import TensiometerTable
from parchd.config.origins import ROWS, Origins, Where
from parchd.config.problems import Translator, one_of
from parchd.config.schema import members, suggestion
from parchd.config.toml_lines import Loc
from parchd.contract import Problem

COLUMNS = tuple(key for key in TensiometerTable.model_fields if key != "calibration")
_NUMBERS = frozenset(key for key in COLUMNS if float in members(TensiometerTable.model_fields[key].annotation))
_DECIMAL_COMMA = re.compile(r"-?\d+,\d+")


@dataclass(slots=True)
class Rows:
    """What the table says, by tensiometer; cells that are wrong are left out and stand among the problems."""

    tables: dict[str, TensiometerTable] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    broken: set[Loc] = field(default_factory=set)


def read_rows(path: Path, origins: Origins) -> Rows:
    """Read the table.

    Columns are separated by commas, semicolons or tabs (the header tells); where it is semicolons or tabs, decimals may
    have a comma. Empty cells say nothing; empty lines and lines that begin with # are passed over.
    """
    rows = Rows()
    try:
        _Reader(path, origins, rows).read(read_text(path))
    except ValueError as error:
        rows.problems.append(origins.problem((ROWS,), found=str(path), expected=str(error)))
    except csv.Error as error:
        rows.problems.append(Problem(str(path), None, ROWS, "", f"a CSV table ({error})"))
    return rows


@dataclass(frozen=True, slots=True)
class _Reader:
    path: Path
    origins: Origins
    rows: Rows

    def read(self, text: str) -> None:
        separator = _separator(text)
        lines = _records(text, separator)
        line, header = next(lines, (1, []))
        header = [cell.strip().lower() for cell in header]
        if not self._check_header(line, header):
            return
        for line, cells in lines:
            self._row(line, header, cells, commas=separator != ",")

    def _check_header(self, line: int, header: list[str]) -> bool:
        for position, column in enumerate(header):
            if column in header[:position] and column:
                self._problem(line, position, column, "a second column of that name", "each column once")
            elif column and column != "name" and column not in COLUMNS:
                hint = suggestion(column, COLUMNS)
                self._problem(line, position, column, "an unknown column", one_of(("name", *COLUMNS)), hint)
        if "name" not in header:
            found = ", ".join(header) or "nothing"
            self._problem(line, None, "name", found, "a first line with names of columns, among them name")
        return "name" in header

    def _row(self, line: int, header: list[str], cells: list[str], *, commas: bool) -> None:
        if any(cell.strip() for cell in cells[len(header) :]):
            self._problem(line, len(header), "row", f"{len(cells)} cells", f"{len(header)}, one for each column")
        given = {c: (cell.strip(), p) for p, (c, cell) in enumerate(zip(header, cells, strict=False)) if cell.strip()}
        name, position = given.pop("name", ("", header.index("name")))
        if not NAME.fullmatch(name):
            expected = "a name of small letters, digits, - and single _, at most 48 of them"
            self._problem(line, position, "name", f'"{name}"' if name else "nothing", expected)
        elif (ROWS, name) in self.origins.written:
            first = self.origins.written[(ROWS, name)]
            self._problem(
                line, position, f"tensiometers.{name}", "a second row of that name", f"one row; {first} is it"
            )
        else:
            self._take(line, name, {c: v for c, v in given.items() if c in COLUMNS}, commas=commas)

    def _take(self, line: int, name: str, given: dict[str, tuple[str, int]], *, commas: bool) -> None:
        self.origins.written[(ROWS, name)] = Where(str(self.path), line)
        for column, (_, position) in given.items():
            self.origins.written[(ROWS, name, column)] = Where(str(self.path), line, _letters(position))
        values = {
            column: _decimal_point(cell) if commas and column in _NUMBERS else cell
            for column, (cell, _) in given.items()
        }
        try:
            table = TensiometerTable.model_validate(values)
        except ValidationError as error:
            findings = Translator(TensiometerTable, values, self.origins, (ROWS, name)).findings(error)
            self.rows.problems += [finding.problem for finding in findings]
            self.rows.broken |= {(ROWS, name, *finding.loc) for finding in findings}
            wrong = {finding.loc[0] for finding in findings}
            table = TensiometerTable.model_validate({c: v for c, v in values.items() if c not in wrong})
        self.rows.tables[name] = table

    def _problem(self, line: int, position: int | None, key: str, found: str, expected: str, hint: str = "") -> None:
        column = "" if position is None else f" (column {_letters(position)})"
        self.rows.problems.append(Problem(str(self.path), line, key + column, found, expected, hint))


def _records(text: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    """Give the rows that say something, each with the line it begins on."""
    lines = ("\n" if line.lstrip().startswith("#") else line for line in io.StringIO(text, newline=""))
    reader = csv.reader(lines, delimiter=separator, skipinitialspace=True)
    line = 1
    for cells in reader:
        if any(cell.strip() for cell in cells):
            yield line, cells
        line = reader.line_num + 1


def _separator(text: str) -> str:
    """
    >>> _separator("# 1,5\\nname;zone;depth_cm\\n")
    ';'
    """
    header = next((line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")), "")
    return max(",;\t", key=header.count)


def _decimal_point(cell: str) -> str:
    return cell.replace(",", ".") if _DECIMAL_COMMA.fullmatch(cell) else cell


def _letters(position: int) -> str:
    """Name a column as spreadsheets do.

    >>> [_letters(position) for position in (0, 25, 26)]
    ['A', 'Z', 'AA']
    """
    text = ""
    position += 1
    while position:
        position, rest = divmod(position - 1, 26)
        text = chr(ord("A") + rest) + text
    return text
