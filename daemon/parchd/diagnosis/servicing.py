"""Services, recognised from what they do: most tubes of a source are opened within an hour or two, and settle again."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from parchd.contract import JsonValue
from parchd.diagnosis import dropouts, supply
from parchd.diagnosis.falls import SERVICE
from parchd.diagnosis.findings import Event, Fact
from parchd.diagnosis.hours import HOUR_US, NAN, known
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import SourceLook

LEAST_KPA = 1.0
STEEP = 1.2
"""It falls within an hour by more than it moved within most hours of the days before."""
STEADY_H, STEADY = 3, 0.3
"""What was falling by some share of it in the hours before is a wetting."""
SUDDEN = 1.2
"""Sum of bends in terms of the dip: water comes and goes over several samples and bends less, air comes at once."""
USUAL_H, USUAL_SHARE = 72, 0.9
WORK_H, HALF_H, SETTLE_H = 2, 3, 6
"""A round of work takes so long; then tubes come back by half, and by most of it."""
HALF, SETTLED = 0.5, 0.7
LARGE_KPA = 2.0
"""Half of those that were opened must fall by so much: a cloud on a warm day does less."""
MOST, LEAST_CHANNELS = 0.5, 2
LINGERS, LINGERING = 0.1, 1.0 / 3.0
"""After a drop-out of the wiring the next sample is right again; after a service an hour later some still are not."""
CHANGED_KPA, CHANGED_SHARE = 3.0, 0.25
QUIET_H = 24
"""What follows within a day is the same service."""
TOLD = "servicing.told"
"""Note of the source: hour of the last service."""
KNOWN_H = SETTLE_H + WORK_H
"""How long after the begin of a service it is known at the latest."""


class Touch(NamedTuple):
    """What an hour or two did to one tensiometer.

    Args:
        before_kpa, after_kpa: an hour before, and some hours later.
        dip_kpa: how deep it fell in between.
        back: whether it fell at once and has come back since.
        lingers: whether it had not quite come back in the hour after it.
    """

    standing: Standing
    before_kpa: float
    after_kpa: float
    dip_kpa: float
    back: bool
    lingers: bool

    @property
    def was_opened(self) -> bool:
        """Whether air came to it."""
        return self.dip_kpa > 0.0 and self.back

    @property
    def has_changed(self) -> bool:
        """Whether its level became another one."""
        least_kpa = max(CHANGED_KPA, CHANGED_SHARE * abs(self.before_kpa))
        return abs(self.after_kpa - self.before_kpa) >= least_kpa


def watch(look: SourceLook) -> Iterator[Event]:
    """Look back at the hours before the last six: was somebody there?"""
    begin = look.hour - SETTLE_H
    if not any(_fell(one, begin) for one in look.standings):
        return
    told = look.source.notes.get(TOLD)
    if isinstance(told, int) and begin - told < QUIET_H:
        return
    channels = [one for one in look.standings if one.hours.end > look.hour]
    fell = sum(_fall(one, begin, WORK_H) >= LEAST_KPA for one in channels)
    if fell < LEAST_CHANNELS or look.has(FindingKind.DROP_OUTS) or supply.shakes(look, channels):
        return
    touches = [touch for one in channels if (touch := touched(one, begin, look.hour)) is not None]
    moved = [touch for touch in touches if touch.was_opened]
    if len(moved) < max(LEAST_CHANNELS, MOST * len(touches)):
        return
    if middle([touch.dip_kpa for touch in moved]) < LARGE_KPA:
        return
    if sum(touch.lingers for touch in moved) < LINGERING * len(moved):
        return
    if _dips_elsewhere(look, channels, begin):
        return
    look.source.notes[TOLD] = begin
    _explain(moved, begin)
    yield _event(look, begin, moved, [touch for touch in touches if touch.has_changed])


def _explain(moved: Sequence[Touch], begin: int) -> None:
    """Say of their falls in those hours that they were no water."""
    for fall in (fall for touch in moved for fall in touch.standing.falls[-2:]):
        if begin - 2 <= fall.begin <= begin + WORK_H:
            fall.explained, fall.why = True, SERVICE


def _dips_elsewhere(look: SourceLook, channels: Sequence[Standing], begin: int) -> bool:
    """Whether channels dipped together at other times of the day, too: then it is the wiring."""
    first_us, until_us = (begin - 1) * HOUR_US, (begin + WORK_H + 2) * HOUR_US
    times = [moment.time_us for moment in dropouts.moments(look, channels)]
    return any(not first_us <= time_us < until_us for time_us in times if time_us > first_us - QUIET_H * HOUR_US)


def _fell(one: Standing, hour: int) -> bool:
    """Whether it went down in a single hour by as much as matters."""
    return one.hours.at("last_kpa", hour - 1) - one.hours.at("low_kpa", hour) >= LEAST_KPA


def _fall(one: Standing, begin: int, hours: int) -> float:
    lows = known(one.hours.column("low_kpa", begin, begin + hours))
    return one.hours.at("last_kpa", begin - 1) - min(lows) if lows else NAN


def touched(one: Standing, begin: int, hour: int) -> Touch | None:
    """Tell what was done to one in the hours of work that began at ``begin``; ``None``: too little is known."""
    before, after = one.hours.at("last_kpa", begin - 1), one.hours.at("mean_kpa", hour)
    lows = known(one.hours.column("low_kpa", begin, begin + WORK_H))
    later = one.hours.at("mean_kpa", begin + 1)
    if before != before or after != after or not lows:
        return None
    dip = before - min(lows)
    falling = one.hours.at("mean_kpa", begin - STEADY_H) - before > STEADY * dip
    steep = not falling and dip >= max(LEAST_KPA, STEEP * _usual_range(one, begin))
    back = _came_back(one, begin, HALF_H, before - (1.0 - HALF) * dip)
    back = back and _came_back(one, begin, SETTLE_H, before - (1.0 - SETTLED) * dip)
    back = back and _bends(one, begin) >= SUDDEN * dip
    lingers = later == later and later < before - LINGERS * dip
    return Touch(one, before, after, dip if steep else 0.0, back, lingers)


def _came_back(one: Standing, begin: int, hours: int, kpa: float) -> bool:
    """Whether it was as high again within so many hours."""
    return any(mean >= kpa for mean in one.hours.column("mean_kpa", begin + 1, begin + hours + 1))


def _bends(one: Standing, begin: int) -> float:
    """Sum of the second differences from sample to sample in the hours of work, beyond the usual noise."""
    usual = middle(known(one.hours.column("rough_kpa", begin - USUAL_H, begin))) if begin else 0.0
    rough = one.hours.column("rough_kpa", begin, begin + WORK_H + 1)
    good = one.hours.column("good", begin, begin + WORK_H + 1)
    return sum(known((kpa - usual) * count for kpa, count in zip(rough, good, strict=True)))


def _usual_range(one: Standing, begin: int) -> float:
    """How far it moved within an hour in the days before, but for the wildest hours."""
    lows = one.hours.column("low_kpa", begin - USUAL_H, begin - 1)
    highs = one.hours.column("high_kpa", begin - USUAL_H, begin - 1)
    lasts = one.hours.column("last_kpa", begin - USUAL_H - 1, begin - 2)
    hours = zip(lows, highs, lasts, strict=True)
    widths = sorted(known(max(high, last) - min(low, last) for low, high, last in hours if last == last))
    return widths[int(USUAL_SHARE * (len(widths) - 1))] if widths else 0.0


def _event(look: SourceLook, begin: int, moved: Sequence[Touch], changed: Sequence[Touch]) -> Event:
    facts = [
        Fact("tensiometers that were touched", len(moved)),
        Fact("deepest dip", max(touch.dip_kpa for touch in moved), "kPa"),
    ]
    for touch in changed:
        facts += [
            Fact("changed its level", touch.standing.instrument.name),
            Fact("by", touch.after_kpa - touch.before_kpa, "kPa"),
        ]
    differences: dict[str, JsonValue] = {
        touch.standing.instrument.name: round(touch.after_kpa - touch.before_kpa, 2) for touch in changed
    }
    touched: list[JsonValue] = [touch.standing.instrument.name for touch in moved]
    details: dict[str, JsonValue] = {"tensiometers": touched, "changed_kpa": differences}
    end_us = (begin + WORK_H) * HOUR_US
    return Event(EventKind.SERVICE, f"source/{look.source.name}", begin * HOUR_US, end_us, tuple(facts), details)
