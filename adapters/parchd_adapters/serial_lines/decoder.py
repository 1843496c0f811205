"""From bytes to samples, without a port."""

from dataclasses import dataclass, field
from typing import Any

from parchd.contract import Sample, TimeSource
from parchd_adapters._shared.numbers import finite, parse_number
from parchd_adapters._shared.times import TimeReader, parse_zone
from parchd_adapters.serial_lines.lines import LineCutter
from parchd_adapters.serial_lines.options import SerialLinesOptions
from parchd_adapters.serial_lines.records import BadLine, Record, reader_for

TOO_LONG = "line is longer than max_line_bytes"
UNFINISHED = "line was not finished"
NOT_TEXT = "line is not text"
NOT_A_NUMBER = "field is not a number"
BAD_TIME = "time cannot be read"
NOT_MAPPED = "field is not mapped"

_STEP_BACK_US = 1_000_000


@dataclass(frozen=True, slots=True)
class Reject:
    """Input that made no sample."""

    reason: str
    example: bytes | str = b""


@dataclass(slots=True)
class Decoded:
    """What came of some bytes: the samples of each line, and what was thrown away."""

    groups: list[tuple[Sample, ...]] = field(default_factory=list)
    rejects: list[Reject] = field(default_factory=list)

    @property
    def samples(self) -> list[Sample]:
        return [sample for group in self.groups for sample in group]


class LineDecoder:
    """Turns bytes, cut anywhere, into samples. Never raises, whatever the bytes; holds ``max_line_bytes`` at most.

    Args:
        options: the source's options.
        mid_line: the first bytes may belong to a line that began before: drop all up to the first line end.
    """

    def __init__(self, options: SerialLinesOptions, *, mid_line: bool = False) -> None:
        self._cutter = LineCutter(options.max_line_bytes, mid_line=mid_line)
        self._read_record = reader_for(options)
        self._units = {field.channel: field.unit or options.unit for field in options.fields if field.is_channel}
        self._comment = options.comment
        self._stamp = _Stamp(options)
        self._told_unknown = False

    @property
    def held(self) -> int:
        """Bytes of the line that is not finished."""
        return self._cutter.held

    def feed(self, data: bytes, arrival_us: int) -> Decoded:
        """Decode what came at ``arrival_us``.

        Lines without a time of their own get the time of arrival; several that came at once get steps of 1 us, so
        that each sample of a channel has a time of its own.
        """
        decoded = Decoded()
        cut = self._cutter.feed(data)
        decoded.rejects += [Reject(TOO_LONG, begin) for begin in cut.too_long]
        self._stamp.arrived(arrival_us)
        for line in cut.lines:
            self._decode(line, decoded)
        return decoded

    def give_up(self) -> Decoded:
        """Drop an unfinished line: its rest is overdue."""
        begin = self._cutter.give_up()
        return Decoded(rejects=[Reject(UNFINISHED, begin)] if begin else [])

    def _decode(self, line: bytes, decoded: Decoded) -> None:
        try:
            text = _text(line)
            if not text or (self._comment and text.startswith(self._comment)):
                return
            record = self._read_record(text)
            group = self._samples(record, *self._stamp.of(record.time), decoded)
        except BadLine as error:
            decoded.rejects.append(Reject(str(error), line[: LineCutter.EXAMPLE_BYTES]))
            return
        self._tell_unknown(record, decoded)
        if group:
            decoded.groups.append(group)

    def _samples(self, record: Record, time_us: int, source: TimeSource, decoded: Decoded) -> tuple[Sample, ...]:
        samples = []
        for channel, found in record.values.items():
            try:
                samples.append(Sample(channel, time_us, _value(found), self._units[channel], source))
            except ValueError:
                decoded.rejects.append(Reject(NOT_A_NUMBER, f"{channel}: {str(found)[:40]}"))
        return tuple(samples)

    def _tell_unknown(self, record: Record, decoded: Decoded) -> None:
        if record.unknown and not self._told_unknown:
            self._told_unknown = True
            decoded.rejects.append(Reject(NOT_MAPPED, record.unknown[:40]))


class _Stamp:
    """Gives each line its time."""

    def __init__(self, options: SerialLinesOptions) -> None:
        zone = parse_zone(options.time_zone) if options.time_zone else None
        self._has_field = options.time_field is not None
        self._reader = TimeReader(options.time_format, zone, options.daylight_saving)
        self._next_us = 0
        self._device_us: int | None = None

    def arrived(self, arrival_us: int) -> None:
        behind_us = self._next_us - arrival_us
        if not 0 < behind_us < _STEP_BACK_US:  # more than that: the clock was set back
            self._next_us = arrival_us

    def of(self, found: Any) -> tuple[int, TimeSource]:
        if not self._has_field:
            self._next_us += 1
            return self._next_us - 1, TimeSource.ARRIVAL
        try:
            self._device_us = self._reader.read(found, self._device_us)
        except ValueError:
            raise BadLine(BAD_TIME) from None
        return self._device_us, TimeSource.DEVICE


def _text(line: bytes) -> str:
    try:
        text = line.decode().strip("\ufeff \t\0")
    except UnicodeDecodeError:
        raise BadLine(NOT_TEXT) from None
    if not text.replace("\t", " ").isprintable():
        raise BadLine(NOT_TEXT)
    return text


def _value(found: Any) -> float | None:
    if found is None:
        return None
    if isinstance(found, str):
        return parse_number(found)
    if isinstance(found, int | float) and not isinstance(found, bool):
        return _as_float(found)
    raise ValueError("not a number")


def _as_float(number: float) -> float | None:
    try:
        return finite(float(number))
    except OverflowError:
        return None
