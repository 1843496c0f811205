"""From readings to judged readings: ``(limits, tracks, readings) -> (readings, revised)``."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from parchd.contract import Cause, Reading
from parchd.physics.causes import flag_of
from parchd.quality.limits import Limits
from parchd.quality.track import OPEN, Track, step


class Revised(NamedTuple):
    """A reading that later ones showed in another light."""

    channel: str
    time_us: int
    cause: Cause


def check(
    limits: Mapping[str, Limits], tracks: dict[str, Track], readings: Sequence[Reading]
) -> tuple[list[Reading], list[Revised]]:
    """Test readings of tensiometers in the order they were taken; ``tracks`` is changed in place.

    A cause that a reading has already stays. Late readings are passed over. A service, and another calibration, make
    all tests of the channel start over. Cutting the readings anywhere changes nothing: a reading is judged by what was
    known when it came, and what a later one shows of it is told as revised even if both came together.

    Args:
        limits: by channel; readings of other channels are passed on.
        tracks: what is remembered, by channel.
    """
    revised: list[Revised] = []
    return [_checked(limits, tracks, reading, revised) for reading in readings], revised


def _checked(
    limits: Mapping[str, Limits], tracks: dict[str, Track], reading: Reading, revised: list[Revised]
) -> Reading:
    of_channel = limits.get(reading.channel)
    if of_channel is None or reading.late:
        return reading
    verdict = step(
        of_channel, tracks, reading.channel, reading.sample.time_us, reading.tension_kpa, reading.cause,
        reading.calibration,
    )  # fmt: skip
    if verdict.spike_us is not None:
        revised.append(Revised(reading.channel, verdict.spike_us, Cause.SPIKE))
    if not verdict.cause or reading.cause not in OPEN:
        return reading
    return replace(reading, cause=verdict.cause, flag=flag_of(verdict.cause))
