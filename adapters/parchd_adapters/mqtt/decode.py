"""From a payload to samples. No input and output here, and nothing raises on any payload."""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NoReturn

from parchd.contract import JsonValue, Sample, TimeSource, Unit
from parchd_adapters._shared.pointer import Tokens, look_up
from parchd_adapters._shared.times import TimeReader
from parchd_adapters.mqtt.channels import Channels
from parchd_adapters.mqtt.numbers import as_number, parse_number
from parchd_adapters.mqtt.reasons import BAD_TIME, BAD_VALUE, NO_NAME, NO_TIME, NO_VALUE, NOT_A_NUMBER, NOT_JSON
from parchd_adapters.mqtt.template import Template

Decoded = tuple[Sequence[Sample], Sequence[str]]
"""The samples of one payload, and the reasons why there are not more."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """What a sample gets whose payload tells no time: the time of arrival, and whether that means anything."""

    now_us: Callable[[], int]
    time_source: TimeSource


@dataclass(frozen=True, slots=True)
class Reader:
    """How one value becomes a sample.

    Args:
        fixed: the channel's name, if the payload has no part in it.
        channel: how to make it otherwise.
        tokens: where the value stands in a JSON payload.
    """

    fixed: str | None
    channel: Template
    tokens: Tokens
    unit: Unit

    def name(self, document: JsonValue) -> str:
        """
        Raises:
            LookupError: the payload does not hold its part of the name.
        """
        return self.fixed if self.fixed is not None else self.channel.fill(document)


@dataclass(frozen=True, slots=True)
class BareNumber:
    """Payloads that are one number and nothing else; ``null``: the device has no value."""

    reader: Reader
    channels: Channels

    def decode(self, payload: bytes | bytearray, stamp: Stamp) -> Decoded:
        try:
            value = None if payload == b"null" else parse_number(payload)
        except ValueError:
            return (), (NOT_A_NUMBER,)
        name = self.reader.name(None)
        if (refusal := self.channels.refusal(name)) is not None:
            return (), (refusal,)
        return (Sample(name, stamp.now_us(), value, self.reader.unit, stamp.time_source),), ()


@dataclass(frozen=True, slots=True)
class JsonDocument:
    """Payloads that are a JSON document with one or several values, and perhaps their time."""

    readers: tuple[Reader, ...]
    channels: Channels
    time: Tokens | None
    times: TimeReader

    def decode(self, payload: bytes | bytearray, stamp: Stamp) -> Decoded:
        try:
            document = _parse(payload.decode())
        except (ValueError, RecursionError):
            return (), (NOT_JSON,)
        try:
            time_us, time_source = self._time(document, stamp)
        except LookupError:
            return (), (NO_TIME,)
        except (ValueError, OverflowError):
            return (), (BAD_TIME,)
        results = [self._sample(reader, document, time_us, time_source) for reader in self.readers]
        samples = [result for result in results if isinstance(result, Sample)]
        if len(samples) == len(results):
            return samples, ()
        return samples, [result for result in results if isinstance(result, str)]

    def _time(self, document: JsonValue, stamp: Stamp) -> tuple[int, TimeSource]:
        written = None if self.time is None else look_up(document, self.time)
        if written is None:
            return stamp.now_us(), stamp.time_source
        return self.times.read(written), TimeSource.DEVICE

    def _sample(self, reader: Reader, document: JsonValue, time_us: int, time_source: TimeSource) -> Sample | str:
        try:
            name = reader.name(document)
        except LookupError:
            return NO_NAME
        if (refusal := self.channels.refusal(name)) is not None:
            return refusal
        try:
            value = look_up(document, reader.tokens)
            number = None if value is None else as_number(value)
        except LookupError:
            return NO_VALUE
        except ValueError:
            return BAD_VALUE
        return Sample(name, time_us, number, reader.unit, time_source)


def _parse(text: str) -> JsonValue:
    """Read one document; the decoder's own ``decode`` spends a third of its time on looking for blanks."""
    text = text.strip(" \t\n\r")
    document: JsonValue
    document, end = _JSON.raw_decode(text)
    if end != len(text):
        raise ValueError("more than one document")
    return document


def _refuse_constant(text: str) -> NoReturn:
    raise ValueError(f"{text} is no JSON")


_JSON = json.JSONDecoder(parse_constant=_refuse_constant)
