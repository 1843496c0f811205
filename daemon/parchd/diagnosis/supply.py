"""Noise that channels of one source have in common: their supply or ground."""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Case, Over, SourceLook, Verdict

NOISY = "supply.noisy"
"""Note of the source: for how many hours in a row it has been noisy."""
LEAST_CHANNELS, MOST = 2, 0.5
NOISY_TIMES, NOISY_KPA = 3.0, 1.0
"""Noise of a wetting or of a steep daily ripple comes up to twice that of the week before."""
QUIET_TIMES = 2.0
USUAL_H, USUAL_LEAST_H, USUAL_EVERY_H = 168, 24, 24
NOISY_H, NOISY_SAMPLES = 4, 9
"""A wetting spoils the noise of an hour or two, or of three samples."""
TURNS = 0.4
"""Noise turns up and down at two of three samples; soil seldom does."""
UPWARDS, BEFORE_H = 0.2, 6
"""Noise leads up as well as down; a tube that is opened loses its vacuum, and never has more of it than before, and
wiring that drops out has a side to which it does."""
LOST_SHARE = 0.05
"""Noise takes no samples away; drop-outs do."""
SMOOTH, STEPS_H = 0.1, 4
"""Under drop-outs the samples in between are right: they go on smoothly for hours however rough the whole is."""
AROUND = 2


def watch(look: SourceLook) -> Iterator[Verdict]:
    """Look for noise that begins on several channels together."""
    channels = [one for one in look.standings if one.hours.end > look.hour]
    if len(channels) < LEAST_CHANNELS:
        return
    _learn(look, channels)
    ratios = {one.instrument.name: _ratio(look, one) for one in channels}
    judged = known(ratios.values())
    if look.has(FindingKind.NOISY_SUPPLY):
        yield from _ending(look, channels, judged)
        return
    noisy = [one for one in channels if ratios[one.instrument.name] >= NOISY_TIMES]
    shared = len(noisy) >= LEAST_CHANNELS and len(noisy) >= MOST * len(judged)
    count = _count(look, NOISY, shared, forgives=1)
    if not shared or count < hours_for(channels) or look.has(FindingKind.DROP_OUTS):
        return
    start = _since(look)
    if (
        _turns(look, noisy, start) < TURNS
        or _goes_one_way(look, noisy, start)
        or drops(look, noisy, look.hour + 1 - start)
    ):
        return
    facts = (
        Fact("channels with noise", len(noisy)),
        Fact("channels of the source", len(judged)),
        Fact("times their usual noise", middle([ratios[one.instrument.name] for one in noisy])),
        Fact("mean bend from sample to sample", middle([one.hours.at("rough_kpa", look.hour) for one in noisy]), "kPa"),
        Fact("for", float(look.hour + 1 - start), "h"),
    )
    yield Case(FindingKind.NOISY_SUPPLY, start * HOUR_US, 0.93, facts, tuple(one.instrument.name for one in noisy))


def is_uneasy(look: SourceLook) -> bool:
    """Whether noise is, or may just be beginning."""
    return look.has(FindingKind.NOISY_SUPPLY) or bool(look.source.notes.get(NOISY))


def shakes(look: SourceLook, channels: Sequence[Standing]) -> bool:
    """Whether half of the channels are noisy in this very hour."""
    return sum(_ratio(look, one) >= NOISY_TIMES for one in channels) >= max(LEAST_CHANNELS, MOST * len(channels))


def quiet_since(look: SourceLook) -> int:
    """The hour in which the last noise was over; 0: there was none."""
    ended = look.source.notes.get("supply.ended", 0)
    return ended if isinstance(ended, int) else 0


def drops(look: SourceLook, channels: Sequence[Standing], hours: int) -> bool:
    """Whether samples drop out in the last hours: some are lost, or all that stand out do so to one side."""
    first = look.hour + 1 - max(hours, STEPS_H + 1)
    lost = sum(_lost_share(one, first, look.hour + 1) > LOST_SHARE for one in channels)
    even = sum(_is_one_sided(one, first, look.hour + 1) for one in channels)
    return max(lost, even) >= MOST * len(channels)


def hours_for(channels: Sequence[Standing]) -> int:
    """Hours that noise must last: so many samples at least."""
    slowest_s = max(one.instrument.interval_s for one in channels)
    return max(NOISY_H, round(NOISY_SAMPLES * slowest_s / 3600.0))


def _ending(look: SourceLook, channels: Sequence[Standing], judged: Sequence[float]) -> Iterator[Verdict]:
    quiet = sum(ratio < QUIET_TIMES for ratio in judged) > MOST * len(judged)
    count = _count(look, "supply.quiet", quiet)
    if count >= hours_for(channels):
        look.source.notes["supply.ended"] = look.hour - count + 1
        for word in (NOISY, "supply.quiet"):
            _count(look, word, holds=False)  # What comes next counts anew.
        yield Over(FindingKind.NOISY_SUPPLY, (look.hour - count + 1) * HOUR_US)


def _since(look: SourceLook) -> int:
    begin = look.source.notes.get(f"{NOISY}-since")
    return begin if isinstance(begin, int) else look.hour


def _turns(look: SourceLook, channels: Sequence[Standing], start: int) -> float:
    """How often the last samples of the hours turn, as a share of the hours."""
    turned = total = 0
    for one in channels:
        values = known(one.hours.column("last_kpa", start - 2, look.hour + 1))
        bends = [(b - a) * (c - b) < 0.0 for a, b, c in zip(values, values[1:], values[2:], strict=False)]
        turned, total = turned + sum(bends), total + len(bends)
    return turned / total if total else 0.0


def _goes_one_way(look: SourceLook, channels: Sequence[Standing], start: int) -> bool:
    """Whether most channels went down only, or up only, from where they had been before the noise."""
    down = up = 0
    for one in channels:
        before = (known(one.hours.column("last_kpa", start - BEFORE_H, start)) or [NAN])[-1]
        highs = known(one.hours.column("high_kpa", start, look.hour + 1))
        lows = known(one.hours.column("low_kpa", start, look.hour + 1))
        if highs:
            down += max(highs) - before < UPWARDS * (before - min(lows))
            up += before - min(lows) < UPWARDS * (max(highs) - before)
    return max(down, up) > MOST * len(channels)


def _lost_share(one: Standing, first: int, end: int) -> float:
    bad, good = sum(known(one.hours.column("bad", first, end))), sum(known(one.hours.column("good", first, end)))
    return bad / (bad + good) if bad else 0.0


def _is_one_sided(one: Standing, first: int, end: int) -> bool:
    """Whether most samples, or the hours' highest or lowest ones, go on smoothly while the others leap about."""
    rough = known(one.hours.column("rough_kpa", first, end))
    if not rough:
        return False
    names = ("high_kpa", "low_kpa") if one.instrument.interval_s <= HOUR_US / 2e6 else ()
    ends = [_wandering(one.hours.column(name, first, end)) for name in names]
    return min([*ends, _straying(one.hours.column("last_kpa", first, end))]) < SMOOTH * sum(rough) / len(rough)


def _wandering(values: Sequence[float]) -> float:
    """Median distance of the steps from hour to hour from their median: even drying is no wandering."""
    steps = known(after - before for before, after in pairwise(values))
    usual = middle(steps)
    return middle([abs(step - usual) for step in steps]) if len(steps) >= STEPS_H else math.inf


def _straying(values: Sequence[float]) -> float:
    """Median distance from the median of those around."""
    numbers = known(values)
    around = (numbers[max(0, at - AROUND) : at + AROUND + 1] for at in range(len(numbers)))
    off = [abs(value - middle(near)) for value, near in zip(numbers, around, strict=True)]
    return middle(off) if len(off) > 2 * AROUND else math.inf


def _ratio(look: SourceLook, one: Standing) -> float:
    """Noise of this hour in terms of the usual one; at most 1 where it is too small to matter; NaN: not known."""
    rough, usual = one.hours.at("rough_kpa", look.hour), look.source.notes.get(_usual(one))
    if not isinstance(usual, float) or rough != rough:
        return NAN
    return rough / usual if rough > usual + NOISY_KPA else min(1.0, rough / usual)


def _usual(one: Standing) -> str:
    return f"supply.usual.{one.instrument.channel}"


def _learn(look: SourceLook, channels: Sequence[Standing]) -> None:
    """Note the usual noise of each channel once a day, while there is nothing unusual."""
    notes = look.source.notes
    last = notes.get("supply.learnt")
    due = not isinstance(last, int) or look.hour - last >= USUAL_EVERY_H
    if not due or is_uneasy(look) or look.has(FindingKind.DROP_OUTS):
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
