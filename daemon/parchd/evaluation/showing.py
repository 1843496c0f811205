"""From when on a fault can be seen at all, by the truth alone: the season is compared with its twin without faults.

A sample shows a fault when its tension lies further from the twin's than the expanded uncertainty (1 kPa at least),
when one of the two has a tension and the other has none, when the twin has a sample that never came, or when it comes
at another distance from its time of measurement. The detectors have no part in this.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from parchd.clock import US_PER_S
from parchd.diagnosis.kinds import FindingKind as K
from parchd.evaluation.concern import tensiometers_of
from parchd.pipeline.columns import ColumnConversion
from parchd.simulator.convert import Columns
from parchd.simulator.season import Fault, Season

HOUR_US = 3600 * US_PER_S
LEAST_KPA = 1.0
LEAST_LAG_US = 60 * US_PER_S
ROOM_H = 24
"""Hours that a season must go on after a fault begins to show."""
SLOW_H = 7 * 24
"""Hours that a slow fault must hold and show."""
SLOW: Mapping[K, str] = MappingProxyType(
    {
        K.AIR_LEAK: "it shows by comparing days with each other",
        K.SLOW_RESPONSE: "it shows by comparing wettings or days with each other",
        K.POOR_CONTACT: "it shows by comparing weeks of drying with the neighbours'",
        K.ZERO_DRIFT: "it moves by tenths of a kilopascal a day",
        K.BLOCKED_VENT: "it shows by comparing days of changing air pressure",
        K.SWAPPED: "it shows by what irrigations and days do at two depths",
    }
)
"""Kinds that need a week, with the reason."""
CHANGE_THE_SOIL = frozenset((K.AIR_ENTRY,))
"""Kinds that come with a drought in the whole zone: the twin has them too, or its soil would be another one."""
_AT_ONCE = frozenset((K.FROST_RISK, *CHANGE_THE_SOIL))
"""Kinds that count from their beginning: a warning that no reading shows, and a collapse that is plain at once."""


@dataclass(frozen=True, slots=True)
class Showing:
    """What the truth says of a fault's visibility.

    Args:
        from_us: first sample that shows it; ``None``: none does.
        aside: why it is set aside, in words; empty: it counts.
    """

    from_us: int | None
    aside: str = ""


def showing(
    fault: Fault,
    season: Season,
    columns: Mapping[str, Columns],
    twin: Mapping[str, Columns],
    limits: Mapping[str, float],
) -> Showing:
    """Tell from when on a fault can be seen, and whether it counts.

    Args:
        columns, twin: readings with and without the faults of the season (but `CHANGE_THE_SOIL`).
        limits: what a tension must differ by, by channel (`visible_kpa`).
    """
    if fault.kind in _AT_ONCE:
        return _judged(fault, season, fault.start_us)
    until_us = min(fault.end_us or season.end_us, season.end_us)
    names = tensiometers_of(fault, season.setup)
    channels = [one.channel for one in season.setup.tensiometers if one.place.tensiometer in names]
    firsts = [
        first
        for channel in channels
        for first in [_first(columns[channel], twin[channel], fault.start_us, until_us, limits[channel])]
        if first is not None
    ]
    return _judged(fault, season, min(firsts, default=None))


def _judged(fault: Fault, season: Season, from_us: int | None) -> Showing:
    if from_us is None:
        return Showing(None, "no reading differs from what it would be without it")
    if season.end_us - from_us < ROOM_H * HOUR_US:
        return Showing(from_us, f"the season ends less than {ROOM_H} h after it begins to show")
    if fault.kind in SLOW and min(fault.end_us or season.end_us, season.end_us) - from_us < SLOW_H * HOUR_US:
        return Showing(from_us, f"it shows for less than {SLOW_H} h: {SLOW[fault.kind]}")
    return Showing(from_us)


def _first(here: Columns, twin: Columns, begin_us: int, until_us: int, least_kpa: float) -> int | None:
    """Time of the first sample within a span that tells two columns apart."""
    found = [*_different(here, twin, begin_us, until_us, least_kpa), *_missing(here, twin, begin_us, until_us)]
    return min(found, default=None)


def _different(here: Columns, twin: Columns, begin_us: int, until_us: int, least_kpa: float) -> Iterator[int]:
    within = np.flatnonzero((here.time_us >= begin_us) & (here.time_us <= until_us))
    if not len(within) or not len(twin.time_us):
        return
    match = _position(twin.time_us, here.time_us[within])
    mine, other = here.tension_kpa[within], np.where(match >= 0, twin.tension_kpa[match], np.nan)
    with np.errstate(invalid="ignore"):
        shows = (np.abs(mine - other) > least_kpa) | (np.isnan(mine) != np.isnan(other))
    lag = (here.received_us - here.time_us)[within] - (twin.received_us - twin.time_us)[match]
    shows |= (match < 0) | (np.abs(lag) > LEAST_LAG_US)
    yield from here.time_us[within][shows][:1].tolist()


def _missing(here: Columns, twin: Columns, begin_us: int, until_us: int) -> Iterator[int]:
    within = twin.time_us[(twin.time_us >= begin_us) & (twin.time_us <= until_us)]
    if len(within):
        absent = _position(here.time_us, within) < 0 if len(here.time_us) else np.ones(len(within), dtype=np.bool_)
        yield from within[absent][:1].tolist()


def _position(times: NDArray[np.int64], wanted: NDArray[np.int64]) -> NDArray[np.intp]:
    """Where each wanted time stands in a column in any order; -1: nowhere."""
    order = np.argsort(times, kind="stable")
    place = np.minimum(np.searchsorted(times[order], wanted), len(times) - 1)
    found: NDArray[np.intp] = np.where(times[order][place] == wanted, order[place], -1)
    return found


def visible_kpa(season: Season) -> dict[str, float]:
    """What a tension must differ by to be told apart: its expanded uncertainty, 1 kPa at least.

    Args:
        season: the twin.
    """
    return {setup.channel: _visible(season, setup.channel) for setup in season.setup.tensiometers}


def _visible(season: Season, channel: str) -> float:
    setup = next(one for one in season.setup.tensiometers if one.channel == channel)
    track = season.tracks[channel]
    uncertainty_kpa = ColumnConversion(setup)(track.value, track.unit, track.time_us).uncertainty_kpa
    known = uncertainty_kpa[np.isfinite(uncertainty_kpa)]
    return max(LEAST_KPA, float(np.median(known))) if len(known) else LEAST_KPA
