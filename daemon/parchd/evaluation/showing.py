"""From when on a fault can be seen, and whether it counts: the season is compared with its twin without faults.

A sample shows a fault when its tension lies further from the twin's than the expanded uncertainty (1 kPa at least),
when one of the two has a tension and the other has none, when the twin has a sample that never came, or when it comes
at another distance from its time of measurement. Samples within another fault that hides this one show nothing of it.
What is left must last for some hours in all (`parchd.evaluation.counting`). The detectors have no part in this.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from parchd.diagnosis.kinds import FindingKind as K
from parchd.evaluation.concern import tensiometers_of
from parchd.evaluation.counting import HOUR_US, LEAST_KPA, PLAIN, PLAIN_H, PLAIN_KPA, hidden, hours_wanted
from parchd.evaluation.differing import samples_that_show
from parchd.pipeline.columns import ColumnConversion
from parchd.pipeline.setup import TensiometerSetup
from parchd.simulator.convert import Columns
from parchd.simulator.season import Fault, Season

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
NEVER_SHOWS = "no reading differs from what it would be without it"


@dataclass(frozen=True, slots=True)
class Showing:
    """What the truth says of a fault's visibility.

    Args:
        from_us: first sample that shows it; ``None``: none does.
        aside: why it is set aside, in words; empty: it counts.
    """

    from_us: int | None
    aside: str = ""


@dataclass(frozen=True, slots=True)
class _Seen:
    """What one channel shows of a fault.

    Args:
        from_us: first sample that shows it, hidden or not.
        open_us: first sample that shows it and is not hidden; ``None``: none.
        hours, plain_h: how long in all, and by `PLAIN_KPA` at least; what is hidden is left out.
        with_hidden_h: how long if nothing were hidden.
        hider: the kind that hides most.
    """

    from_us: int
    open_us: int | None
    hours: float
    plain_h: float
    with_hidden_h: float
    hider: K | None


def showing(
    fault: Fault,
    season: Season,
    columns: Mapping[str, Columns],
    twin: Mapping[str, Columns],
    limits: Mapping[str, float],
) -> Showing:
    """Tell from when on a fault can be seen, and whether it counts.

    Args:
        columns, twin: readings with and without the faults of the season (but those that change the soil).
        limits: what a tension must differ by, by channel (`visible_kpa`).
    """
    if fault.kind is K.FROST_RISK:
        return _timely(fault, season, fault.start_us)
    names = tensiometers_of(fault, season.setup)
    seen = [
        one
        for setup in season.setup.tensiometers
        if setup.place.tensiometer in names
        for one in [_seen(fault, season, setup, columns, twin, limits)]
        if one is not None
    ]
    return _judged(fault, season, seen) if seen else Showing(None, NEVER_SHOWS)


def _judged(fault: Fault, season: Season, seen: Sequence[_Seen]) -> Showing:
    """Judge by the channel that shows the fault longest."""
    best = max(seen, key=lambda one: one.hours)
    wanted = hours_wanted(fault)
    openly = [one.open_us for one in seen if one.open_us is not None]
    from_us = min(openly) if openly else min(one.from_us for one in seen)
    hider = best.hider or next((one.hider for one in seen if one.hider), None)
    if best.hours < wanted and hider is not None and max(one.with_hidden_h for one in seen) >= wanted:
        return Showing(from_us, f"another fault hides it: {hider.value}")
    if best.hours < wanted:
        return Showing(
            from_us, f"it changes the tension by more than its uncertainty for less than {wanted:g} h in all"
        )
    if fault.kind in PLAIN and max(one.plain_h for one in seen) < PLAIN_H:
        return Showing(from_us, f"it changes the tension by {PLAIN_KPA:g} kPa for less than {PLAIN_H:g} h in all")
    return _timely(fault, season, from_us)


def _timely(fault: Fault, season: Season, from_us: int) -> Showing:
    if season.end_us - from_us < ROOM_H * HOUR_US:
        return Showing(from_us, f"the season ends less than {ROOM_H} h after it begins to show")
    if fault.kind in SLOW and min(fault.end_us or season.end_us, season.end_us) - from_us < SLOW_H * HOUR_US:
        return Showing(from_us, f"it shows for less than {SLOW_H} h: {SLOW[fault.kind]}")
    return Showing(from_us)


def _seen(
    fault: Fault,
    season: Season,
    setup: TensiometerSetup,
    columns: Mapping[str, Columns],
    twin: Mapping[str, Columns],
    limits: Mapping[str, float],
) -> _Seen | None:
    here, name = columns[setup.channel], setup.place.tensiometer
    until_us = min(fault.end_us or season.end_us, season.end_us)
    times, plain = samples_that_show(fault, here, twin[setup.channel], until_us, limits[setup.channel])
    if not len(times):
        return None
    others = [one for one in season.faults if name in tensiometers_of(one, season.setup)]
    by_kind = hidden(times, fault, others, here)
    covered = np.any(list(by_kind.values()), axis=0) if by_kind else np.zeros(len(times), dtype=np.bool_)
    left = times[~covered]
    hours = setup.interval_s / 3600.0
    return _Seen(
        int(times[0]), int(left[0]) if len(left) else None, len(left) * hours,
        int((plain & ~covered).sum()) * hours, len(times) * hours,
        max(by_kind, key=lambda kind: int(by_kind[kind].sum()), default=None),
    )  # fmt: skip


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
