"""From the history of steps to episodes: when an alarm came, who answered when, when it went."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from parchd.alarms.events import AlarmKey
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.standing import Transition

_ANSWERS = (Happening.ACKNOWLEDGED, Happening.RESET)
_BY_PEOPLE = ("command", "link", "mqtt", "api")


@dataclass(frozen=True, slots=True)
class Episode:
    """One time that the condition of an alarm held.

    Args:
        key: of which alarm.
        on_us: since when.
        off_us: until when; ``None``: it still does.
        told_us: when it became unacknowledged, and people heard of it; ``None``: it was hidden all the time.
        acknowledged_us: when somebody first answered it; ``None``: nobody did. What the daemon closes by itself,
            because time ran out or the cause is gone, is no answer.
    """

    key: AlarmKey
    on_us: int
    off_us: int | None = None
    told_us: int | None = None
    acknowledged_us: int | None = None

    def seconds(self, now_us: int) -> float:
        """How long it held, until now where it still does."""
        return ((now_us if self.off_us is None else self.off_us) - self.on_us) / 1e6

    @property
    def answer_s(self) -> float | None:
        """From hearing of it to the answer."""
        if self.told_us is None or self.acknowledged_us is None:
            return None
        return (self.acknowledged_us - self.told_us) / 1e6


def episodes(steps: Iterable[Transition]) -> list[Episode]:
    """Put steps together, in the order in which the conditions came.

    An alarm that is raised while it is on begins a new episode. A reset is an answer too.
    """
    done: list[Episode] = []
    open_now: dict[AlarmKey, Episode] = {}
    for step in steps:
        if step.happening is Happening.RAISED:
            if (before := open_now.pop(step.key, None)) is not None:
                done.append(before if before.off_us is not None else replace(before, off_us=step.time_us))
            open_now[step.key] = Episode(step.key, step.time_us)
        if (one := open_now.get(step.key)) is not None:
            open_now[step.key] = one = _after(one, step)
            if step.after is State.NORMAL:
                done.append(open_now.pop(step.key))
    return sorted([*done, *open_now.values()], key=lambda one: (one.on_us, one.key))


def _after(one: Episode, step: Transition) -> Episode:
    if step.annunciates and one.told_us is None:
        one = replace(one, told_us=step.time_us)
    answers = step.happening in _ANSWERS and step.via in _BY_PEOPLE
    if answers and one.told_us is not None and one.acknowledged_us is None:
        one = replace(one, acknowledged_us=step.time_us)
    if step.happening is Happening.CLEARED and one.off_us is None:
        one = replace(one, off_us=step.time_us)
    return one
