"""Water that came to a station: when it began, how deep it went, and how long it took."""

from collections.abc import Iterator
from math import inf

from parchd.contract import JsonValue
from parchd.diagnosis.falls import SERVICE
from parchd.diagnosis.findings import Event, Fact, FindingKey
from parchd.diagnosis.hours import HOUR_US, hour_of
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.diagnosis.servicing import KNOWN_H
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.verdict import Look

TOGETHER_H, EARLIER_H = 96, 12
"""Falls of a station's tensiometers within this time are one wetting, unless one of them falls twice."""

_EMPTY = (FindingKind.LOST_WATER, FindingKind.AIR_ENTRY)


def watch(look: Look) -> Iterator[Event]:
    """Yield the wetting of the station when a fall of this tensiometer is explained by water, and once it is over.

    Nothing is told before it is known that nobody opened the tube.
    """
    for fall in look.standing.falls[-2:]:
        if not _is_water(fall) or look.hour - fall.begin < KNOWN_H:
            continue
        stage = "over" if fall.over else "explained"
        key = f"wetting.{fall.begin}"
        if look.standing.notes.get(key) != stage:
            _forget(look.standing, fall.begin)
            look.standing.notes[key] = stage
            if fall.begin < _empty_since(look, look.standing):
                yield _event(look, fall)


def _is_water(fall: Fall) -> bool:
    return bool(fall.explained) and fall.why != SERVICE


def _empty_since(look: Look, standing: Standing) -> float:
    """The hour since which a tube is known to have no water: it feels none that comes."""
    keys = (FindingKey(kind, standing.instrument.subject) for kind in _EMPTY)
    return min((hour_of(found.start_us) for key in keys if (found := look.state.findings.get(key))), default=inf)


def _forget(standing: Standing, begin: int) -> None:
    for name in [n for n in standing.notes if n.startswith("wetting.") and n[8:].isdigit()]:
        if int(name[8:]) < begin - TOGETHER_H:
            del standing.notes[name]


def _event(look: Look, fall: Fall) -> Event:
    station = sorted((look.standing, *look.neighbours.station), key=lambda s: s.instrument.place.depth_m)
    start, reached = _reached(look, station, fall)
    place = look.instrument.place
    depths: list[JsonValue] = [
        {
            "tensiometer": standing.instrument.name,
            "depth_m": standing.instrument.place.depth_m,
            "after_h": one.begin - start,
            "from_kpa": round(one.from_kpa, 2),
            "to_kpa": round(one.low_kpa, 2),
            "half_after_h": one.half_hour - one.begin,
        }
        for standing, one in reached
    ]
    deepest, last = reached[-1]
    facts = (
        Fact("reached", 100.0 * deepest.instrument.place.depth_m, "cm"),
        Fact("after", float(max(0, last.begin - start)), "h"),
        Fact("largest fall", max(one.size_kpa for _, one in reached), "kPa"),
    )
    over = all(one.over for _, one in reached)
    end_us = max(one.low_hour + 1 for _, one in reached) * HOUR_US if over else None
    subject = f"station/{place.zone}/{place.station}"
    return Event(EventKind.WETTING, subject, start * HOUR_US, end_us, facts, {"depths": depths})


def _reached(look: Look, station: list[Standing], fall: Fall) -> tuple[int, list[tuple[Standing, Fall]]]:
    """The falls of one wetting, the shallowest first, and the hour in which it began; that names it."""
    anchor = _anchor(look, station, fall)
    reached = []
    for standing in station:
        near = [f for f in _by_water(look, standing) if -EARLIER_H <= f.begin - anchor <= TOGETHER_H]
        if standing is look.standing:
            reached.append((standing, fall))
        elif near:
            reached.append((standing, near[0]))
    return anchor, reached


def _anchor(look: Look, station: list[Standing], fall: Fall) -> int:
    """Begin of the newest fall, not later, of the shallowest tensiometer that water reached."""
    for standing in station:
        if standing is look.standing:
            return fall.begin
        falls = _by_water(look, standing)
        begins = [f.begin for f in falls if -EARLIER_H <= fall.begin - f.begin <= TOGETHER_H]
        if begins:
            return max(begins)
    return fall.begin


def _by_water(look: Look, standing: Standing) -> list[Fall]:
    since = _empty_since(look, standing)
    return [fall for fall in standing.falls if _is_water(fall) and fall.begin < since]
