"""What happened, line by line, from whatever thread saw it."""

import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from parchd.clock import Clock


class Kind(StrEnum):
    """Who is speaking. The word stands on the screen."""

    INTRO = ""
    FIELD = "field"
    """The simulation: what somebody or something does out there."""
    MAIL = "mail"
    WEBHOOK = "webhook"
    DAEMON = "daemon"


@dataclass(frozen=True, slots=True)
class News:
    """One line.

    Args:
        at: the farm's time of day; empty: none is shown.
        text: what happened.
        aside: a detail that is shown where there is room.
    """

    at: str
    kind: Kind
    text: str
    aside: str = ""


class NewsDesk:
    """Keeps the news in order.

    Args:
        clock: the farm's.
        time_of_day: writes a time of it for people.
    """

    def __init__(self, clock: Clock, time_of_day: Callable[[int], str]) -> None:
        self._clock = clock
        self._time_of_day = time_of_day
        self._lock = threading.Lock()
        self._news: list[News] = []

    def tell(self, kind: Kind, text: str, aside: str = "") -> None:
        at = "" if kind is Kind.INTRO else self._time_of_day(self._clock.now_us())
        with self._lock:
            self._news.append(News(at, kind, text, aside))

    def after(self, count: int) -> list[News]:
        """All news but the first ``count``."""
        with self._lock:
            return self._news[count:]

    def last(self, count: int) -> tuple[News, ...]:
        with self._lock:
            return tuple(self._news[-count:])

    @property
    def counts(self) -> Counter[Kind]:
        with self._lock:
            return Counter(news.kind for news in self._news)
