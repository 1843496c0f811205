"""How fast the ground dries or wets: from one day to the next, so that the daily swing cancels out."""

from collections.abc import Sequence

from parchd.words import Voice

AROUND_H = 3
"""So many hours are taken together, now and a day before."""
STEADY_KPA = 1.0
"""By less than this in a day nothing moves: it is about the uncertainty of a tension."""


def pace_kpa(course: Sequence[float | None]) -> float | None:
    """Tension gained within the last day, kPa; negative: it became wetter. ``None``: it is not known.

    Args:
        course: a tension for each hour, the newest last; those of the last day and three hours count.

    >>> pace_kpa([10.0] * 3 + [None] * 21 + [14.0, None, 15.0])
    4.5
    """
    now, before = _mean(course[-AROUND_H:]), _mean(course[-24 - AROUND_H : -24])
    return None if now is None or before is None else now - before


def pace_words(pace: float | None, voice: Voice) -> str:
    """A pace with a small sign; empty where it is not known.

    >>> [pace_words(kpa, Voice()) for kpa in (4.4, 0.4, -12.0)]
    ['↗ rising 4 kPa a day', '→ steady', '↘ falling 12 kPa a day']
    """
    if pace is None:
        return ""
    if abs(pace) < STEADY_KPA:
        return voice.say("→ steady")
    tension = voice.tension(abs(pace))
    if pace > 0.0:
        return voice.say("↗ rising {tension} a day", tension=tension)
    return voice.say("↘ falling {tension} a day", tension=tension)


def _mean(part: Sequence[float | None]) -> float | None:
    known = [kpa for kpa in part if kpa is not None]
    return sum(known) / len(known) if known else None
