"""All figures of a report, computed from the history of alarms and from what people were sent."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from parchd.alarms.events import AlarmKey
from parchd.alarms.kinds import IRRIGATION_KINDS
from parchd.alarms.lifecycle import Happening
from parchd.alarms.standing import Transition
from parchd.clock import US_PER_S, to_datetime
from parchd.contract import Priority
from parchd.report import guide
from parchd.report.counting import Flood, floods, most_within
from parchd.report.episodes import Episode, episodes

HOUR_US = 3600 * US_PER_S
TOP = 10


@dataclass(frozen=True, slots=True)
class Message:
    """One message about alarms that somebody was sent."""

    to: str
    time_us: int


@dataclass(frozen=True, slots=True)
class Span:
    """A span of time, ``start <= time < end``, and the time zone of its days."""

    start_us: int
    end_us: int
    zone: ZoneInfo

    def holds(self, time_us: int) -> bool:
        return self.start_us <= time_us < self.end_us

    @property
    def length_days(self) -> float:
        return (self.end_us - self.start_us) / (24 * HOUR_US)

    def day(self, time_us: int) -> date:
        """The local date of a moment."""
        return to_datetime(time_us).astimezone(self.zone).date()

    @property
    def days(self) -> list[date]:
        """All local dates that it touches."""
        first, last = self.day(self.start_us), self.day(max(self.start_us, self.end_us - 1))
        return [first + timedelta(days=n) for n in range((last - first).days + 1)]


@dataclass(frozen=True, slots=True)
class Rate:
    """How many came each day.

    Args:
        by_day: in the order of the days.
        a_day: average over the span.
    """

    by_day: tuple[int, ...]
    a_day: float

    @property
    def total(self) -> int:
        return sum(self.by_day)

    @property
    def worst(self) -> int:
        return max(self.by_day, default=0)

    def days_above(self, count: int) -> int:
        """On how many days more came than that."""
        return sum(came > count for came in self.by_day)


@dataclass(frozen=True, slots=True)
class Answers:
    """How people answered.

    Args:
        seconds: from hearing of it to the answer, rising.
        never: alarms that are over and nobody answered.
        waiting: alarms that still wait.
    """

    seconds: tuple[float, ...]
    never: int
    waiting: int


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of one span.

    Args:
        span: which.
        history_days: so many days of it the history knows.
        alarms: annunciated, by day.
        by_priority: the same, each priority by day.
        repeated: how often an alarm that stood was annunciated anew; not in ``alarms``.
        hidden: how many conditions came and went without anybody being told.
        recipients: messages about alarms that each was sent.
        frequent: the alarms that came most often, the first ten.
        stale: faults that stood for more than 24 hours, the longest first; a need for water is none.
        thirsty: needs for water that stood so long.
        chattering: alarms that came three times within a minute, with the most in a minute.
        repeating: alarms that came more than three times within 24 hours, with the most in 24 hours.
        fleeting: alarms that went by themselves within half an hour, with how often.
        floods: more than ten alarms in ten minutes.
        busiest: the most alarms in any ten minutes.
        answers: how people answered.
    """

    span: Span
    history_days: float
    alarms: Rate
    by_priority: Mapping[Priority, Rate]
    repeated: int
    hidden: int
    recipients: Mapping[str, Rate]
    frequent: tuple[tuple[AlarmKey, int], ...]
    stale: tuple[Episode, ...]
    thirsty: tuple[Episode, ...]
    chattering: tuple[tuple[AlarmKey, int], ...]
    repeating: tuple[tuple[AlarmKey, int], ...]
    fleeting: tuple[tuple[AlarmKey, int], ...]
    floods: tuple[Flood, ...]
    busiest: int
    answers: Answers


def figures(
    steps: Sequence[Transition],
    messages: Iterable[Message],
    span: Span,
    priority: Callable[[AlarmKey], Priority],
    known_since_us: int,
) -> Figures:
    """Compute everything.

    Args:
        steps: the whole history up to the end of the span, in order.
        messages: what people were sent; others than those of the span do not count.
        priority: of an alarm.
        known_since_us: from when on the history knows of alarms.
    """
    told = [s for s in steps if span.holds(s.time_us) and s.annunciates]
    new = [s for s in told if s.happening is not Happening.REPEATED]
    times_us = sorted(s.time_us for s in new)
    by_key: dict[AlarmKey, list[int]] = {}
    for step in new:
        by_key.setdefault(step.key, []).append(step.time_us)
    known = [one for one in episodes(steps) if one.off_us is None or one.off_us >= span.start_us]
    to: dict[str, list[int]] = {}
    for message in messages:
        if span.holds(message.time_us):
            to.setdefault(message.to, []).append(message.time_us)
    long = _long(known, span)
    return Figures(
        span=span,
        history_days=max(0, span.end_us - max(span.start_us, known_since_us)) / (24 * HOUR_US),
        alarms=_rate(times_us, span),
        by_priority={p: _rate([s.time_us for s in new if priority(s.key) is p], span) for p in reversed(Priority)},
        repeated=len(told) - len(new),
        hidden=sum(one.told_us is None for one in known if span.holds(one.on_us)),
        recipients={name: _rate(sent_us, span) for name, sent_us in sorted(to.items())},
        frequent=_most({key: len(came) for key, came in by_key.items()})[:TOP],
        stale=tuple(one for one in long if one.key.kind not in IRRIGATION_KINDS),
        thirsty=tuple(one for one in long if one.key.kind in IRRIGATION_KINDS),
        chattering=_crowded(by_key, guide.CHATTER_COUNT, guide.CHATTER_S),
        repeating=_crowded(by_key, guide.REPEATING_COUNT + 1, guide.REPEATING_H * 3600),
        fleeting=_most(Counter(one.key for one in known if _is_fleeting(one, span))),
        floods=tuple(floods(times_us, guide.FLOOD_BEGINS, guide.FLOOD_ENDS, guide.FLOOD_S)),
        busiest=most_within(times_us, guide.FLOOD_S),
        answers=_answers(known, span),
    )


def _rate(times_us: Iterable[int], span: Span) -> Rate:
    count = Counter(span.day(time_us) for time_us in times_us)
    by_day = tuple(count[day] for day in span.days)
    return Rate(by_day, sum(by_day) / span.length_days if span.length_days else 0.0)


def _most(counts: Mapping[AlarmKey, int]) -> tuple[tuple[AlarmKey, int], ...]:
    return tuple(sorted(counts.items(), key=lambda item: (-item[1], item[0])))


def _crowded(by_key: Mapping[AlarmKey, Sequence[int]], least: int, seconds: float) -> tuple[tuple[AlarmKey, int], ...]:
    most = {key: most_within(sorted(came), seconds) for key, came in by_key.items()}
    return _most({key: count for key, count in most.items() if count >= least})


def _long(known: Iterable[Episode], span: Span) -> list[Episode]:
    """Those that people heard of and that stood too long within the span or up to it, the longest first."""
    least_s = guide.STALE_H * 3600
    long = [one for one in known if one.told_us is not None and one.seconds(span.end_us) > least_s]
    return sorted(long, key=lambda one: (-one.seconds(span.end_us), one.key))


def _is_fleeting(one: Episode, span: Span) -> bool:
    if one.off_us is None or one.told_us is None or one.acknowledged_us is not None or not span.holds(one.told_us):
        return False
    return one.off_us - one.told_us <= guide.FLEETING_MIN * 60 * US_PER_S


def _answers(known: Iterable[Episode], span: Span) -> Answers:
    heard = [one for one in known if one.told_us is not None and span.holds(one.told_us)]
    seconds = sorted(one.answer_s for one in heard if one.answer_s is not None)
    unanswered = [one for one in heard if one.answer_s is None]
    waiting = sum(one.off_us is None for one in unanswered)
    return Answers(tuple(seconds), len(unanswered) - waiting, waiting)
