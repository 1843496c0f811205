"""Readings of all channels in the order they arrive, as light as the diagnosis can take them."""

from collections.abc import Iterable, Iterator, Mapping
from functools import partial
from typing import Any, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from parchd.contract import Cause, Reading, TimeSource, Unit
from parchd.diagnosis.hours import HOUR_US
from parchd.pipeline.stage import FUTURE_TOLERANCE_US
from parchd.simulator.convert import Columns

_CAUSES = {int(cause): cause for cause in Cause}


class LightSample(NamedTuple):
    """What the diagnosis reads of a `parchd.contract.Sample`; made several times faster."""

    channel: str
    time_us: int
    value: float | None
    unit: Unit
    time_source: TimeSource = TimeSource.DEVICE


class LightReading(NamedTuple):
    """What the diagnosis reads of a `parchd.contract.Reading`."""

    sample: LightSample
    channel: str
    received_us: int
    gauge_kpa: float | None
    tension_kpa: float | None
    cause: Cause
    calibration: str = ""


class Turn(NamedTuple):
    """What arrived within one hour of the daemon's clock.

    Args:
        end_us: end of the hour.
        readings: in order of arrival, then of measurement.
        heard_us: newest arrival of each channel that delivered within it.
    """

    end_us: int
    readings: Iterable[Reading]
    heard_us: Mapping[str, int]


def turns(
    columns: Mapping[str, Columns], units: Mapping[str, Unit], first_names: frozenset[str], begin_us: int, end_us: int
) -> Iterator[Turn]:
    """Cut the readings of a season into hours of arrival; hours in which nothing came are among them.

    Args:
        columns: by channel.
        units: of each channel's samples.
        first_names: channels that come before all others of the same time (temperature, air, supply).
        begin_us: what arrives before belongs to the first hour.
        end_us: the last hour is the one that holds it, or the last arrival.
    """
    made, received = _in_order(columns, units, first_names)
    first = begin_us // HOUR_US
    last = max(end_us // HOUR_US, int(received[-1]) // HOUR_US if made else 0)
    edges = np.searchsorted(received, np.arange(first + 1, last + 2, dtype=np.int64) * HOUR_US).tolist()
    start = 0
    for hour, edge in enumerate(edges, first):
        part, start = made[start:edge], edge
        heard = {one.channel: one.received_us for one in part}
        yield Turn((hour + 1) * HOUR_US, cast("list[Reading]", part), heard)


def _in_order(
    columns: Mapping[str, Columns], units: Mapping[str, Unit], first_names: frozenset[str]
) -> tuple[list[LightReading], NDArray[np.int64]]:
    """Give all readings in order of arrival, with their times of arrival."""
    names = [
        name for name in sorted(columns, key=lambda name: (name not in first_names, name)) if len(columns[name].time_us)
    ]
    if not names:
        return [], np.empty(0, dtype=np.int64)
    made = [reading for name in names for reading in _light(name, columns[name], units[name])]
    received = np.concatenate([columns[name].received_us for name in names])
    time = np.concatenate([columns[name].time_us for name in names])
    rank = np.repeat(np.arange(len(names)), [len(columns[name].time_us) for name in names])
    order = np.lexsort((rank, time, received))
    return [made[number] for number in order.tolist()], received[order]


def _light(name: str, columns: Columns, unit: Unit) -> Iterator[LightReading]:
    """Make readings of one channel, in the order of its column."""
    size = len(columns.time_us)
    short = name.partition("/")[2]
    times, received = columns.time_us.tolist(), columns.received_us.tolist()
    same: list[Any] = [[short] * size, [unit] * size, [TimeSource.DEVICE] * size, [name] * size]
    samples = map(
        partial(tuple.__new__, LightSample),
        zip(same[0], times, _or_none(columns.value), same[1], same[2], strict=True),
    )
    return map(
        partial(tuple.__new__, LightReading),
        zip(
            samples, same[3], received, _or_none(columns.gauge_kpa), _or_none(columns.tension_kpa),
            _causes(columns), [""] * size, strict=True,
        ),
    )  # fmt: skip


def _or_none(values: NDArray[np.float64]) -> list[float | None]:
    """Put ``None`` for what is not a number."""
    missing = np.isnan(values)
    if not missing.any():
        return cast("list[float | None]", values.tolist())
    objects = values.astype(object)
    objects[missing] = None
    return cast("list[float | None]", objects.tolist())


def _causes(columns: Columns) -> list[Cause]:
    """Give causes as the engine would: what claims to come from the future cannot be believed."""
    numbers = columns.cause.astype(np.uint8)
    ahead = columns.time_us > columns.received_us + FUTURE_TOLERANCE_US
    numbers = np.where(ahead & (numbers == 0), np.uint8(Cause.CLOCK), numbers)
    return [_CAUSES[number] for number in numbers.tolist()]
