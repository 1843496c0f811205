"""How a tensiometer dries beside its neighbours: one cycle from water to water after the other, kept in its notes."""

from math import log
from typing import NamedTuple

from parchd.contract import JsonValue
from parchd.diagnosis.hours import known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.rows import flat, rows
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Look

EVERY_H = 24
NOW, PAST = "contact.cycle", "contact.cycles"
"""Notes: the cycle that goes on, and those that are over, the newest last."""
KEPT = 12

DRY_KPA = 11.0
"""Above it a gap between cup and soil lets less water pass than the roots take."""
LEAST_KPA = 2.5
"""Below it growth is noise."""
WETTED = 0.85
LEAST_GROWTH = 0.2
"""Natural logarithm of the neighbours' growth while it was dry, for a cycle to tell something."""
LEAST_DAYS = 2
KNOWN_H = 8


class Cycle(NamedTuple):
    """From water to water.

    Args:
        hour: its last one.
        from_kpa: where it began.
        growth, theirs: by how much tension grew while it was dry, and that of the neighbours: natural logarithms.
        days: how many.
    """

    hour: int
    from_kpa: float
    growth: float
    theirs: float
    days: int

    @property
    def share(self) -> float:
        """Its growth as a share of the neighbours'."""
        return self.growth / self.theirs

    @property
    def tells(self) -> bool:
        return self.theirs >= LEAST_GROWTH


def follow(look: Look) -> None:
    """Add a day: once a day, at the same hour."""
    own = _days(look.standing, look.hour)
    beside = [pair for n in look.neighbours.level if _dries(look, n) and (pair := _days(n, look.hour)) is not None]
    if own is None or not beside:
        return
    notes = look.standing.notes
    wetted = own[1] < WETTED * own[0] or any(now < WETTED * before for before, now in beside)
    if wetted or min(own[0], *(before for before, _ in beside)) <= LEAST_KPA:
        cycle = now_going(look)
        if cycle is not None and cycle.days >= LEAST_DAYS and cycle.tells:
            notes[PAST] = flat([*cycles(look), cycle][-KEPT:])
        notes.pop(NOW, None)
        return
    cycle = now_going(look) or Cycle(look.hour, round(own[0], 1), 0.0, 0.0, 0)
    grown, theirs = 0.0, 0.0
    if own[0] >= DRY_KPA:
        grown = log(own[1] / own[0])
        theirs = middle([log(now / before) for before, now in beside])
    notes[NOW] = [
        look.hour, cycle.from_kpa, round(cycle.growth + grown, 3), round(cycle.theirs + theirs, 3), cycle.days + 1,
    ]  # fmt: skip


def _dries(look: Look, neighbour: Standing) -> bool:
    """Whether its days can be used: also those of a cup that is slow by hours."""
    subject = neighbour.instrument.subject
    kinds = {key.kind for key in look.state.findings if key.subject == subject}
    return kinds <= {FindingKind.SLOW_RESPONSE} or look.trusts(neighbour)


def _days(standing: Standing, hour: int) -> tuple[float, float] | None:
    """The middle of yesterday and of today; ``None``: not known."""
    hours = standing.hours.column("mean_kpa", hour - 47, hour + 1)
    before, now = known(hours[:24]), known(hours[24:])
    if len(before) < KNOWN_H or len(now) < KNOWN_H or hour - 47 < standing.since:
        return None
    return max(middle(before), 0.1), max(middle(now), 0.1)


def now_going(look: Look) -> Cycle | None:
    """The cycle that goes on."""
    return next(iter(_cycles(look.standing.notes.get(NOW))), None)


def cycles(look: Look) -> list[Cycle]:
    """Those that are over and tell something."""
    return _cycles(look.standing.notes.get(PAST))


def _cycles(kept: JsonValue) -> list[Cycle]:
    seen = rows(kept, len(Cycle._fields))
    return [Cycle(int(hour), from_kpa, growth, theirs, int(days)) for hour, from_kpa, growth, theirs, days in seen]
