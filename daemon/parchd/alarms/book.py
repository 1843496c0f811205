"""All alarms of a site: the state that readings and ticks change."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from parchd.alarms.condition import NORMAL, Condition
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.faults import judge_reading, judge_silence
from parchd.alarms.irrigation import EMPTY, Vote, ZoneState, judge_zone, zone_tensions
from parchd.alarms.own_rules import RuleBook
from parchd.alarms.rule_state import RuleState
from parchd.alarms.rules import AlarmKind, AlarmSetup, FaultRule, IrrigationRule
from parchd.alarms.window import compile_window
from parchd.contract import Reading
from parchd.pipeline.services import Services

NO_SERVICES: Mapping[str, Services] = MappingProxyType({})

Decides = Callable[[int], bool]
"""Whether a reading of this time (microseconds UTC) decides."""


@dataclass(slots=True)
class AlarmState:
    """What is known of every alarm; all of it is durable.

    Args:
        zones: by the subject of the irrigation rule.
        faults: conditions that are not normal, by alarm.
        heard_us: when each tensiometer's channel last delivered a value of a time that can be believed, by channel.
        rules: what rules over readings and findings remember.
    """

    zones: dict[str, ZoneState] = field(default_factory=dict)
    faults: dict[AlarmKey, Condition] = field(default_factory=dict)
    heard_us: dict[str, int] = field(default_factory=dict)
    rules: RuleState = field(default_factory=RuleState)


class AlarmBook:
    """Judges readings and silence by the rules of a site. Holds no state but what it is given."""

    def __init__(self, setup: AlarmSetup) -> None:
        self._setup = setup
        self._faults = {rule.channel: rule for rule in setup.faults}
        self._rules = RuleBook(setup)
        self._faulty = {f"tensiometer/{rule.tensiometer}" for rule in setup.faults}
        self._faulty |= {f"source/{rule.channel.partition('/')[0]}" for rule in setup.faults}
        self._deciding: dict[str, list[tuple[IrrigationRule, Decides]]] = {}
        for rule in setup.irrigation:
            decides = compile_window(rule.window)
            for tensiometer in rule.tensiometers:
                self._deciding.setdefault(tensiometer, []).append((rule, decides))
        self._heeded = self._deciding.keys() | self._rules.tensiometers
        self._watched_zones = {f"zone/{name}" for name in self._rules.zones}
        self._watched = {AlarmKey(rule.kind, rule.subject) for rule in setup.health} | self._rules.keys

    def judge(
        self, state: AlarmState, readings: Iterable[Reading], held_kpa: Callable[[str, float], float] | None = None
    ) -> list[AlarmEvent]:
        """Take live readings in order; late ones are passed over: a message that the broker kept is no sign of life.

        A reading whose flag is suspect, fail or missing neither raises nor clears an irrigation alarm.

        Args:
            held_kpa: gives, for a channel and its tension, the tension that must be low before an alarm clears.
        """
        return [event for reading in readings for event in self.judge_one(state, reading, held_kpa)]

    def judge_one(
        self, state: AlarmState, reading: Reading, held_kpa: Callable[[str, float], float] | None = None
    ) -> Sequence[AlarmEvent]:
        """Take one reading, see `judge`."""
        rule = self._faults.get(reading.channel)
        if reading.late:
            return ()
        events: list[AlarmEvent] = []
        if reading.channel in self._rules.channels:
            events += self._rules.take_channel(state.rules, state.faults, reading)
        if rule is None:
            return events
        if reading.sample.value is not None:
            state.heard_us[reading.channel] = reading.received_us
        if reading.cause or state.faults:
            events += judge_reading(rule, state.faults, reading)
        tension_kpa = reading.tension_kpa
        if tension_kpa is not None and reading.flag.decides and rule.tensiometer in self._heeded:
            held = tension_kpa if held_kpa is None else held_kpa(reading.channel, tension_kpa)
            vote = Vote(reading.sample.time_us, tension_kpa, held if held > tension_kpa else None)
            events += self._vote(state, rule, vote)
            if rule.tensiometer in self._rules.tensiometers:
                events += self._rules.take_tension(
                    state.rules, state.faults, rule.tensiometer, vote.time_us, tension_kpa, held
                )
        return events

    def _zone(self, state: AlarmState, irrigation: IrrigationRule, time_us: int) -> Iterator[AlarmEvent]:
        """Let rules know what a zone has voted for."""
        kpa = zone_tensions(irrigation, state.zones[irrigation.subject], time_us)
        if kpa is not None:
            zone = irrigation.subject.partition("/")[2]
            yield from self._rules.take_zone(state.rules, state.faults, zone, time_us, *kpa)

    def withdraw(
        self, state: AlarmState, tensiometer: str, start_us: int, earlier: Callable[[Decides], Vote | None]
    ) -> None:
        """Let votes that a tensiometer cast from a time on count no more: what it said before holds again.

        Args:
            start_us: from when on it is not believed.
            earlier: finds its last vote before that among the readings that decide; ``None``: there is none.
        """
        self._rules.withdraw(state.rules, tensiometer, start_us)
        for irrigation, decides in self._deciding.get(tensiometer, ()):
            zone = state.zones.get(irrigation.subject, EMPTY)
            cast = zone.votes.get(tensiometer)
            if cast is None or cast.time_us < start_us:
                continue
            votes = {name: vote for name, vote in zone.votes.items() if name != tensiometer}
            if (before := earlier(decides)) is not None:
                votes[tensiometer] = before.held_at_least(cast.held_kpa)
            state.zones[irrigation.subject] = ZoneState(votes, zone.levels)

    def listen(
        self,
        state: AlarmState,
        listening_since_us: int,
        now_us: int,
        services: Mapping[str, Services] = NO_SERVICES,
        alone: Callable[[str], bool] | None = None,
    ) -> list[AlarmEvent]:
        """Ask which channels are silent. Nobody is silent for longer than the daemon has listened, or while served.

        Args:
            alone: whether a tensiometer is silent for itself; one that is silent with its whole source is not told.
        """
        events: list[AlarmEvent] = []
        for rule in self._setup.faults:
            if rule.channel in services and services[rule.channel].marks(now_us):
                continue
            key = AlarmKey(AlarmKind.SILENT, f"tensiometer/{rule.tensiometer}")
            if key in state.faults or alone is None or alone(rule.tensiometer):
                heard_us = state.heard_us.get(rule.channel)
                events += judge_silence(rule, state.faults, heard_us, listening_since_us, now_us)
        return events + self._rules.tick(state.rules, state.faults, now_us)

    def knows(self, key: AlarmKey) -> bool:
        """Whether the configuration has such an alarm."""
        if key.kind in (AlarmKind.IRRIGATE_NOW, AlarmKind.IRRIGATE_PLAN):
            limits = {rule.subject: rule.limits for rule in self._setup.irrigation}
            return any(kind is key.kind for kind, _ in limits.get(key.subject, ()))
        return key.subject in self._faulty or key in self._watched

    @property
    def subjects(self) -> set[str]:
        """Everything that alarms may speak of."""
        return self._faulty | {key.subject for key in self._watched} | {r.subject for r in self._setup.irrigation}

    def is_on(self, state: AlarmState, key: AlarmKey) -> bool:
        """Whether the condition of an alarm holds, as it is judged."""
        levels = state.zones.get(key.subject, EMPTY).levels
        return (levels.get(key.kind) or state.faults.get(key, NORMAL)).phase.is_active

    def prune(self, state: AlarmState) -> None:
        """Forget alarms of rules, levels and tensiometers that the configuration no longer has."""
        subjects = {rule.subject: rule for rule in self._setup.irrigation}
        for subject in set(state.zones) - set(subjects):
            del state.zones[subject]
        for subject, zone in state.zones.items():
            rule = subjects[subject]
            votes = {t: v for t, v in zone.votes.items() if t in rule.tensiometers}
            levels = {kind: zone.levels[kind] for kind, _ in rule.limits if kind in zone.levels}
            state.zones[subject] = ZoneState(votes, levels)
        for key in [key for key in state.faults if not self.knows(key)]:
            del state.faults[key]
        self._rules.prune(state.rules)

    def _vote(self, state: AlarmState, rule: FaultRule, vote: Vote) -> list[AlarmEvent]:
        events: list[AlarmEvent] = []
        for irrigation, decides in self._deciding.get(rule.tensiometer, ()):
            if decides(vote.time_us):
                zone = state.zones.get(irrigation.subject, EMPTY)
                state.zones[irrigation.subject], found = judge_zone(irrigation, zone, rule.tensiometer, vote)
                events += found
                if irrigation.subject in self._watched_zones:
                    events += self._zone(state, irrigation, vote.time_us)
        return events
