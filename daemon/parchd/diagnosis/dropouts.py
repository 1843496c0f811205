"""Wiring that drops out: channels of one source dip together and come back, again and again."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from parchd.clock import US_PER_S
from parchd.diagnosis import supply
from parchd.diagnosis.findings import Fact, FindingKey
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Case, Over, SourceLook, Verdict

LEAST_CHANNELS = 2
WEEK_US = 7 * 24 * HOUR_US
APART_US = 2 * HOUR_US
"""A service is one episode of an hour or two."""
MOMENTS, MANY_MOMENTS = 3, 20
SPREAD_US = 6 * HOUR_US
"""Noise that has just begun leads several channels up or down at once as well; within hours it is told for noise."""
TOGETHER = 1.0 / 3.0
"""Averages hide small dips of channels that read little."""
DIP_KPA = 1.0
ONE_SIDED, MOSTLY_ONE_SIDED, DROPPING_H = 0.85, 0.8, 8
"""A good sample between two that dropped out looks like a dip to the other side."""
SHARED = 1.0 / 3.0
"""Of the dips: the rest shows on the driest channels only. A noisy channel meets the dips of others now and then."""
GONE_H = 72
PEAK_H = 2


_OWN = (
    FindingKind.OPEN_CIRCUIT, FindingKind.SHORT_CIRCUIT, FindingKind.SATURATED, FindingKind.BYTE_ORDER,
    FindingKind.WRONG_UNIT,
)  # fmt: skip


class Moment(NamedTuple):
    """Several channels dipped at once.

    Args:
        time_us: when.
        sizes: by number of the channel: kPa above (positive) or below; 0: it gave no tension at all.
    """

    time_us: int
    sizes: dict[int, float]


def watch(look: SourceLook) -> Iterator[Verdict]:
    """Look for moments at which channels of a source dip together."""
    newest_us = max((one.dips.newest_us for one in look.standings), default=0)
    if newest_us < look.now_us - 2 * HOUR_US and "dropouts.told" not in look.source.notes:
        return
    channels = [one for one in look.standings if one.hours.end > look.hour and not _has_its_own(look, one)]
    if look.has(FindingKind.DROP_OUTS):
        yield from _ending(look, channels)
    elif len(channels) >= LEAST_CHANNELS:
        found = moments(look, channels)
        if not found or found[-1].time_us < look.now_us - 2 * HOUR_US:
            return
        if _apart(found) >= MOMENTS and _are_spread(found) and _is_no_noise(look, channels, found):
            look.source.notes["dropouts.told"] = look.hour
            yield _case(found, channels)


def _ending(look: SourceLook, channels: Sequence[Standing]) -> Iterator[Verdict]:
    found = moments(look, channels)
    gone_us = look.now_us - GONE_H * HOUR_US
    if not found or found[-1].time_us < gone_us:
        look.source.notes["dropouts.ended"] = look.hour - GONE_H
        look.source.notes.pop("dropouts.told", None)
        yield Over(FindingKind.DROP_OUTS, found[-1].time_us + HOUR_US if found else gone_us)


def _are_spread(found: Sequence[Moment]) -> bool:
    """Whether they come over hours; where many came in the last ones, a single one before them may have been water."""
    lately = sum(moment.time_us > found[-1].time_us - SPREAD_US for moment in found)
    return len(found) - lately >= (1 if lately < MOMENTS else 2)


def _is_no_noise(look: SourceLook, channels: Sequence[Standing], found: Sequence[Moment]) -> bool:
    """Whether dips seldom come alone, and all go to one side, or the samples between them go on smoothly."""
    if _shared_share(channels, found) < SHARED:
        return False
    one_sided = _one_sided_share(found)
    if look.has(FindingKind.NOISY_SUPPLY):
        return one_sided >= ONE_SIDED and len(found) >= MANY_MOMENTS
    if supply.is_uneasy(look):
        return one_sided >= MOSTLY_ONE_SIDED and supply.drops(look, channels, DROPPING_H)
    return one_sided >= ONE_SIDED


def moments(look: SourceLook, channels: Sequence[Standing]) -> list[Moment]:
    """Times of the last week at which several channels dipped together, one of them by 1 kPa at least."""
    ended = look.source.notes.get("dropouts.ended", 0)
    since = max(supply.quiet_since(look), ended if isinstance(ended, int) else 0)
    begin_us = max(look.now_us - WEEK_US, since * HOUR_US)
    dips = sorted(
        (time_us, number, kpa)
        for number, one in enumerate(channels)
        for time_us, kpa in one.dips.since(begin_us)
        if not _is_peak(one, time_us, kpa)
    )
    within_us = round(1.05 * max((one.instrument.interval_s for one in channels), default=0.0) * US_PER_S)
    need = max(LEAST_CHANNELS, -int(-TOGETHER * len(channels) // 1))
    times_us, numbers, sizes = [list(column) for column in zip(*dips, strict=True)] if dips else ([], [], [])
    most = 2 * need + 8
    telling = [n for n, kpa in enumerate(sizes) if not -DIP_KPA < kpa < DIP_KPA or kpa == 0.0]
    found, at = [], 0
    while (next_telling := bisect_left(telling, at)) < len(telling):
        telling_at = telling[next_telling]
        at = max(at, telling_at - most + 1, bisect_right(times_us, times_us[telling_at] - within_us))
        last = bisect_left(times_us, times_us[at] + within_us, at)
        until = min(last, at + most)
        part = dict(zip(numbers[at:until], sizes[at:until], strict=True)) if last - at >= need else {}
        if len(part) >= need and _is_large(list(part.values())):
            found.append(Moment(times_us[at], part))
            at = last
        else:
            at += 1
    return found


def _is_peak(one: Standing, time_us: int, kpa: float) -> bool:
    """Whether it stood out upwards just before it fell: the last dry hour before water."""
    return kpa > 0.0 and any(abs(fall.begin * HOUR_US - time_us) <= PEAK_H * HOUR_US for fall in one.falls)


def _is_large(sizes: Sequence[float]) -> bool:
    """One dip of 1 kPa beside smaller ones, or two channels that lost a sample."""
    lost = sizes.count(0.0)
    if not lost:
        return max(sizes) >= DIP_KPA or min(sizes) <= -DIP_KPA
    return lost + sum(abs(kpa) >= DIP_KPA for kpa in sizes) >= LEAST_CHANNELS


def _has_its_own(look: SourceLook, one: Standing) -> bool:
    """Whether a fault of its own spoils single samples."""
    return any(FindingKey(kind, one.instrument.subject) in look.state.findings for kind in _OWN)


def _apart(found: Sequence[Moment]) -> int:
    """Count moments that lie hours apart: those of one service do not."""
    count, last_us = 0, -APART_US
    for moment in found:
        if moment.time_us - last_us >= APART_US:
            count, last_us = count + 1, moment.time_us
    return count


def _one_sided_share(found: Sequence[Moment]) -> float:
    """How often each channel dips to the same side: noise goes to both."""
    counts: dict[int, list[int]] = {}
    for moment in found:
        for number, kpa in moment.sizes.items():
            counts.setdefault(number, [0, 0, 0])[1 if kpa > 0.0 else 2 if kpa < 0.0 else 0] += 1
    most = sum(even + max(up, down) for even, up, down in counts.values())
    return most / sum(map(sum, counts.values()))


def _shared_share(channels: Sequence[Standing], found: Sequence[Moment]) -> float:
    """Share that these moments have in all dips since the first of them, of the channels that dipped in any."""
    numbers = {number for moment in found for number in moment.sizes}
    dips = sum(len(channels[number].dips.since(found[0].time_us)) for number in numbers)
    return sum(len(moment.sizes) for moment in found) / dips if dips else 1.0


def _case(found: Sequence[Moment], channels: Sequence[Standing]) -> Case:
    largest = max((kpa for moment in found for kpa in moment.sizes.values()), key=abs)
    facts = (
        Fact("moments", len(found)),
        Fact("first", found[0].time_us, "time"),
        Fact("last", found[-1].time_us, "time"),
        Fact("channels at once", max(len(moment.sizes) for moment in found)),
        Fact("channels of the source", len(channels)),
        Fact("largest dip", largest, "kPa") if largest else Fact("samples", "lost altogether"),
    )
    names = tuple(one.instrument.name for one in channels)
    return Case(FindingKind.DROP_OUTS, found[0].time_us, 0.9, facts, names)
