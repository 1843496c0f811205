"""Rows of a CSV file turned into samples; no file is opened here."""

import csv
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from parchd.contract import Sample, TimeSource, Unit
from parchd_adapters._shared.fields import is_channel
from parchd_adapters._shared.numbers import parse_number
from parchd_adapters._shared.times import TimeReader, parse_zone
from parchd_adapters.replay.options import Column, Layout, Mark, ReplayOptions


@dataclass(frozen=True, slots=True)
class Trouble:
    """A cell that cannot be used. Rows are counted as a spreadsheet does: the heading is row 1."""

    row: int
    column: str
    found: str
    expected: str

    def __str__(self) -> str:
        return f"row {self.row}, column {self.column}: found {self.found[:40]!r}, expected {self.expected}"


class BadHeading(ValueError):
    """The heading lacks a column, or the file has no heading."""


class BadCell(ValueError):
    """A cell cannot be used."""

    def __init__(self, column: str, found: str, expected: str) -> None:
        super().__init__(column, found, expected)
        self.column, self.found, self.expected = column, found, expected


@dataclass(slots=True)
class Row:
    """What one row holds: samples of one moment, and what is wrong with it."""

    samples: list[Sample] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)


Cells = Mapping[str, str]


def read_rows(lines: Iterable[str], options: ReplayOptions) -> Iterator[Row]:
    """Turn the lines of a file into rows, one at a time. The heading is read at once, the rest on demand.

    Raises:
        BadHeading: a column that the options name is not there, or is there twice.
    """
    reader = csv.reader(lines, delimiter=options.delimiter)
    heading = [name.strip() for name in next(reader, [])]
    maker = LongRows(options, heading) if options.layout is Layout.LONG else WideRows(options, heading)
    return _rows(reader, heading, maker)


def _rows(reader: "Iterator[list[str]]", heading: Sequence[str], maker: "LongRows | WideRows") -> Iterator[Row]:
    number = 1
    while True:
        number += 1
        row = Row()
        try:
            cells = next(reader)
            if not any(cells):
                continue
            maker.fill(row, _by_name(heading, cells), number)
        except StopIteration:
            return
        except BadCell as bad:
            row.troubles.append(Trouble(number, bad.column, bad.found, bad.expected))
        except csv.Error as error:
            row.troubles.append(Trouble(number, heading[0], str(error), "a row of comma-separated values"))
        yield row


def _by_name(heading: Sequence[str], cells: Sequence[str]) -> Cells:
    if len(cells) < len(heading):
        raise BadCell(heading[len(cells)], "nothing", f"{len(heading)} cells in the row, as in the heading")
    return dict(zip(heading, cells, strict=False))


class Times:
    """Reads the time of each row; knows the time before it, to tell the two hours when a clock is set back."""

    def __init__(self, options: ReplayOptions) -> None:
        zone = parse_zone(options.time_zone) if options.time_zone else None
        self._reader = TimeReader(options.time_format, zone, options.daylight_saving)
        self._column = options.time_column
        self._last_us: dict[str, int] = {}

    def read(self, cells: Cells, channel: str = "") -> int:
        found = cells[self._column]
        try:
            time_us = self._reader.read(found, self._last_us.get(channel))
        except ValueError as error:
            raise BadCell(self._column, found, str(error)) from None
        self._last_us[channel] = time_us
        return time_us


class WideRows:
    """A column for each channel. An empty cell is no sample; ``nan`` or ``NA`` is a sample without a value."""

    def __init__(self, options: ReplayOptions, heading: Sequence[str]) -> None:
        self._columns = options.fields
        self._options = options
        self._times = Times(options)
        require(heading, [options.time_column, *(column.key for column in self._columns.values())])

    def fill(self, row: Row, cells: Cells, number: int) -> None:
        time_us = self._times.read(cells)
        for channel, column in self._columns.items():
            if not cells[column.key].strip():
                continue
            try:
                value = number_in(cells, column.key, self._options.decimal)
            except BadCell as bad:
                row.troubles.append(Trouble(number, bad.column, bad.found, bad.expected))
                continue
            unit = column.unit or self._options.unit
            row.samples.append(Sample(channel, time_us, value, unit, TimeSource.DEVICE))


class LongRows:
    """One value in a row. An empty cell is a sample without a value."""

    def __init__(self, options: ReplayOptions, heading: Sequence[str]) -> None:
        self._options = options
        self._times = Times(options)
        self._channels: dict[str, tuple[str, Column]] = {
            column.key: (channel, column) for channel, column in options.fields.items()
        }
        has_unit = options.unit_column in heading or "unit_column" in options.model_fields_set
        self._unit_column = options.unit_column if has_unit else None
        wanted = [options.time_column, options.channel_column, options.value_column]
        require(heading, wanted + ([options.unit_column] if has_unit else []))

    def fill(self, row: Row, cells: Cells, number: int) -> None:
        del number  # all that can be wrong with the row is raised
        name = cells[self._options.channel_column].strip()
        if self._channels and name not in self._channels:
            return
        channel, column = self._channels.get(name, (name, None))
        if not is_channel(channel):
            expected = "1 to 64 characters of a-z A-Z 0-9 . _ - (or map it with fields)"
            raise BadCell(self._options.channel_column, name, expected)
        value = number_in(cells, self._options.value_column, self._options.decimal)
        unit = column.unit if column is not None and column.unit else self._unit(cells)
        row.samples.append(Sample(channel, self._times.read(cells, channel), value, unit, TimeSource.DEVICE))

    def _unit(self, cells: Cells) -> Unit:
        found = cells[self._unit_column].strip() if self._unit_column else ""
        if not found or self._unit_column is None:
            return self._options.unit
        try:
            return Unit(found)
        except ValueError:
            raise BadCell(self._unit_column, found, f"one of {', '.join(Unit)}") from None


def number_in(cells: Cells, column: str, decimal: Mark) -> float | None:
    """Read the number in a cell.

    >>> number_in({"mV": "370,5"}, "mV", Mark.COMMA)
    370.5

    Raises:
        BadCell: it holds something else.
    """
    found = cells[column]
    try:
        return parse_number(found.replace(",", ".") if decimal is Mark.COMMA else found)
    except ValueError:
        raise BadCell(column, found, "a number") from None


def require(heading: Sequence[str], wanted: Sequence[str]) -> None:
    """Check that each column is there once.

    Raises:
        BadHeading: it is not; says what was found.
    """
    for name in wanted:
        if heading.count(name) != 1:
            found = ", ".join(heading)[:200] or "no heading"
            raise BadHeading(f"row 1: found {found}; expected the column {name!r} once")
