"""Alarms over conditions on readings, channels and findings: rules of one's own, fast drying, ground that stays wet.

A reading that is suspect, failed, missing or late decides nothing, and silence neither raises nor clears. What a
tensiometer or channel said last stays its word; once it is old it raises nothing more.
"""

from collections.abc import Iterator
from statistics import median

from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.faults import Conditions
from parchd.alarms.rising import compile_day, marked, rise_kpa_per_day
from parchd.alarms.rule_judging import judge_rule, note_level
from parchd.alarms.rule_state import RuleState
from parchd.alarms.rules import AlarmSetup
from parchd.alarms.terms import Level, Quantity, Rule
from parchd.alarms.window import compile_window
from parchd.clock import US_PER_S
from parchd.contract import Reading
from parchd.pipeline.stage import auxiliary_value

Watcher = tuple[Rule, str, Level]
_HOUR_US = 3600 * US_PER_S


class RuleBook:
    """Judges rules. Holds no state but what it is given."""

    def __init__(self, setup: AlarmSetup) -> None:
        self._rules = {rule.key: rule for rule in setup.rules}
        self._levels: dict[tuple[Quantity, str], list[Watcher]] = {}
        for rule in setup.rules:
            for word, term in zip(rule.words, rule.terms, strict=True):
                if isinstance(term, Level):
                    self._levels.setdefault((term.quantity, term.name), []).append((rule, word, term))
        self._rising: dict[str, list[Watcher]] = {}
        for (quantity, _), watchers in self._levels.items():
            for watcher in watchers if quantity in (Quantity.RISE, Quantity.ZONE_RISE) else ():
                for member in watcher[2].members:
                    self._rising.setdefault(member, []).append(watcher)
        self._mornings = {name: (compile_window(w), compile_day(w)) for name, w in setup.mornings.items()}
        self._of_presence = [rule for rule in setup.rules if not any(isinstance(t, Level) for t in rule.terms)]
        self.channels = frozenset(name for quantity, name in self._levels if quantity is Quantity.CHANNEL)
        """Channels that a rule looks at."""
        self.zones = frozenset(name for quantity, name in self._levels if quantity is Quantity.ZONE_TENSION)
        """Zones whose tension a rule looks at."""
        tensions = {name for quantity, name in self._levels if quantity is Quantity.TENSION}
        self.tensiometers = frozenset(self._rising) | tensions
        """Tensiometers whose tension or rise a rule looks at."""

    @property
    def keys(self) -> set[AlarmKey]:
        """The alarms of all rules."""
        return set(self._rules)

    def take_channel(self, state: RuleState, conditions: Conditions, reading: Reading) -> Iterator[AlarmEvent]:
        """Take a sample of a channel as it came, whatever its flag; one without a value says nothing."""
        sample = reading.sample
        if sample.value is not None:
            value = auxiliary_value(sample.value, sample.unit)
            yield from self._said(state, conditions, Quantity.CHANNEL, reading.channel, value, value, sample.time_us)

    def take_tension(
        self, state: RuleState, conditions: Conditions, name: str, time_us: int, kpa: float, held_kpa: float
    ) -> Iterator[AlarmEvent]:
        """Take a deciding tension of a tensiometer.

        Args:
            held_kpa: what it must be taken to read until a fall is explained.
        """
        yield from self._said(state, conditions, Quantity.TENSION, name, kpa, held_kpa, time_us)
        if name in self._mornings and held_kpa <= kpa:
            yield from self._mark(state, conditions, name, time_us, kpa)

    def take_zone(
        self, state: RuleState, conditions: Conditions, zone: str, time_us: int, kpa: float, held_kpa: float
    ) -> Iterator[AlarmEvent]:
        """Take the tension that a zone has voted for, see `take_tension`."""
        yield from self._said(state, conditions, Quantity.ZONE_TENSION, zone, kpa, held_kpa, time_us)

    def tick(self, state: RuleState, conditions: Conditions, now_us: int) -> list[AlarmEvent]:
        """Judge rules that no reading bears upon."""
        return [event for rule in self._of_presence for event in judge_rule(rule, state, conditions, now_us)]

    def withdraw(self, state: RuleState, tensiometer: str, start_us: int) -> None:
        """Let what a tensiometer said from a time on count no more: it was not to be believed."""
        theirs = (*self._levels.get((Quantity.TENSION, tensiometer), ()), *self._rising.get(tensiometer, ()))
        for _, word, _ in theirs:
            said = state.said.get(word)
            if said is not None and said.since_us >= start_us:
                state.forget(word)
        if tensiometer in state.marks:
            kept = tuple(mark for mark in state.marks[tensiometer] if mark.hour < start_us // _HOUR_US)
            state.mark(tensiometer, kept)

    def prune(self, state: RuleState) -> None:
        """Forget what the rules do not ask for any more."""
        known = {word for rule in self._rules.values() for word in rule.words}
        for word in state.said.keys() - known:
            state.forget(word)
        for name in state.marks.keys() - self._mornings.keys():
            state.mark(name, ())

    def _said(
        self,
        state: RuleState,
        conditions: Conditions,
        quantity: Quantity,
        name: str,
        value: float,
        held: float,
        time_us: int,
    ) -> Iterator[AlarmEvent]:
        for watcher in self._levels.get((quantity, name), ()):
            yield from note_level(watcher, state, conditions, (value, held), time_us)

    def _mark(
        self, state: RuleState, conditions: Conditions, name: str, time_us: int, kpa: float
    ) -> Iterator[AlarmEvent]:
        before = state.marks.get(name, ())
        if (before and time_us // _HOUR_US <= before[-1].hour) or not self._mornings[name][0](time_us):
            return
        state.mark(name, marked(before, time_us, kpa))
        for watcher in self._rising.get(name, ()):
            members = watcher[2].members
            rises = [rise for member in members if (rise := self._rise(state, member, time_us)) is not None]
            if rises:
                rise = median(rises)
                yield from note_level(watcher, state, conditions, (rise, rise), time_us)

    def _rise(self, state: RuleState, tensiometer: str, time_us: int) -> float | None:
        """How fast one dries; ``None``: that cannot be said, or it said nothing this morning or the last."""
        marks = state.marks.get(tensiometer, ())
        day = self._mornings[tensiometer][1]
        if not marks or day(time_us // _HOUR_US) - day(marks[-1].hour) > 1:
            return None
        return rise_kpa_per_day(marks, day)
