"""The diagnosis of a site: readings in, findings and events out.

It works on hours of measurement. An hour of a source closes when a reading of a later hour has come (and ten minutes
have passed by the clock of the source, where it reads more often than every half hour): so the same readings in the
same order give the same findings, however they are cut into batches.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from parchd.clock import US_PER_S
from parchd.contract import Cause, Flag, Reading, TimeSource
from parchd.diagnosis import ceiling, device_clock, falls, silence, wetting
from parchd.diagnosis.detectors import SOURCE_WATCHES, WATCHES
from parchd.diagnosis.findings import NOTHING, End, Event, Finding, FindingKey, Outcome
from parchd.diagnosis.hours import HOUR_US, Hour, Hours, hour_of
from parchd.diagnosis.kinds import CONSEQUENCES
from parchd.diagnosis.opening import GAP_INTERVALS, OpenHour
from parchd.diagnosis.ranking import LASTING, SUPERSEDES, YIELDS_TO
from parchd.diagnosis.setup import DiagnosisSetup, Instrument
from parchd.diagnosis.standing import AIR, KEPT_ARRIVALS, Arrivals, DiagnosisState, SourceStanding, Standing
from parchd.diagnosis.verdict import Case, Look, Neighbours, Over, SourceLook, Verdict

GRACE_US = 600 * US_PER_S
SLOW_INTERVAL_S = 1800.0
SAME_DEPTH_M = 0.12
ONE_STORY_US = 14 * 24 * HOUR_US
"""What explains a weaker finding takes over its begin, unless that lies further back: then a level that is off is
another story, and goes on."""

_CAUSE_OF_FLAG = {Flag.SUSPECT: Cause.DOUBTED, Flag.FAIL: Cause.CONDEMNED}


@dataclass(slots=True)
class Found:
    """What steps have brought so far."""

    findings: list[Finding] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)

    def outcome(self) -> Outcome:
        return Outcome(tuple(self.findings), tuple(self.events)) if self.findings or self.events else NOTHING


class Diagnosis:
    """Looks at the readings of a site. Holds no state but what it is given."""

    def __init__(self, setup: DiagnosisSetup) -> None:
        self._setup = setup
        self._instruments = {instrument.channel: instrument for instrument in setup.instruments}
        self._thermometers: dict[str, list[str]] = {}
        for one in setup.instruments:
            if one.temperature_channel is not None:
                self._thermometers.setdefault(one.temperature_channel, []).append(one.channel)
        self._sources: dict[str, tuple[str, ...]] = {}
        for one in setup.instruments:
            self._sources[one.source] = (*self._sources.get(one.source, ()), one.channel)
        self._auxiliaries = frozenset(self._thermometers) | {setup.barometer_channel}
        self._grace_us = {name: self._grace(channels) for name, channels in self._sources.items()}

    @property
    def setup(self) -> DiagnosisSetup:
        return self._setup

    def begin(self, state: DiagnosisState) -> DiagnosisState:
        """Fit a state to the setup, in place: tensiometers that are new begin, ones that are gone are forgotten."""
        for channel, instrument in self._instruments.items():
            standing = state.standings.get(channel)
            if standing is None or standing.instrument.name != instrument.name:
                state.standings[channel] = Standing(instrument)
            else:
                standing.instrument = instrument
            _note_head(state, state.standings[channel])
        for channel in state.standings.keys() - self._instruments.keys():
            del state.standings[channel]
        for name in self._sources:
            state.sources.setdefault(name, SourceStanding(name))
        for name in state.sources.keys() - self._sources.keys():
            del state.sources[name]
        known = {one.subject for one in self._setup.instruments} | {f"source/{name}" for name in self._sources}
        for key in [key for key in state.findings if key.subject not in known]:
            del state.findings[key]
        state.neighbours = {one.channel: self.neighbours(state, one) for one in self._setup.instruments}
        return state

    def take(self, state: DiagnosisState, readings: Iterable[Reading]) -> Outcome:
        """Take readings in the order they came; one that is not newer than the last of its channel is passed over."""
        found = Found()
        for reading in readings:
            self.take_one(state, reading, found)
        return found.outcome()

    def listen(
        self, state: DiagnosisState, heard_us: Mapping[str, int], listening_since_us: int, now_us: int
    ) -> Outcome:
        """Ask by the daemon's clock which channels and sources are silent.

        Args:
            heard_us: when each channel last delivered.
            listening_since_us: nobody is silent for longer than the daemon has listened.
        """
        found = Found()
        for subject, verdict in silence.listen(state, self._setup, heard_us, listening_since_us, now_us):
            self._settle(state, subject, verdict, now_us, found)
        return found.outcome()

    def serviced(self, state: DiagnosisState, tensiometer: str, end_us: int) -> Outcome:
        """Somebody wrote down a service: findings that began before its end are over, and it is learnt anew.

        Args:
            end_us: when it can be believed again.
        """
        found = Found()
        for standing in state.standings.values():
            if standing.instrument.name == tensiometer:
                _learn_anew(state, standing, end_us)
        theirs = [one for one in state.findings.values() if one.key.subject == f"tensiometer/{tensiometer}"]
        for finding in theirs:
            if finding.start_us < end_us:
                self._end(state, finding.key, end_us, End.SERVICED, found)
        return found.outcome()

    def dismiss(self, state: DiagnosisState, key: FindingKey, now_us: int) -> Outcome:
        """A person says that a finding is wrong: it ends as if it had never begun, and the evidence is ignored."""
        found = Found()
        if key in state.findings:
            state.dismissed[key] = now_us
            self._end(state, key, state.findings[key].start_us, End.DISMISSED, found)
        return found.outcome()

    def held_kpa(self, state: DiagnosisState, channel: str, tension_kpa: float) -> float:
        """The tension that must be low before an alarm may clear: an unexplained fall does not count."""
        standing = state.standings.get(channel)
        return tension_kpa if standing is None else ceiling.held_kpa(standing, tension_kpa)

    def cause_of(self, state: DiagnosisState, channel: str) -> Cause:
        """The cause that open findings give to the readings of a channel: none, doubted or condemned."""
        instrument = self._instruments.get(channel)
        if instrument is None or not state.findings:
            return Cause.NONE
        flags = [CONSEQUENCES[kind].flag for kind in state.findings.of(instrument.subject)]
        return max((_CAUSE_OF_FLAG.get(flag, Cause.NONE) for flag in flags), default=Cause.NONE)

    def _grace(self, channels: Iterable[str]) -> int:
        quickest_s = min(self._instruments[channel].interval_s for channel in channels)
        return 0 if quickest_s >= SLOW_INTERVAL_S else GRACE_US

    def take_one(self, state: DiagnosisState, reading: Reading, found: Found) -> None:
        """Take one reading; what it brings goes into ``found``."""
        channel, time_us = reading.channel, taken_us(state, reading)
        if channel in self._auxiliaries and reading.sample.value is not None and time_us is not None:
            self._take_auxiliary(state, reading, time_us)
        standing = state.standings.get(channel)
        if standing is None:
            return
        source = state.sources[standing.instrument.source]
        if reading.sample.time_source is TimeSource.DEVICE:
            note_arrival(source, reading)
        if time_us is not None and time_us > standing.newest_us:
            self._take_tension(state, standing, source, reading, time_us, found)

    def _take_auxiliary(self, state: DiagnosisState, reading: Reading, time_us: int) -> None:
        channel = reading.channel
        if time_us <= state.auxiliaries_us.get(channel, 0):
            return
        state.auxiliaries_us[channel] = time_us
        if channel in self._thermometers:
            self._take_temperature(state, channel, reading, hour_of(time_us))
        if channel == self._setup.barometer_channel:
            _take_air(state, reading, hour_of(time_us))

    def _take_tension(
        self, state: DiagnosisState, standing: Standing, source: SourceStanding, reading: Reading, time_us: int,
        found: Found,
    ) -> None:  # fmt: skip
        hour = time_us // HOUR_US
        if source.closed == 0:
            source.closed = hour - 1
        closable = (time_us - self._grace_us[source.name]) // HOUR_US - 1
        if closable > source.closed:
            self._close(state, source, closable, found)
        if hour <= source.closed:
            return
        if reading.calibration != standing.calibration and reading.tension_kpa is not None:
            _note_calibration(state, standing, reading, time_us)
        standing.newest_us = time_us
        (standing.open.get(hour) or self._opened(standing, hour)).take(reading, time_us)

    def _opened(self, standing: Standing, hour: int) -> OpenHour:
        opened = standing.open.get(hour)
        if opened is None:
            earlier = max((number for number in standing.open if number < hour), default=None)
            carry = standing.carry if earlier is None else standing.open[earlier].carry
            opened = standing.open[hour] = OpenHour(GAP_INTERVALS * standing.instrument.interval_s * US_PER_S, carry)
        return opened

    def _take_temperature(self, state: DiagnosisState, channel: str, reading: Reading, hour: int) -> None:
        for fed in self._thermometers[channel]:
            standing = state.standings.get(fed)
            if standing is not None and hour > state.sources[standing.instrument.source].closed:
                assert reading.sample.value is not None
                self._opened(standing, hour).take_temperature(reading.sample.value)

    def _close(self, state: DiagnosisState, source: SourceStanding, last: int, found: Found) -> None:
        """Close all hours of a source up to ``last``, one after the other."""
        channels = self._sources[source.name]
        _close_air(state, last)
        waiting = sorted({h for channel in channels for h in state.standings[channel].open if h <= last})
        for hour in waiting:
            for channel in channels:
                self._push(state, state.standings[channel], hour)
            source.closed = hour
            self._judge(state, source, hour, found)
        source.closed = last
        state.changed.add(f"source/{source.name}")

    def _push(self, state: DiagnosisState, standing: Standing, hour: int) -> None:
        opened = standing.open.pop(hour, None)
        if opened is None:
            return
        closed = opened.close()
        standing.carry = opened.carry
        standing.hours.push(hour, closed)
        if opened.dips:
            standing.dips.add(opened.dips)
        state.unsaved_hours.append((hour, standing.instrument.channel, closed))
        state.changed.add(standing.instrument.channel)

    def _judge(self, state: DiagnosisState, source: SourceStanding, hour: int, found: Found) -> None:
        standings = tuple(state.standings[channel] for channel in self._sources[source.name])
        read = (one for one in standings if one.hours.end == hour + 1 and hour >= one.since)
        looks = [self._look(state, one, hour) for one in read]
        now_us = (hour + 1) * HOUR_US
        for look in looks:
            falls.watch(look)
        for look in looks:
            found.events.extend(wetting.watch(look))
        for number, look in enumerate(looks):
            for detector, every_h in WATCHES:
                if every_h == 1 or (hour + number) % every_h == 0:
                    for verdict in detector(look):
                        self._settle(state, look.instrument.subject, verdict, now_us, found)
        self._judge_source(state, SourceLook(state, source, standings, hour), found)
        for look in looks:
            ceiling.watch(look)

    def _judge_source(self, state: DiagnosisState, look: SourceLook, found: Found) -> None:
        for watch in SOURCE_WATCHES:
            if look.hour % watch.every_h == 0:
                for verdict in watch.detector(look):
                    self._settle(state, look.subject, verdict, look.now_us, found)

    def _look(self, state: DiagnosisState, standing: Standing, hour: int) -> Look:
        return Look(state, standing, hour, state.neighbours[standing.instrument.channel], standing.hours.newest())

    def neighbours(self, state: DiagnosisState, of: Instrument) -> Neighbours:
        """Whose readings tell something about a tensiometer."""
        others = [s for channel, s in state.standings.items() if channel != of.channel]
        zone = [s for s in others if s.instrument.place.zone == of.place.zone]
        station = [s for s in zone if s.instrument.place.station == of.place.station]
        station.sort(key=lambda s: abs(s.instrument.place.depth_m - of.place.depth_m))
        elsewhere = (s for s in zone if s.instrument.place.station != of.place.station)
        level = [s for s in elsewhere if abs(s.instrument.place.depth_m - of.place.depth_m) <= SAME_DEPTH_M]
        source = [s for s in others if s.instrument.source == of.source]
        return Neighbours(tuple(level), tuple(station), tuple(zone), tuple(source))

    def _settle(self, state: DiagnosisState, subject: str, verdict: Verdict, now_us: int, found: Found) -> None:
        match verdict:
            case Event():
                found.events.append(verdict)
            case Over():
                key = FindingKey(verdict.kind, subject)
                if key in state.findings:
                    self._end(state, key, verdict.at_us, End.RECOVERED, found)
            case Case():
                self._open(state, FindingKey(verdict.kind, subject), verdict, now_us, found)

    def _open(self, state: DiagnosisState, key: FindingKey, case: Case, now_us: int, found: Found) -> None:
        is_open = key in state.findings
        if (is_open and not case.is_repeated) or case.start_us <= state.dismissed.get(key, -1):
            return
        stronger = YIELDS_TO.get(key.kind, frozenset()) - case.refutes - case.beside
        if any(FindingKey(kind, key.subject) in state.findings for kind in stronger):
            return
        if is_open:
            self._end(state, key, case.start_us, End.REPEATED, found)
        start_us = case.start_us
        for weaker in _weaker(state, key, case):
            earlier_us = state.findings[weaker].start_us
            start_us = min(start_us, earlier_us) if case.start_us - earlier_us <= ONE_STORY_US else start_us
            self._end(state, weaker, earlier_us, End.REFINED, found)
        finding = Finding(key, start_us, now_us, case.confidence, case.facts, others=case.others)
        state.findings[key] = finding
        found.findings.append(finding)

    def _end(self, state: DiagnosisState, key: FindingKey, at_us: int, end: End, found: Found) -> None:
        found.findings.append(replace(state.findings.end(key), ended_us=at_us, end=end))


def taken_us(state: DiagnosisState, reading: Reading) -> int | None:
    """When a reading was taken, as far as the clock of its source is known; ``None``: nobody knows."""
    return device_clock.taken_us(reading, state.sources.get(reading.channel.partition("/")[0]))


def _weaker(state: DiagnosisState, key: FindingKey, case: Case) -> list[FindingKey]:
    """Open findings that a case explains."""
    kinds = sorted(SUPERSEDES.get(key.kind, frozenset()) | case.refutes)
    keys = [FindingKey(kind, key.subject) for kind in kinds]
    return [one for one in keys if one in state.findings and not _goes_on(state.findings[one], case)]


def _goes_on(finding: Finding, case: Case) -> bool:
    is_another_story = case.start_us - finding.start_us > ONE_STORY_US
    return is_another_story and finding.key.kind in LASTING - case.refutes


def _learn_anew(state: DiagnosisState, standing: Standing, from_us: int) -> None:
    """Let nothing count that was read before a time."""
    standing.since = max(standing.since, hour_of(from_us - 1) + 1)
    standing.notes.clear()
    standing.falls = [fall for fall in standing.falls if fall.begin >= standing.since]
    standing.dips.forget_before(from_us)
    if standing.ceiling_hour < standing.since:
        standing.ceiling_kpa = float("nan")
    state.changed.add(standing.instrument.channel)


def _note_head(state: DiagnosisState, standing: Standing) -> None:
    """Another height of the water column shifts all readings: that is no shift of the instrument."""
    head_kpa = standing.instrument.head_kpa
    if standing.head_kpa is not None and standing.head_kpa != head_kpa and standing.newest_us:
        _learn_anew(state, standing, standing.newest_us + 1)
    standing.head_kpa = head_kpa


def _note_calibration(state: DiagnosisState, standing: Standing, reading: Reading, time_us: int) -> None:
    """Another calibration shifts readings too."""
    if standing.calibration is not None:
        _learn_anew(state, standing, time_us + 1)
    standing.calibration = reading.calibration


def note_arrival(source: SourceStanding, reading: Reading) -> None:
    """Count what arrives, by the daemon's clock: the measure of a device's clock."""
    received_us = reading.received_us
    hour = received_us // HOUR_US
    if not source.arrivals or source.arrivals[-1].hour != hour:
        source.arrivals = [*source.arrivals[-KEPT_ARRIVALS + 1 :], Arrivals(hour)]
    arrivals = source.arrivals[-1]
    lag_s = (received_us - reading.sample.time_us) / US_PER_S
    arrivals.count += 1
    if lag_s < arrivals.least_lag_s:
        arrivals.least_lag_s = lag_s
    if lag_s > arrivals.most_lag_s:
        arrivals.most_lag_s = lag_s
    if received_us != arrivals.newest_us:
        arrivals.batches += 1
        arrivals.newest_us = received_us


def _take_air(state: DiagnosisState, reading: Reading, hour: int) -> None:
    value = reading.sample.value
    assert value is not None
    total, count = state.air_open.get(hour, (0.0, 0))
    state.air_open[hour] = (total + (value / 10.0 if reading.sample.unit.value == "hPa" else value), count + 1)


def _close_air(state: DiagnosisState, last: int) -> None:
    for hour in sorted(hour for hour in state.air_open if hour <= last):
        total, count = state.air_open.pop(hour)
        if hour >= state.air.end:
            summed = Hour(mean_kpa=total / count, good=float(count))
            state.air.push(hour, summed)
            state.unsaved_hours.append((hour, AIR, summed))


__all__ = ["AIR", "Diagnosis", "Found", "Hours", "taken_us"]
