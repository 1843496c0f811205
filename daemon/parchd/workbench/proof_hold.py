"""The vacuum-hold test: what a hand pump has pulled must stay."""

from statistics import median

from parchd.workbench import proof_words as words
from parchd.workbench.chart import Chart, Level, Point, Span, thinned
from parchd.workbench.live_steady import trend
from parchd.workbench.proof import Curve, Fact, Moment, Outcome, Proof, Result, Subject, Terms, time_text
from parchd.workbench.proof_chart import time_chart

LEAK_FACTOR = 2.5
"""Between what is allowed and so many times as much is doubtful: 2 to 5 kPa in five minutes (from memory)."""
FIVE_MIN = 5.0
_QUIET_S, _QUIET_SHARE, _QUIET_SAMPLES, _STILL_KPA = 10.0, 0.05, 4, 0.3
_SETTLING, _SETTLING_S = 0.1, 30.0
_GONE = 0.5


class HoldTrial:
    """Waits for the vacuum of the pump, then watches it; the leak rate is the slope that wild values do not move."""

    def __init__(self, subject: Subject, terms: Terms) -> None:
        self._subject = subject
        self._terms = terms
        self._least_kpa, self._most_kpa = words.hold_range_kpa(subject)
        self._quiet_s = min(_QUIET_S, _QUIET_SHARE * terms.hold_s)
        self._pumped = Curve()
        self._held = Curve()
        self._began_s: float | None = None
        self._stopped = False

    @property
    def over(self) -> bool:
        return self._stopped or self._held.last_s >= self._terms.hold_s or self._is_gone

    def take(self, moment: Moment) -> None:
        if self._began_s is not None:
            self._held.take(moment.t_s - self._began_s, moment.vacuum_kpa, moment.trouble)
            return
        self._pumped.take(moment.t_s, moment.vacuum_kpa, moment.trouble)
        if self._pump_rests:
            self._begin()

    def enter(self) -> None:
        if self._began_s is None and self._pumped.points:
            self._begin()
        else:
            self.stop()

    def stop(self) -> None:
        self._stopped = True

    def chart(self) -> Chart:
        low, high = Level(self._least_kpa, f"{self._least_kpa:.0f} to begin"), Level(self._most_kpa, "enough")
        if self._began_s is None:
            title, span = f"{self._subject.name}: pull a vacuum", Span(0.0, self._most_kpa * 1.05)
            return time_chart(title, "vacuum at the transducer, kPa", span, self._pumped.points, (low, high))
        points = self._held.points
        level = self._start_kpa - self._terms.leak_kpa
        span = Span(level - self._terms.leak_kpa, self._start_kpa + self._terms.leak_kpa / 2.0)
        floor = Level(level, f"{self._terms.leak_kpa:g} kPa lost")
        title = f"{self._subject.name}: vacuum-hold test"
        return time_chart(title, "vacuum at the transducer, kPa", span, points, (floor,), self._line)

    def status(self) -> str:
        curve = self._pumped if self._began_s is None else self._held
        if not curve.points:
            return curve.worst_trouble or "waiting for the first value"
        if self._began_s is None:
            return f"{curve.level:z.1f} kPa of vacuum"
        loss = self._start_kpa - curve.level
        return f"{time_text(curve.last_s)} of {time_text(self._terms.hold_s)}: {curve.level:z.1f} kPa, {_lost(loss)}"

    def hint(self) -> str:
        if self._began_s is not None:
            return "Do not touch it. Enter ends the test."
        return f"Pull {self._least_kpa:.0f} to {self._most_kpa:.0f} kPa and close the valve. Enter begins the test now."

    def result(self) -> Result:
        outcome, headline, meaning, advice = self._judged()
        return Result(
            Proof.HOLD, outcome, headline, tuple(self._facts()), meaning, advice, self.chart(),
            thinned(self._held.points, words.RECORDED),
        )  # fmt: skip

    def _judged(self) -> words.Judged:
        if not self._pumped.points:
            return words.no_values(self._pumped.worst_trouble)
        if self._began_s is None:
            highest = max(y for _, y in self._pumped.points)
            return (
                Outcome.UNFINISHED,
                f"not begun: the highest vacuum was {highest:.1f} kPa",
                (words.HOLD_WEAK,),
                words.HOLD_ADVICE,
            )
        if len(self._held.points) < 3:
            return words.no_values(self._held.worst_trouble)
        verb = "loses" if self._loss_kpa > -0.05 else "gains"
        headline = f"it {verb} {abs(self._loss_kpa):.1f} kPa in 5 minutes, from {self._start_kpa:.1f} kPa"
        if self._is_gone:
            gone = f"{self._start_kpa:.1f} kPa down to {self._held.level:z.1f} in {time_text(self._held.last_s)}"
            return Outcome.FAILED, gone, (words.HOLD_OPEN,), words.HOLD_ADVICE
        if self._held.last_s < self._terms.hold_s / 2.0:
            return Outcome.UNFINISHED, f"ended by hand after {time_text(self._held.last_s)}: {headline}", (), ()
        return self._by_loss(headline)

    def _by_loss(self, headline: str) -> words.Judged:
        allowed = self._terms.leak_kpa
        if self._loss_kpa > LEAK_FACTOR * allowed:
            return Outcome.FAILED, headline, (words.HOLD_LEAK,), words.HOLD_ADVICE
        if self._loss_kpa > allowed:
            return Outcome.DOUBTFUL, headline, (words.HOLD_DOUBTFUL,), words.HOLD_ADVICE
        if self._loss_kpa < -allowed:
            return Outcome.DOUBTFUL, headline, (words.HOLD_RISES,), words.HOLD_RISES_ADVICE
        if self._start_kpa < self._least_kpa - 1.0:
            return Outcome.DOUBTFUL, headline, (words.HOLD_LOW,), ()
        limits = f"Allowed are {allowed:g} kPa; {LEAK_FACTOR * allowed:g} would be a leak (both from common practice*)."
        return Outcome.PASSED, headline, (words.HOLD_TIGHT, limits), ()

    def _facts(self) -> list[Fact]:
        if self._began_s is None or len(self._held.points) < 3:
            return []
        rate = -self._slope_kpa_per_min
        return [
            Fact("start_kpa", self._start_kpa, f"vacuum at the start {self._start_kpa:.1f} kPa"),
            Fact("end_kpa", self._held.level, f"at the end {self._held.level:z.1f} kPa"),
            Fact("leak_kpa_per_min", rate, f"leak rate {rate:z.2f} kPa/min"),
            Fact("duration_s", self._held.last_s, f"watched for {time_text(self._held.last_s)}"),
        ]

    def _begin(self) -> None:
        self._began_s = self._pumped.last_s

    @property
    def _pump_rests(self) -> bool:
        """Whether the vacuum is there and has not risen for a while."""
        points = self._pumped.points
        recent = self._pumped.since(self._pumped.last_s - self._quiet_s)
        window = recent if len(recent) > _QUIET_SAMPLES else points[-_QUIET_SAMPLES - 1 :]
        if len(window) <= _QUIET_SAMPLES or self._pumped.last_s - window[0][0] < self._quiet_s * 0.9:
            return False
        rose_kpa = self._pumped.level - median(y for _, y in window[:3])
        return self._pumped.level >= self._least_kpa and rose_kpa <= _STILL_KPA

    @property
    def _start_kpa(self) -> float:
        values = [y for _, y in self._held.points[:3]] or [y for _, y in self._pumped.points[-3:]]
        return median(values)

    @property
    def _is_gone(self) -> bool:
        points = self._held.points
        return len(points) >= 3 and self._held.level < _GONE * self._start_kpa

    @property
    def _settled(self) -> list[Point]:
        """The curve without its first part, in which hose and water still give way."""
        skipped_s = min(_SETTLING * self._held.last_s, _SETTLING_S)
        settled = self._held.since(skipped_s)
        return settled if len(settled) > 2 else self._held.points

    @property
    def _slope_kpa_per_min(self) -> float:
        return trend(self._settled).slope * 60.0

    @property
    def _loss_kpa(self) -> float:
        return -self._slope_kpa_per_min * FIVE_MIN

    @property
    def _line(self) -> list[Point]:
        """The straight line behind the leak rate."""
        settled = self._settled
        if len(settled) < 3 or settled[0][0] == settled[-1][0]:
            return []
        line = trend(settled)
        first_s, last_s = settled[0][0], settled[-1][0]
        return [(first_s, line.level - line.slope * (last_s - first_s)), (last_s, line.level)]


def _lost(kpa: float) -> str:
    """
    >>> _lost(0.84), _lost(-3.0), _lost(-0.01)
    ('0.8 kPa lost', '3.0 kPa gained', '0.0 kPa lost')
    """
    return f"{-kpa:.1f} kPa gained" if kpa <= -0.05 else f"{kpa:z.1f} kPa lost"
