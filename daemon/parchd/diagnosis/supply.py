"""What channels of one source have in common: a noisy supply, and wiring that drops out."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from parchd.clock import US_PER_S
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Case, Over, SourceLook, Verdict

LEAST_CHANNELS, MOST = 2, 0.5
NOISY_TIMES, NOISY_KPA = 3.0, 0.4
"""Noise of a wetting or of a steep daily ripple comes up to twice that of the week before."""
QUIET_TIMES = 2.0
USUAL_H, USUAL_LEAST_H, USUAL_EVERY_H = 168, 24, 24
NOISY_H, NOISY_SAMPLES = 3, 6
"""A wetting spoils the noise of an hour or two."""

WEEK_US = 7 * 24 * HOUR_US
APART_US = 2 * HOUR_US
"""A service is one episode of an hour or two."""
MOMENTS = 3
TOGETHER = 1.0 / 3.0
"""Averages hide small dips of channels that read little."""
DIP_KPA = 1.0
ONE_SIDED, ENOUGH_DIPS = 0.85, 8
GONE_H = 72


class Moment(NamedTuple):
    """Several channels dipped at once.

    Args:
        time_us: when.
        channels: how many.
        kpa: size of the largest; 0: all gave no tension at all.
    """

    time_us: int
    channels: int
    kpa: float


def watch(look: SourceLook) -> Iterator[Verdict]:
    """Look for drop-outs and noise that channels of a source share."""
    channels = [one for one in look.standings if one.hours.end > look.hour]
    if len(channels) < LEAST_CHANNELS:
        return
    yield from _drop_outs(look, channels)
    yield from _noise(look, channels)


def _noise(look: SourceLook, channels: Sequence[Standing]) -> Iterator[Verdict]:
    _learn(look, channels)
    notes = look.source.notes
    noisy = [one for one in channels if _ratio(look, one) >= NOISY_TIMES]
    known_ = [one for one in channels if _ratio(look, one) == _ratio(look, one)]
    shared = len(noisy) >= LEAST_CHANNELS and len(noisy) >= MOST * len(known_)
    if look.has(FindingKind.NOISY_SUPPLY):
        quiet = sum(_ratio(look, one) < QUIET_TIMES for one in known_) > MOST * len(known_)
        count = _count(look, "supply.quiet", quiet)
        if count >= _hours(channels):
            yield Over(FindingKind.NOISY_SUPPLY, (look.hour - count + 1) * HOUR_US)
        return
    count = _count(look, "supply.noisy", shared, forgives=1)
    if shared and count >= _hours(channels) and not _is_dipping(look, channels):
        begin = notes.get("supply.noisy-since")
        start = begin if isinstance(begin, int) else look.hour
        facts = (
            Fact("channels with noise", len(noisy)),
            Fact("channels of the source", len(known_)),
            Fact("times their usual noise", middle([_ratio(look, one) for one in noisy])),
            Fact("mean change from sample to sample", middle(_rough(look, noisy)), "kPa"),
            Fact("for", float(look.hour + 1 - start), "h"),
        )
        names = tuple(one.instrument.name for one in noisy)
        yield Case(FindingKind.NOISY_SUPPLY, start * HOUR_US, 0.93, facts, names)


def _hours(channels: Sequence[Standing]) -> int:
    """Hours that noise must last: so many samples at least."""
    slowest_s = max(one.instrument.interval_s for one in channels)
    return max(NOISY_H, round(NOISY_SAMPLES * slowest_s / 3600.0))


def _rough(look: SourceLook, channels: Sequence[Standing]) -> list[float]:
    return [one.hours.at("rough_kpa", look.hour) for one in channels]


def _ratio(look: SourceLook, one: Standing) -> float:
    """Noise of this hour in terms of the usual one; 1 where it is too small to matter; NaN: not known."""
    rough, usual = one.hours.at("rough_kpa", look.hour), look.source.notes.get(_usual(one))
    if not isinstance(usual, float) or rough != rough:
        return float("nan")
    return rough / usual if rough > usual + NOISY_KPA and usual > 0.0 else min(1.0, rough / usual if usual else 1.0)


def _usual(one: Standing) -> str:
    return f"supply.usual.{one.instrument.channel}"


def _learn(look: SourceLook, channels: Sequence[Standing]) -> None:
    """Note the usual noise of each channel once a day, while there is nothing unusual."""
    notes = look.source.notes
    last = notes.get("supply.learnt")
    due = not isinstance(last, int) or look.hour - last >= USUAL_EVERY_H
    if not due or look.has(FindingKind.NOISY_SUPPLY) or notes.get("supply.noisy"):
        return
    for one in channels:
        rough = known(one.hours.column("rough_kpa", look.hour - USUAL_H + 1, look.hour + 1))
        if len(rough) >= USUAL_LEAST_H:
            notes[_usual(one)] = max(middle(rough), 1e-3)
            notes["supply.learnt"] = look.hour


def _count(look: SourceLook, word: str, holds: bool, forgives: int = 0) -> int:
    """Count hours in a row in which something holds; so many may fail in between."""
    notes = look.source.notes
    count, failed = notes.get(word, 0), notes.get(f"{word}-failed", 0)
    assert isinstance(count, int)
    assert isinstance(failed, int)
    if holds:
        if not count:
            notes[f"{word}-since"] = look.hour
        notes[word], notes[f"{word}-failed"] = count + 1, 0
        return count + 1
    if count and failed < forgives:
        notes[f"{word}-failed"] = failed + 1
        return count
    for gone in (word, f"{word}-since", f"{word}-failed"):
        notes.pop(gone, None)
    return 0


def _drop_outs(look: SourceLook, channels: Sequence[Standing]) -> Iterator[Verdict]:
    newest_us = max((one.dips[-1].time_us for one in channels if one.dips), default=0)
    if look.has(FindingKind.DROP_OUTS):
        found = moments(look, channels)
        last_us = found[-1].time_us if found else 0
        if look.now_us - last_us > GONE_H * HOUR_US:
            yield Over(FindingKind.DROP_OUTS, max(last_us, look.now_us - GONE_H * HOUR_US))
        return
    if newest_us < look.now_us - 2 * HOUR_US:
        return
    found = moments(look, channels)
    episodes = _apart(found)
    if episodes < MOMENTS or (_is_noisy(look, channels) and not _is_dipping(look, channels)):
        return
    facts = (
        Fact("moments", len(found)),
        Fact("first", found[0].time_us, "time"),
        Fact("last", found[-1].time_us, "time"),
        Fact("channels at once", max(moment.channels for moment in found)),
        Fact("channels of the source", len(channels)),
        Fact("largest dip", max((moment.kpa for moment in found), key=abs), "kPa"),
    )
    names = tuple(one.instrument.name for one in channels)
    yield Case(FindingKind.DROP_OUTS, found[0].time_us, 0.9, facts, names)


def moments(look: SourceLook, channels: Sequence[Standing]) -> list[Moment]:
    """Times of the last week at which several channels dipped together, one of them by 1 kPa at least."""
    begin_us = look.now_us - WEEK_US
    dips = sorted(
        (dip.time_us, number, dip.kpa)
        for number, one in enumerate(channels)
        for dip in one.dips
        if dip.time_us >= begin_us
    )
    within_us = round(1.05 * max(one.instrument.interval_s for one in channels) * US_PER_S)
    need = max(LEAST_CHANNELS, -int(-TOGETHER * len(channels) // 1))
    found, at = [], 0
    while at < len(dips):
        end = at
        while end < len(dips) and dips[end][0] - dips[at][0] < within_us:
            end += 1
        part = dips[at:end]
        sizes = [kpa for _, _, kpa in part]
        large = 0.0 in sizes or max(map(abs, sizes)) >= DIP_KPA
        if large and len({number for _, number, _ in part}) >= need:
            found.append(Moment(part[0][0], len({number for _, number, _ in part}), max(sizes, key=abs)))
            at = end
        else:
            at += 1
    return found


def _apart(found: Sequence[Moment]) -> int:
    """Count moments that lie hours apart: those of one service do not."""
    count, last_us = 0, -APART_US
    for moment in found:
        if moment.time_us - last_us >= APART_US:
            count, last_us = count + 1, moment.time_us
    return count


def _is_noisy(look: SourceLook, channels: Sequence[Standing]) -> bool:
    ratios = [_ratio(look, one) for one in channels]
    return sum(ratio >= NOISY_TIMES for ratio in ratios) >= max(LEAST_CHANNELS, MOST * len(ratios))


def _is_dipping(look: SourceLook, channels: Sequence[Standing]) -> bool:
    """Whether samples stand out to one side only: noise goes to both."""
    most = total = 0
    for one in channels:
        sizes = [dip.kpa for dip in one.dips if dip.time_us >= look.now_us - WEEK_US]
        up, down = sum(kpa > 0.0 for kpa in sizes), sum(kpa < 0.0 for kpa in sizes)
        most += max(up, down) + len(sizes) - up - down
        total += len(sizes)
    return total >= ENOUGH_DIPS * len(channels) / 2 and most >= ONE_SIDED * total
