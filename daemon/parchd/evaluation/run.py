"""A season through the diagnosis, as the engine would put it there."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from parchd.contract import Unit
from parchd.diagnosis.diagnosis import Diagnosis
from parchd.diagnosis.findings import End, Event, Finding, FindingKey, Outcome
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.setup import diagnosis_setup
from parchd.diagnosis.standing import DiagnosisState
from parchd.evaluation.arrivals import turns
from parchd.simulator.convert import Columns
from parchd.simulator.season import Season

_Mark = tuple[FindingKey, int, int]


@dataclass(frozen=True, slots=True)
class Chain:
    """A finding with those it took the place of, the oldest first: what people were told about one thing.

    Args:
        findings: at least one; the last is what the diagnosis held to.
    """

    findings: tuple[Finding, ...]

    @property
    def last(self) -> Finding:
        return self.findings[-1]

    @property
    def first_us(self) -> int:
        """When anything was said at all."""
        return min(one.found_us for one in self.findings)


@dataclass(frozen=True, slots=True)
class Heard:
    """What the diagnosis said of a season.

    Args:
        chains: in the order in which their last finding was made.
        events: each as it was last told.
    """

    chains: tuple[Chain, ...] = ()
    events: tuple[Event, ...] = ()


def diagnose(season: Season, columns: Mapping[str, Columns], units: Mapping[str, Unit]) -> Heard:
    """Feed a season hour by hour of arrival, and ask every hour who is silent.

    A finding counts as made within the hour in which its last readings arrived, whatever the device's clock says.
    Nobody writes down a service: the diagnosis must see by itself that somebody was there.

    Args:
        units: of each channel's samples.
    """
    setup = diagnosis_setup(season.setup, season.barometer_channel)
    diagnosis, heard = Diagnosis(setup), Collector()
    state = diagnosis.begin(DiagnosisState())
    tensiometers = {one.channel for one in setup.instruments}
    newest: dict[str, int] = {}
    others = frozenset(columns.keys() - tensiometers)
    for turn in turns(columns, units, others, season.start_us, season.end_us):
        heard.take(diagnosis.take(state, turn.readings), turn.end_us)
        newest.update(turn.heard_us)
        if turn.end_us <= season.end_us:
            heard.take(diagnosis.listen(state, newest, season.start_us, turn.end_us), turn.end_us)
        state.unsaved_hours.clear()
        state.changed.clear()
    return heard.heard()


@dataclass(slots=True)
class Collector:
    """Links findings into chains as they are made.

    Args:
        made_us: when each finding was made, by the daemon's clock.
    """

    chains: list[list[Finding]] = field(default_factory=list)
    events: dict[tuple[str, str, int], Event] = field(default_factory=dict)
    made_us: dict[_Mark, int] = field(default_factory=dict)

    def take(self, outcome: Outcome, end_us: int) -> None:
        """Take what was said within the hour of the daemon's clock that ends then."""
        for event in outcome.events:
            self.events[event.kind, event.subject, event.start_us] = event
        for finding in outcome.findings:
            self.made_us.setdefault(_mark(finding), min(max(finding.found_us, end_us - HOUR_US), end_us))
            self._take_one(finding)

    def _take_one(self, finding: Finding) -> None:
        if finding.is_open:
            before = [step for chain in self._superseded(finding.key.subject) for step in chain]
            self.chains.append([*sorted(before, key=lambda step: step.found_us), finding])
            return
        chain = next(chain for chain in reversed(self.chains) if _same(chain[-1], finding))
        chain[-1] = finding

    def _superseded(self, subject: str) -> Iterator[list[Finding]]:
        """Take out the chains that a new finding goes on: they were ended for it just before."""
        ended = [c for c in self.chains if c[-1].end is End.REFINED and c[-1].key.subject == subject]
        for chain in ended:
            self.chains.remove(chain)
            yield chain

    def heard(self) -> Heard:
        chains = (Chain(tuple(map(self._dated, chain))) for chain in self.chains)
        return Heard(tuple(chains), tuple(self.events.values()))

    def _dated(self, finding: Finding) -> Finding:
        return replace(finding, found_us=self.made_us[_mark(finding)])


def _mark(finding: Finding) -> _Mark:
    return finding.key, finding.found_us, finding.start_us


def _same(one: Finding, other: Finding) -> bool:
    return _mark(one) == _mark(other)
