"""Signals outside of their range that are no broken wire: an offset, or noise, has carried them over the wet end.

A broken wire leaps to its rail and stays there, whatever the soil does. A signal that an offset carries over the edge
goes on with the soil out there: it is drawn out by the line that its good samples lie on.
"""

from itertools import pairwise

from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, KEPT_HOURS, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.likeness import likeness, parts
from parchd.diagnosis.shift_back import FROM, SIZE
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.tube import shifted_kpa
from parchd.diagnosis.verdict import Case, Look

OFF = (FindingKind.LEVEL_SHIFT, FindingKind.ZERO_DRIFT)
WIRES = frozenset({FindingKind.OPEN_CIRCUIT, FindingKind.SHORT_CIRCUIT})
NEAR_KPA, OFF_NEAR_KPA = -1.5, 5.0
"""Vacuum below which the signal is about to leave its range: only an offset leads there, as no water stands so high.
Where an offset is known already, a wetting may lead out from higher up."""
LEAST_KPA, MOST_KPA = 3.0, 25.0
BESIDE_H, WETTED_H = 3, 12
STAYS_H, STAYS_OFF_H = 72, 14 * 24
"""After so long without one good sample a signal that stands still is a broken wire after all; after longer where a
shifted level reads so, for ground that stays wet keeps still for days, too."""
STANDS_KPA = -3.0
"""No more water stands above a cup."""
STILL_KPA = 1.5
CREEPS = 0.05
"""Of its signal: soil moves it by less in an hour, and a broken wire by far more. Near nought that is next to nothing:
there `STILL_KPA` is."""
EVERY_H, LIKENESS = 12, 0.9
"""Correlation with a neighbour."""


def is_carried_out(look: Look, first: int) -> bool:
    """Whether an offset that is known, or can be seen, or noise explains bad samples since an hour.

    Args:
        first: hour of the first bad sample in a row.
    """
    if _is_noise(look):
        return True
    before_kpa, off = _vacuum_before(look, first), look.has(*OFF)
    if not (before_kpa <= (OFF_NEAR_KPA if off else NEAR_KPA) or (off and _may_have_gone(look, first, before_kpa))):
        return False
    good = look.past("good", STAYS_OFF_H if reads_as_shifted(look) else STAYS_H)
    return sum(known(good)) > 0.0 or not _stands_still(look) or (off and _crept_out(look))


def reads_as_shifted(look: Look) -> bool:
    """Whether its signal, good or bad, is that of soil or water once a known shift of its level is taken off."""
    size_kpa = shifted_kpa(look)
    return size_kpa < 0.0 and drawn_out_kpa(look, look.hour) - size_kpa >= STANDS_KPA


def creeps(standing: Standing, good_hour: int, bad_hour: int, per_raw: float = 0.0) -> bool:
    """Whether the signal of a bad hour lies next to that of a good one: an offset takes it there, no broken wire.

    Args:
        per_raw: kPa for each unit of raw; 0: not known.
    """
    good, bad = ([standing.hours.at(name, hour) for name in ("raw_low", "raw_high")] for hour in (good_hour, bad_hour))
    near = max(CREEPS * max(map(abs, good)), STILL_KPA / abs(per_raw) if per_raw else 0.0)
    return max(min(abs(end - one) for one in good) for end in bad) <= near


def _crept_out(look: Look) -> bool:
    """Whether the first bad samples after the last good hour lay next to it; or it has been out for four weeks."""
    begin = look.hour - KEPT_HOURS + 1
    rows = zip(look.past("good", KEPT_HOURS), look.past("bad", KEPT_HOURS), strict=True)
    hours = [(begin + n, bad > 0.0) for n, (good, bad) in enumerate(rows) if good > 0.0 or bad > 0.0]
    turns = [(early, late) for (early, was), (late, is_bad) in pairwise(hours) if is_bad and not was]
    line = _line(look)
    return not turns or creeps(look.standing, *turns[-1], line[1] if line is not None else 0.0)


def _is_noise(look: Look) -> bool:
    """Whether the supply is noisy, and good samples lie beside the bad ones."""
    return look.source_has(FindingKind.NOISY_SUPPLY) and sum(known(look.past("good", BESIDE_H))) > 0.0


def _vacuum_before(look: Look, first: int) -> float:
    """What the transducer measured last before an hour; NaN: that is too long ago."""
    last = known(look.past("last_kpa", STAYS_H, until=first))
    return last[-1] + look.instrument.head_kpa if last else NAN


def _may_have_gone(look: Look, first: int, before_kpa: float) -> bool:
    """Whether it has been out for long, or water came when it went."""
    return before_kpa != before_kpa or any(
        abs(fall.begin - first) <= WETTED_H for n in look.neighbours.zone for fall in n.falls[-3:]
    )


def _stands_still(look: Look) -> bool:
    past = known(drawn_out_kpa(look, hour) for hour in range(look.hour - STAYS_H // 2, look.hour + 1))
    return not past or max(past) - min(past) <= STILL_KPA


def drawn_out_kpa(look: Look, hour: int) -> float:
    """Tension that the raw samples of an hour stand for, good or bad, by the line of the good ones; NaN: not known."""
    line = _line(look)
    low, high = look.standing.hours.at("raw_low", hour), look.standing.hours.at("raw_high", hour)
    return line[0] + line[1] * (low + high) / 2.0 if line is not None else NAN


def _line(look: Look) -> tuple[float, float] | None:
    """Tension at raw nought, and for each unit of raw, by the wettest and the driest good hour that are kept."""
    here, first = look.standing.hours, look.hour + 1 - KEPT_HOURS
    names = ("mean_kpa", "raw_low", "raw_high", "bad")
    rows = zip(*(here.column(name, first, look.hour + 1) for name in names), strict=True)
    good = [(kpa, (low + high) / 2.0) for kpa, low, high, bad in rows if kpa == kpa and not bad]
    if not good:
        return None
    (wet_kpa, wet), (dry_kpa, dry) = min(good), max(good)
    if dry_kpa - wet_kpa < LEAST_KPA or wet == dry:
        return None
    per_raw = (dry_kpa - wet_kpa) / (dry - wet)
    return wet_kpa - per_raw * wet, per_raw


def is_no_wire(look: Look, first: int) -> Case | None:
    """See that a signal which was taken for a broken wire is a level that shifted.

    Out there it moves with the soil, or it came back over the edge of its range.

    Args:
        first: hour of the first bad sample.
    """
    if look.has(*OFF) or not (_came_back(look) if look.now.good else _follows(look, first)):
        return None
    before_kpa, then_kpa = _vacuum_before(look, first - 1) - look.instrument.head_kpa, drawn_out_kpa(look, first + 1)
    if not LEAST_KPA <= before_kpa - then_kpa <= MOST_KPA:
        return None
    look.standing.notes[SIZE] = round(then_kpa - before_kpa, 2)
    look.standing.notes.pop(FROM, None)
    facts = (
        Fact("fell by", before_kpa - then_kpa, "kPa"),
        Fact("from", before_kpa, "kPa"),
        Fact("within the hour from", first * HOUR_US, "time"),
    )
    return Case(FindingKind.LEVEL_SHIFT, first * HOUR_US, 0.8, facts, refutes=WIRES)


def _came_back(look: Look) -> bool:
    """Whether it reads less than any water, and lies where it was going when it was out there."""
    now_kpa = look.now.last_kpa
    if not now_kpa + look.instrument.head_kpa <= NEAR_KPA:
        return False
    return abs(drawn_out_kpa(look, look.hour - 1) - now_kpa) <= LEAST_KPA


def _follows(look: Look, first: int) -> bool:
    """Whether it has gone with a neighbour out there for three days."""
    begin = look.hour - STAYS_H + 1
    if look.hour % EVERY_H or begin <= first or sum(known(look.past("good", STAYS_H))) > 0.0:
        return False
    if (line := _line(look)) is None:
        return False
    low, high = (look.standing.hours.column(name, begin, look.hour + 1) for name in ("raw_low", "raw_high"))
    own = parts([line[0] + line[1] * (a + b) / 2.0 for a, b in zip(low, high, strict=True)])
    if not own or max(known(own), default=0.0) - min(known(own), default=0.0) < STILL_KPA:
        return False
    near = [n for n in look.neighbours.zone if look.trusts(n)]
    return any(likeness(own, parts(n.hours.column("mean_kpa", begin, look.hour + 1))) >= LIKENESS for n in near)
