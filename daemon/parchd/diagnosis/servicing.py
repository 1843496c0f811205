"""Services, recognised from what they do: most tubes of a source are opened within an hour or two, and settle again."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from parchd.contract import JsonValue
from parchd.diagnosis.findings import Event, Fact
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import SourceLook

LEAST_KPA = 1.0
STEEP = 2.0
"""It falls within an hour by twice of what it ever moved within one in the days before."""
USUAL_H = 72
WORK_H, SETTLE_H = 2, 6
"""A round of work takes so long; then most tubes have come back by half."""
BACK = 0.5
MOST, LEAST_CHANNELS = 0.6, 2
LINGERS, LINGERING = 0.1, 1.0 / 3.0
"""After a drop-out of the wiring the next sample is right again; after a service an hour later some still are not."""
CHANGED_KPA, CHANGED_SHARE = 3.0, 0.25
QUIET_H = 24
"""What follows within a day is the same service."""


class Touch(NamedTuple):
    """What an hour or two did to one tensiometer.

    Args:
        before_kpa, after_kpa: an hour before, and some hours later.
        dip_kpa: how deep it fell in between.
        back: whether it has come back by half.
        lingers: whether it had not quite come back in the hour after it.
    """

    standing: Standing
    before_kpa: float
    after_kpa: float
    dip_kpa: float
    back: bool
    lingers: bool

    @property
    def has_changed(self) -> bool:
        """Whether its level became another one."""
        least_kpa = max(CHANGED_KPA, CHANGED_SHARE * abs(self.before_kpa))
        return abs(self.after_kpa - self.before_kpa) >= least_kpa


def watch(look: SourceLook) -> Iterator[Event]:
    """Look back at the hours before the last six: was somebody there?"""
    begin = look.hour - SETTLE_H
    told = look.source.notes.get("servicing.told")
    if look.has(FindingKind.DROP_OUTS) or (isinstance(told, int) and begin - told < QUIET_H):
        return
    channels = [one for one in look.standings if one.hours.end > look.hour]
    if len(channels) < LEAST_CHANNELS or not _may_begin(channels, begin):
        return
    touches = [touch for one in channels if (touch := _touch(one, begin, look.hour)) is not None]
    moved = [touch for touch in touches if touch.dip_kpa > 0.0 and touch.back]
    if len(moved) < max(LEAST_CHANNELS, MOST * len(touches)):
        return
    if sum(touch.lingers for touch in moved) < LINGERING * len(moved):
        return
    look.source.notes["servicing.told"] = begin
    yield _event(look, begin, moved, [touch for touch in touches if touch.has_changed])


def _may_begin(channels: Sequence[Standing], begin: int) -> bool:
    """Whether several moved at all in that hour; most hours end here."""
    ranges = (one.hours.at("high_kpa", begin) - one.hours.at("low_kpa", begin) for one in channels)
    steps = (one.hours.at("last_kpa", begin - 1) - one.hours.at("low_kpa", begin) for one in channels)
    return sum(width >= LEAST_KPA or step >= LEAST_KPA for width, step in zip(ranges, steps, strict=True)) >= 2


def _touch(one: Standing, begin: int, hour: int) -> Touch | None:
    before, after = one.hours.at("last_kpa", begin - 1), one.hours.at("mean_kpa", hour)
    lows = known(one.hours.column("low_kpa", begin, begin + WORK_H))
    later = one.hours.at("mean_kpa", begin + WORK_H)
    if before != before or after != after or not lows:
        return None
    dip = before - min(lows)
    steep = dip >= max(LEAST_KPA, STEEP * _usual_range(one, begin))
    back = after >= before - BACK * dip
    lingers = later == later and later < before - LINGERS * dip
    return Touch(one, before, after, dip if steep else 0.0, back, lingers)


def _usual_range(one: Standing, begin: int) -> float:
    """Most that it moved within an hour in the days before."""
    lows = one.hours.column("low_kpa", begin - USUAL_H, begin - 1)
    highs = one.hours.column("high_kpa", begin - USUAL_H, begin - 1)
    lasts = one.hours.column("last_kpa", begin - USUAL_H - 1, begin - 2)
    hours = zip(lows, highs, lasts, strict=True)
    return max(known(max(high, last) - min(low, last) for low, high, last in hours if last == last), default=0.0)


def _event(look: SourceLook, begin: int, moved: Sequence[Touch], changed: Sequence[Touch]) -> Event:
    facts = [
        Fact("tensiometers that were touched", len(moved)),
        Fact("deepest dip", max(touch.dip_kpa for touch in moved), "kPa"),
    ]
    facts += [
        Fact(f"{touch.standing.instrument.name} changed its level by", touch.after_kpa - touch.before_kpa, "kPa")
        for touch in changed
    ]
    differences: dict[str, JsonValue] = {
        touch.standing.instrument.name: round(touch.after_kpa - touch.before_kpa, 2) for touch in changed
    }
    touched: list[JsonValue] = [touch.standing.instrument.name for touch in moved]
    details: dict[str, JsonValue] = {"tensiometers": touched, "changed_kpa": differences}
    end_us = (begin + WORK_H) * HOUR_US
    return Event(EventKind.SERVICE, f"source/{look.source.name}", begin * HOUR_US, end_us, tuple(facts), details)
