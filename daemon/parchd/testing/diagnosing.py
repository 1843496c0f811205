"""A diagnosis that a test feeds with curves: hours of tension in, findings and events out.

>>> def drying(hours: float) -> float:
...     return 10.0 + hours / 24.0
>>> farm = Watched(instrument("north-20"))
>>> farm.run(2 * 24, {"bus1/north-20": drying}).opened()
[]
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from random import Random
from typing import Any, Self

from parchd.clock import US_PER_S
from parchd.contract import Cause, Place, Reading, Sample, TimeSource, Unit
from parchd.diagnosis.diagnosis import Diagnosis
from parchd.diagnosis.findings import Event, Finding, Outcome
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.diagnosis.setup import DiagnosisSetup, Instrument
from parchd.diagnosis.standing import DiagnosisState, Standing
from parchd.physics.causes import flag_of

BEGIN_US = 494_448 * HOUR_US
"""Midnight UTC at the beginning of a day in May 2026."""

Curve = Callable[[float], float | Cause | Reading | None]
"""From hours since the beginning to a tension in kPa, to what is wrong with a sample, to a whole reading (its channel
and times are put in), or to no sample at all (``None``)."""


def instrument(name: str, **changes: Any) -> Instrument:
    """One tensiometer; its zone and its depth are parts of its name, ``zone-depth_cm``.

    It stands at ``post 1``, is read every 15 min on channel ``bus1/NAME``, and is corrected for 2 kPa of water.

    Args:
        name: of the tensiometer.
        changes: fields of `Instrument`; also ``station``, ``zone``, ``depth_m`` and ``source``.
    """
    zone, _, depth_cm = name.partition("-")
    place = Place(
        "Quillmere Orchard",
        changes.pop("zone", zone),
        changes.pop("station", "post 1"),
        name,
        changes.pop("depth_m", int(depth_cm or 30) / 100.0),
    )
    channel = f"{changes.pop('source', 'bus1')}/{name}"
    return replace(Instrument(place, channel, 900.0, head_kpa=2.0, limit_kpa=85.0), **changes)


def averaged(curve: Callable[[float], float], over_s: float = 900.0, parts: int = 15) -> Callable[[float], float]:
    """Take the mean of a curve over the time before each sample, as a logger of averages does."""
    back_h = [over_s / 3600.0 * part / parts for part in range(parts)]
    return lambda hours: sum(curve(hours - back) for back in back_h) / parts


def noisy(curve: Callable[[float], float], sd_kpa: float, seed: int) -> Callable[[float], float]:
    """Add noise to a curve; the same time has the same noise whenever it is asked for."""
    return lambda hours: curve(hours) + chance(seed, hours).gauss(0.0, sd_kpa)


def chance(seed: int, hours: float) -> Random:
    """Random numbers of one moment."""
    return Random(seed * 1_000_003 + round(hours * 3600.0))  # noqa: S311 -- noise of a test


def sent(value: float, tension_kpa: float | None = None, cause: Cause = Cause.NONE) -> Reading:
    """A reading whose sample is another number than its tension."""
    sample = Sample("", 0, value, Unit.V)
    return Reading(sample, "", 0, None, tension_kpa, flag_of(cause), cause, late=False)


class Watched:
    """A site under diagnosis. `run` can be called again: time goes on.

    Args:
        instruments: the tensiometers.
        barometer_channel: see `DiagnosisSetup`.
        units: of channels that are no tensiometers.
        lag_s: from measurement to arrival, by hours since the beginning; one for all sources.
        time_source: who says the time of the samples.
    """

    def __init__(
        self,
        *instruments: Instrument,
        barometer_channel: str | None = None,
        units: Mapping[str, Unit] | None = None,
        lag_s: Callable[[float], float] = lambda _: 1.0,
        time_source: TimeSource = TimeSource.DEVICE,
    ) -> None:
        self.setup = DiagnosisSetup(instruments, barometer_channel, "Europe/Berlin")
        self.diagnosis = Diagnosis(self.setup)
        self.state = self.diagnosis.begin(DiagnosisState())
        self.findings: list[Finding] = []
        self.events: list[Event] = []
        self.now_us = BEGIN_US
        self._units = dict(units or {})
        self._lag_s = lag_s
        self._time_source = time_source
        self._interval_s = {one.channel: one.interval_s for one in instruments}

    def run(self, hours: float, curves: Mapping[str, Curve], interval_s: float = 900.0) -> Self:
        """Go on for so many hours.

        Args:
            hours: how long.
            curves: by channel.
            interval_s: of channels that are no tensiometers.
        """
        end_us = self.now_us + round(hours * HOUR_US)
        steps = {channel: round(self._interval_s.get(channel, interval_s) * US_PER_S) for channel in curves}
        due = {time_us for step in set(steps.values()) for time_us in range(self.now_us, end_us, step)}
        for time_us in sorted(due):
            now = ((channel, curves[channel]) for channel, step in steps.items() if (time_us - self.now_us) % step == 0)
            self.take(self._readings(time_us, now))
        self.now_us = end_us
        return self

    def take(self, readings: Iterable[Reading]) -> None:
        """Give readings to the diagnosis and keep what it says."""
        self.keep(self.diagnosis.take(self.state, readings))

    def keep(self, outcome: Outcome) -> None:
        """Keep what a step has brought."""
        self.findings += outcome.findings
        self.events += outcome.events

    def listen(self, heard_us: Mapping[str, int], since_us: int = 0, now_us: int | None = None) -> None:
        """Ask who is silent, by the daemon's clock."""
        now_us = self.now_us if now_us is None else now_us
        self.keep(self.diagnosis.listen(self.state, heard_us, since_us, now_us))

    def opened(self, *kinds: FindingKind) -> list[tuple[FindingKind, str]]:
        """Kind and name of everything that was found, in order; of some kinds only if any are named."""
        return [(one.key.kind, one.key.name) for one in self.begun(*kinds)]

    def begun(self, *kinds: FindingKind) -> list[Finding]:
        """The findings as they were when they were found."""
        return [one for one in self.findings if one.is_open and (not kinds or one.key.kind in kinds)]

    def ended(self, *kinds: FindingKind) -> list[Finding]:
        """The findings that came to an end."""
        return [one for one in self.findings if not one.is_open and (not kinds or one.key.kind in kinds)]

    def still_open(self) -> set[FindingKind]:
        """Kinds that hold now."""
        return {key.kind for key in self.state.findings}

    def happened(self, kind: EventKind) -> list[Event]:
        """Events of a kind, each as it was last told."""
        newest = {(one.subject, one.start_us): one for one in self.events if one.kind is kind}
        return list(newest.values())

    def standing(self, channel: str) -> Standing:
        return self.state.standings[channel]

    def _readings(self, time_us: int, due: Iterable[tuple[str, Curve]]) -> Iterator[Reading]:
        hours = (time_us - BEGIN_US) / HOUR_US
        received_us = time_us + round(self._lag_s(hours) * US_PER_S)
        for channel, curve in due:
            made = curve(hours)
            if isinstance(made, Reading):
                sample = replace(made.sample, channel=channel.partition("/")[2], time_us=time_us)
                yield replace(made, sample=sample, channel=channel, received_us=received_us)
            elif made is not None:
                yield self._reading(channel, time_us, received_us, made)

    def _reading(self, channel: str, time_us: int, received_us: int, made: float | Cause) -> Reading:
        cause = made if isinstance(made, Cause) else Cause.NONE
        value = float(int(cause) * 1000) if isinstance(made, Cause) else made
        unit = self._units.get(channel, Unit.KPA)
        sample = Sample(channel.partition("/")[2], time_us, value, unit, self._time_source)
        tension_kpa = value if cause is Cause.NONE and channel in self._interval_s else None
        gauge_kpa = None if tension_kpa is None else -tension_kpa
        return Reading(sample, channel, received_us, gauge_kpa, tension_kpa, flag_of(cause), cause, late=False)


def hours_us(hours: float) -> int:
    """Time so many hours after the beginning, microseconds UTC."""
    return BEGIN_US + round(hours * HOUR_US)
