"""A calibration while its points are taken."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from statistics import median

from parchd.physics.calibration import Direction, Fit, Points, directions, fit
from parchd.physics.reference import from_gauge_kpa
from parchd.pipeline.setup import TensiometerSetup
from parchd.workbench.chart import Point
from parchd.workbench.live import LiveSample, Stopwatch
from parchd.workbench.live_steady import LEAST_SAMPLES, Limits, Stand, Standing, stand


@dataclass(frozen=True, slots=True)
class Reading:
    """What the transducer gave while the pressure stood still.

    Args:
        signal: median, in the transducer's unit.
        supply_v, air_kpa: supply and pressure of the air meanwhile.
        spread_kpa: how single values scattered.
        steady: whether it stood still, or was taken as it was.
        moved_kpa: how far it moved before.
    """

    signal: float
    supply_v: float
    air_kpa: float
    spread_kpa: float = 0.0
    steady: bool = True
    moved_kpa: float = 0.0


@dataclass(frozen=True, slots=True)
class Taken:
    """One point: what was set, and what the transducer gave."""

    vacuum_kpa: float
    reading: Reading


class Capture:
    """Gathers samples until the signal stands still."""

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._watch = Stopwatch()
        self._points: list[Point] = []
        self._samples: list[LiveSample] = []
        self.trouble = ""
        """Why the last sample has no value; empty if it has."""

    def take(self, sample: LiveSample) -> None:
        self.trouble = sample.trouble
        t_s = self._watch.at_s(sample.time_us)
        if t_s is not None and sample.signal is not None and sample.indicated_kpa is not None:
            self._points.append((t_s, sample.indicated_kpa))
            self._samples.append(sample)

    @property
    def count(self) -> int:
        return len(self._samples)

    @property
    def last(self) -> LiveSample:
        return self._samples[-1]

    def stand(self) -> Stand:
        return stand(self._points, self._limits)

    def reading(self) -> Reading:
        """Sum up the last stretch: the steady one, or the newest samples."""
        now = self.stand()
        recent = [
            sample for (t_s, _), sample in zip(self._points, self._samples, strict=True) if t_s >= now.since_s - 1e-9
        ]
        steady = now.standing is Standing.STEADY
        chosen = recent if steady else self._samples[-LEAST_SAMPLES:]
        first = median(kpa for _, kpa in self._points[:3])
        return Reading(
            signal=median(s.signal for s in chosen if s.signal is not None),
            supply_v=median(s.supply_v for s in chosen),
            air_kpa=median(s.air_kpa for s in chosen),
            spread_kpa=now.spread_kpa,
            steady=steady,
            moved_kpa=abs(median(kpa for _, kpa in self._points[-3:]) - first),
        )


@dataclass(slots=True)
class Session:
    """Points of one calibration, in the order they were taken.

    Args:
        setup: the tensiometer's.
        degree: 1 for a line, 2 for a curve.
        left_out: positions of points that are not used.
    """

    setup: TensiometerSetup
    taken: list[Taken] = field(default_factory=list)
    degree: int = 1
    left_out: set[int] = field(default_factory=set)

    def add(self, point: Taken) -> None:
        self.taken.append(point)

    def undo(self) -> Taken | None:
        """Take back the last point; ``None``: there is none."""
        if not self.taken:
            return None
        self.left_out.discard(len(self.taken) - 1)
        return self.taken.pop()

    @property
    def used(self) -> list[int]:
        return [index for index in range(len(self.taken)) if index not in self.left_out]

    @property
    def runs(self) -> tuple[Direction, ...]:
        """Which points belong to a run up, which to one down."""
        return directions([0.0 - point.vacuum_kpa for point in self.taken])

    @property
    def supply_v(self) -> float:
        """The supply that all signals are brought to; the nominal one where none was measured."""
        return median(point.reading.supply_v for point in self.taken)

    @property
    def air_kpa(self) -> float:
        return median(point.reading.air_kpa for point in self.taken)

    @property
    def file_points(self) -> tuple[tuple[float, float], ...]:
        """Signal and vacuum of each point, as if supply and air had not changed meanwhile."""
        return tuple((self._signal(point), self._vacuum_kpa(point)) for point in self.taken)

    @property
    def points(self) -> Points:
        """Indicated pressure and pressure of the reference, both against the transducer's own reference."""
        return tuple((self._indicated_kpa(signal), self.own_kpa(vacuum_kpa)) for signal, vacuum_kpa in self.file_points)

    def shown_kpa(self, index: int) -> float:
        """The vacuum that the data sheet's line makes of a point."""
        return self.vacuum_kpa(self.points[index][0])

    def own_kpa(self, vacuum_kpa: float) -> float:
        """Give the pressure against the transducer's own reference at a vacuum."""
        transducer = self.setup.transducer
        return from_gauge_kpa(0.0 - vacuum_kpa, transducer.reference, self.air_kpa, self.setup.sealed_at_kpa)

    def vacuum_kpa(self, own_kpa: float) -> float:
        """The inverse of `own_kpa`."""
        return self.own_kpa(0.0) - own_kpa

    def fitted(self, degree: int | None = None, without: Sequence[int] = ()) -> Fit:
        """Fit the points that are used, but those of ``without``.

        Raises:
            ValueError: see `parchd.physics.calibration.fit`.
        """
        left_out = sorted({*self.left_out, *without})
        return fit(self.points, degree or self.degree, self.runs, left_out)

    def at_degree(self, degree: int) -> "Session":
        return replace(self, degree=degree)

    def _signal(self, point: Taken) -> float:
        if not self.setup.transducer.needs_supply:
            return point.reading.signal
        return point.reading.signal * self.supply_v / point.reading.supply_v

    def _vacuum_kpa(self, point: Taken) -> float:
        if not self.setup.transducer.reference.needs_air:
            return point.vacuum_kpa
        return point.vacuum_kpa - (point.reading.air_kpa - self.air_kpa)

    def _indicated_kpa(self, signal: float) -> float:
        return float(self.setup.transducer.indicated_kpa(signal, self.supply_v))
