"""Water that came to a station: when it began, how deep it went, and how long it took."""

from collections.abc import Iterator

from parchd.contract import JsonValue
from parchd.diagnosis.falls import SERVICE
from parchd.diagnosis.findings import Event, Fact
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import EventKind
from parchd.diagnosis.servicing import KNOWN_H
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.verdict import Look

TOGETHER_H, EARLIER_H = 96, 12
"""Falls of a station's tensiometers within this time are one wetting, unless one of them falls twice."""


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
            yield _event(look, fall)


def _is_water(fall: Fall) -> bool:
    return bool(fall.explained) and fall.why != SERVICE


def _forget(standing: Standing, begin: int) -> None:
    for name in [n for n in standing.notes if n.startswith("wetting.") and n[8:].isdigit()]:
        if int(name[8:]) < begin - TOGETHER_H:
            del standing.notes[name]


def _event(look: Look, fall: Fall) -> Event:
    station = sorted((look.standing, *look.neighbours.station), key=lambda s: s.instrument.place.depth_m)
    start, reached = _reached(station, look.standing, fall)
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


def _reached(station: list[Standing], of: Standing, fall: Fall) -> tuple[int, list[tuple[Standing, Fall]]]:
    """The falls of one wetting, the shallowest first, and the hour in which it began; that names it."""
    anchor = _anchor(station, of, fall)
    reached = []
    for standing in station:
        near = [f for f in standing.falls if _is_water(f) and -EARLIER_H <= f.begin - anchor <= TOGETHER_H]
        if standing is of and fall not in near:
            near.append(fall)
        if near:
            reached.append((standing, fall if standing is of else near[0]))
    return anchor, reached


def _anchor(station: list[Standing], of: Standing, fall: Fall) -> int:
    """Begin of the newest fall, not later, of the shallowest tensiometer that water reached."""
    for standing in station:
        if standing is of:
            return fall.begin
        begins = [f.begin for f in standing.falls if _is_water(f) and -EARLIER_H <= fall.begin - f.begin <= TOGETHER_H]
        if begins:
            return max(begins)
    return fall.begin
