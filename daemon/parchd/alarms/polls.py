"""How the tensiometers of a zone speak with one voice: from their votes to one tension.

Each way is monotone: no vote can rise and make the zone's tension fall. So a vote that is held keeps an alarm up
whatever the way.
"""

from collections.abc import Mapping, Sequence
from enum import StrEnum
from statistics import fmean, median
from typing import Union


class Poll(StrEnum):
    """A way to make one tension of many."""

    MEDIAN = "median"
    ANY = "any"
    MEAN_OF_STATIONS = "mean of stations"


Way = Union[Poll, int]  # noqa: UP007  # one name for both
"""A poll, or a number k: k of the tensiometers must have reached the limit."""


def least_votes(way: Way) -> int:
    """So few votes decide nothing.

    >>> least_votes(Poll.MEDIAN), least_votes(3)
    (1, 3)
    """
    return way if isinstance(way, int) else 1


def zone_kpa(way: Way, votes: Mapping[str, float], stations: Mapping[str, str]) -> float:
    """Make one tension of the votes of tensiometers, kPa.

    Args:
        way: ``MEDIAN``: half of them read more; ``ANY``: the highest; a number k: the k-th highest (the lowest, if
            there are fewer), so that it reaches a limit when k of them do; ``MEAN_OF_STATIONS``: every station has the
            same weight, however many tensiometers stand at it, and speaks by their median.
        votes: tension by tensiometer, at least one.
        stations: by tensiometer.

    >>> votes = {"a": 10.0, "b": 40.0, "c": 60.0}
    >>> [zone_kpa(way, votes, {"a": "1", "b": "1", "c": "2"}) for way in (Poll.MEDIAN, Poll.ANY, 2, *list(Poll)[2:])]
    [40.0, 60.0, 40.0, 42.5]
    """
    if way is Poll.MEDIAN:
        return median(votes.values())
    if way is Poll.ANY:
        return max(votes.values())
    if isinstance(way, int):
        return sorted(votes.values(), reverse=True)[: max(1, way)][-1]
    return _mean_of_stations(votes, stations)


def poll_words(way: Way, count: int) -> str:
    """The way in words.

    >>> poll_words(Poll.MEDIAN, 3), poll_words(2, 3)
    ('median', '2 of 3')
    """
    return f"{way} of {count}" if isinstance(way, int) else way.value


def _mean_of_stations(votes: Mapping[str, float], stations: Mapping[str, str]) -> float:
    by_station: dict[str, list[float]] = {}
    for name, kpa in votes.items():
        by_station.setdefault(stations.get(name, name), []).append(kpa)
    speaking: Sequence[float] = [median(kpas) for kpas in by_station.values()]
    return fmean(speaking)
