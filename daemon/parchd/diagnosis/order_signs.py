"""What two depths of a station do differently, and what some days of it say of an exchange.

Near the surface roots and water move the soil most: the upper tensiometer is the more restless one, and at its wettest
its transducer feels less suction than the lower one's, which hangs deeper. How far the two are apart comes and goes as
it does at a station beside it. Of two that are exchanged all of this is turned round. All is told by means of a day:
what warmth does to a tube within the day is its own, not its depth's, and may be more than the soil does in ten days.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import log, sqrt
from typing import NamedTuple

from parchd.diagnosis.hours import NAN, known
from parchd.diagnosis.likeness import likeness

STEP_H, DAY_H, KNOWN_H = 6, 24, 16
STILL_KPA = 0.03
OFF_KPA = 0.1
"""What is less than these tells nothing."""
MOST_KPA = 10.0

BEGIN, APART, RESTLESS, WETTEST, NEARER = -3.2, -3.2, 0.5, 0.26, 0.86
"""Logarithm of the odds of an exchange beforehand, and what each sign adds to it: a logistic regression over ten days
each of simulated stations, exchanged and not, of some beside one that was exchanged, and of some with a clogged cup."""
OWN = -1.0
"""Nothing speaks for an exchange while one of the two keeps plainly nearer to its own depth there than to the other:
then the other one of the two has changed. A cup that has grown slow does all that a deep one does."""
MOST_NEAR, PER_KPA, MOST_NEAR_KPA = 2.0, 0.3, 4.0
"""How much nearer can count, and what a kilopascal between the wettest counts beside a logarithm of distances."""

Course = Sequence[float]


class Pair(NamedTuple):
    """Two depths of a station, what the transducers feel: kPa of suction by the hour; NaN: not known."""

    upper: Course
    lower: Course


class Signs(NamedTuple):
    """How a station differs from one beside it; each is about 0 of two stations that are alike, but the first, 1.

    Args:
        apart: correlation of how far the depths are apart here and there; -1 of an exchange.
        restless, wettest: how much less than there the upper one here moves more, and is the less sucked at when
            wettest, kPa; more than 0 of an exchange.
        nearer: how much nearer each keeps to the other depth there than to its own, of the one that does so less.
    """

    apart: float
    restless: float
    wettest: float
    nearer: float


def odds(signs: Signs) -> float:
    """Logarithm of the odds that the two are exchanged; NaN: too little is known.

    >>> odds(Signs(-1.0, 1.0, 5.0, 1.0)) > 2.0
    True
    >>> odds(Signs(0.9, 0.0, 0.0, -1.0)) < -3.0
    True
    """
    total = (
        BEGIN
        + APART * signs.apart
        + RESTLESS * signs.restless
        + WETTEST * _within(signs.wettest, MOST_KPA)
        + NEARER * signs.nearer
    )
    return min(total, 0.0) if signs.nearer < OWN else total


def signs(here: Pair, there: Pair) -> Signs:
    """Compare two stations that are watered together."""
    own, theirs = (Pair(_marks(pair.upper), _marks(pair.lower)) for pair in (here, there))
    return Signs(
        likeness(_gap(own), _gap(theirs)),
        _restless(theirs) - _restless(own),
        _wettest(own) - _wettest(theirs),
        _nearer(own, theirs),
    )


def _within(value: float, most: float) -> float:
    return min(max(value, -most), most)


def _marks(hours: Course) -> list[float]:
    """Mean of the day before every sixth hour."""
    return [_mean(known(hours[at - DAY_H : at])) for at in range(DAY_H, len(hours) + 1, STEP_H)]


def _mean(numbers: Course) -> float:
    return sum(numbers) / len(numbers) if len(numbers) >= KNOWN_H else NAN


def _gap(pair: Pair) -> list[float]:
    return [upper - lower for upper, lower in zip(*pair, strict=True)]


def _changes(marks: Course) -> list[float]:
    return [late - early for early, late in pairwise(marks)]


def _restless(pair: Pair) -> float:
    """How much more the upper one moves than the lower one: logarithm."""
    upper, lower = (_size(_changes(marks)) for marks in pair)
    return log((upper + STILL_KPA) / (lower + STILL_KPA))


def _size(changes: Course) -> float:
    numbers = known(changes)
    return sqrt(sum(change * change for change in numbers) / len(numbers)) if numbers else NAN


def _wettest(pair: Pair) -> float:
    upper, lower = (min(known(marks), default=NAN) for marks in pair)
    return upper - lower


def _nearer(own: Pair, theirs: Pair) -> float:
    return min(_nearer_to(own.upper, theirs.lower, theirs.upper), _nearer_to(own.lower, theirs.upper, theirs.lower))


def _nearer_to(own: Course, other: Course, like: Course) -> float:
    """How much nearer one keeps to another depth than to its own: by its course, and by where it is when wettest."""
    wettest, other_wettest, like_wettest = (min(known(marks), default=NAN) for marks in (own, other, like))
    kpa = abs(wettest - like_wettest) - abs(wettest - other_wettest)
    course = _off(own, like) - _off(own, other)
    return _within(course, MOST_NEAR) + PER_KPA * _within(kpa, MOST_NEAR_KPA)


def _off(one: Course, other: Course) -> float:
    """How far one strays from a steady distance to another: logarithm."""
    apart = known(a - b for a, b in zip(one, other, strict=True))
    mean = sum(apart) / len(apart) if apart else NAN
    return log(_size([kpa - mean for kpa in apart]) + OFF_KPA)
