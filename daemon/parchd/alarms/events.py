"""What happened to an alarm."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from parchd.alarms.condition import Change
from parchd.alarms.kinds import AlarmKind
from parchd.contract import JsonValue


class AlarmKey(NamedTuple):
    """One alarm: a kind and what it speaks of (``zone/NAME``, ``tensiometer/NAME``)."""

    kind: AlarmKind
    subject: str

    @property
    def name(self) -> str:
        """The name of what it speaks of."""
        return self.subject.partition("/")[2]

    @property
    def dotted(self) -> str:
        """The alarm in one word, for programs; see `parse_key`.

        >>> AlarmKey(AlarmKind.SILENT, "tensiometer/a").dotted
        'silent.tensiometer.a'
        """
        return f"{self.kind}.{self.subject.replace('/', '.')}"


@dataclass(frozen=True, slots=True)
class AlarmEvent:
    """A change that is stored and told.

    Args:
        key: the alarm.
        change: raised or cleared.
        time_us: time of the observation that made it.
        raised_us: when this episode was raised; with the key it names the episode.
        tension_kpa: the tension judged; ``None`` where none was.
        limit_kpa: the limit judged against; ``None`` where there is none.
        evidence: what it rests on, JSON types.
    """

    key: AlarmKey
    change: Change
    time_us: int
    raised_us: int
    tension_kpa: float | None = None
    limit_kpa: float | None = None
    evidence: Mapping[str, JsonValue] = field(default_factory=dict)

    @property
    def episode(self) -> str:
        """Names the episode: the same for the raise and its clear, and for no other.

        >>> from parchd.alarms.rules import AlarmKind
        >>> AlarmEvent(AlarmKey(AlarmKind.SILENT, "tensiometer/a"), Change.RAISED, 5, 5).episode
        'silent.tensiometer.a.5'
        """
        return episode_name(self.key, self.raised_us)


def episode_name(key: AlarmKey, raised_us: int) -> str:
    """Name an episode of an alarm. Characters as in the id of a message."""
    return f"{key.dotted}.{raised_us}"


def parse_key(dotted: str) -> AlarmKey:
    """Find the alarm that `AlarmKey.dotted` names.

    >>> parse_key("silent.tensiometer.a")
    AlarmKey(kind=<AlarmKind.SILENT: 'silent'>, subject='tensiometer/a')

    Raises:
        ValueError: it names none.
    """
    kind, *subject = dotted.split(".", 2)
    return AlarmKey(AlarmKind(kind), "/".join(subject))
