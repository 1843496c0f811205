"""What rules over readings and findings remember; all of it is durable."""

from dataclasses import dataclass, field
from typing import NamedTuple

from parchd.alarms.rising import Marks
from parchd.clock import US_PER_S

GRAIN_US = 900 * US_PER_S
"""That something still says the same is written down so often, and not with each reading: cards wear."""

LevelKey = str
"""A level of a rule, as `Rule.words` names it."""


class Said(NamedTuple):
    """The last word about one level.

    Args:
        holds: whether it holds.
        value: what it was then.
        since_us: since when it has held, or not held.
        seen_us: when that was last seen, to a quarter of an hour.
    """

    holds: bool
    value: float
    since_us: int
    seen_us: int


@dataclass(slots=True)
class RuleState:
    """What is known of the levels of rules, and of mornings.

    Args:
        said: the last word about each level; none: nothing was said that can be believed.
        marks: first readings of hours, by tensiometer, of those whose rise is asked.
        changed: levels that are to be written.
        marked: tensiometers whose marks are.
    """

    said: dict[LevelKey, Said] = field(default_factory=dict)
    marks: dict[str, Marks] = field(default_factory=dict)
    changed: set[LevelKey] = field(default_factory=set)
    marked: set[str] = field(default_factory=set)

    def note(self, key: LevelKey, holds: bool, value: float, time_us: int) -> None:
        """Note what was said about a level."""
        before = self.said.get(key)
        if before is not None and before.holds is holds and time_us - before.seen_us < GRAIN_US:
            return
        since_us = time_us if before is None or before.holds is not holds else before.since_us
        self.said[key] = Said(holds, value, since_us, time_us)
        self.changed.add(key)

    def mark(self, tensiometer: str, marks: Marks) -> None:
        """Note the mornings of a tensiometer; none: forget them."""
        if marks:
            self.marks[tensiometer] = marks
        else:
            self.marks.pop(tensiometer, None)
        self.marked.add(tensiometer)

    def forget(self, key: LevelKey) -> None:
        """Forget what was said about a level."""
        if self.said.pop(key, None) is not None:
            self.changed.add(key)
