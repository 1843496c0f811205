"""The towel test: a wet cup in a dry towel must build up tension."""

from statistics import median

from parchd.workbench import proof_words as words
from parchd.workbench.chart import Chart, Level, Point, Span, thinned
from parchd.workbench.live_steady import trend
from parchd.workbench.proof import Curve, Fact, Moment, Outcome, Proof, Result, Subject, Terms, smoothed, time_text
from parchd.workbench.proof_chart import time_chart

FLAT_KPA = 2.0
"""A curve that rose by less did not rise."""
LOST_KPA, LOST_SHARE = 3.0, 0.3
"""Air got in when more than both is lost again."""
_SOON_S, _RECENT = 600.0, 0.2


class TowelTrial:
    """Passes when the tension reaches the target in time; goes on until it is good."""

    def __init__(self, subject: Subject, terms: Terms) -> None:
        self._subject = subject
        self._terms = terms
        self._curve = Curve()
        self._shown = Curve()
        self._passed_s: float | None = None
        self._good_s: float | None = None
        self._stopped = False

    @property
    def over(self) -> bool:
        return self._stopped or self._good_s is not None or self._curve.last_s >= self._terms.towel_s

    def take(self, moment: Moment) -> None:
        self._curve.take(moment.t_s, moment.tension_kpa, moment.trouble)
        self._shown.take(moment.t_s, moment.vacuum_kpa, moment.trouble)
        if moment.tension_kpa is None or len(self._curve.points) < 3:
            return
        if self._passed_s is None and self._curve.level >= self._terms.target_kpa:
            self._passed_s = moment.t_s
        if self._good_s is None and self._curve.level >= self._good_kpa:
            self._good_s = moment.t_s

    def enter(self) -> None:
        self.stop()

    def stop(self) -> None:
        self._stopped = True

    def chart(self) -> Chart:
        terms = self._terms
        levels = [Level(terms.target_kpa, f"{terms.target_kpa:g} needed")]
        if self._good_kpa > terms.target_kpa:
            levels.append(Level(self._good_kpa, f"{self._good_kpa:g} good"))
        title, top_kpa = f"{self._subject.name}: towel test", self._good_kpa * 1.1
        return time_chart(title, "tension at the cup, kPa", Span(0.0, top_kpa), self._curve.points, levels)

    def status(self) -> str:
        if not self._curve.points:
            return self._curve.worst_trouble or "waiting for the first value"
        rate = self._rate_kpa_per_min
        parts = [f"{time_text(self._curve.last_s)}: {self._curve.level:z.1f} kPa", f"{words.rate(rate)}"]
        goal_kpa = self._terms.target_kpa if self._passed_s is None else self._good_kpa
        if rate > 0.05 and self._curve.level < goal_kpa:
            left_s = (goal_kpa - self._curve.level) / rate * 60.0
            if left_s < 3.0 * self._terms.towel_s:
                parts.append(f"{goal_kpa:g} kPa in about {time_text(max(1.0, left_s))}")
        return ", ".join(parts)

    def hint(self) -> str:
        if self._passed_s is not None:
            return f"PASSED {self._terms.target_kpa:g} kPa. It goes on to {self._good_kpa:g}, good; Enter ends it now."
        soon_s = min(_SOON_S, self._terms.towel_s / 4.0)
        if self._curve.last_s > soon_s and self._rise_kpa < 1.0:
            return "It hardly rises: bubbles in the tube? Cap tight, cup wet, towel dry? Enter ends the test."
        return f"Limit {time_text(self._terms.towel_s)}. Enter ends the test."

    def result(self) -> Result:
        outcome, headline, meaning, advice = self._judged()
        return Result(
            Proof.TOWEL, outcome, headline, tuple(self._facts()), meaning, advice, self.chart(),
            thinned(self._curve.points, words.RECORDED),
        )  # fmt: skip

    def _judged(self) -> tuple[Outcome, str, tuple[str, ...], tuple[str, ...]]:
        target, terms = f"{self._terms.target_kpa:g} kPa", self._terms
        if len(self._curve.points) < 3:
            return words.no_values(self._curve.worst_trouble)
        if self._good_s is not None:
            headline = f"{self._good_kpa:g} kPa, good, after {time_text(self._good_s)}"
            return Outcome.PASSED, headline, (words.TOWEL_SOUND, words.NEXT_RETURN), ()
        if self._has_lost:
            outcome = Outcome.FAILED if self._passed_s is None else Outcome.DOUBTFUL
            headline = (
                f"{self._peak[1]:z.1f} kPa after {time_text(self._peak[0])}, then down to {self._curve.level:z.1f} kPa"
            )
            return outcome, headline, (words.TOWEL_LOST,), words.LEAK_ADVICE
        if self._passed_s is not None:
            headline = f"{target} after {time_text(self._passed_s)}, highest {self._peak[1]:z.1f} kPa"
            return Outcome.PASSED, headline, (words.TOWEL_ENOUGH, words.NEXT_RETURN), ()
        headline = f"{self._peak[1]:z.1f} of {target} in {time_text(self._curve.last_s)}"
        if self._stopped and self._curve.last_s < terms.towel_s:
            return Outcome.UNFINISHED, f"ended by hand: {headline}", (), ()
        return Outcome.FAILED, headline, *self._meaning()

    def _meaning(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Tell from the shape of a curve that did not get there what is wrong."""
        values = [y for _, y in self._curve.points]
        if self._curve.level < self._start_kpa - LOST_KPA and self._rise_kpa < FLAT_KPA:
            return (words.FALLS,), words.POLARITY_ADVICE
        if self._rise_kpa < FLAT_KPA:
            if len(values) > 10 and min(values) == max(values):
                return (words.STUCK,), words.WIRING_ADVICE
            vacuum_kpa = median(y for _, y in self._shown.points)
            feels_air = abs(vacuum_kpa) < 1.0 and abs(self._subject.head_kpa) > 2.0
            return (words.feels_air(vacuum_kpa, self._subject.head_kpa) if feels_air else words.TOWEL_FLAT,), (
                words.NO_SEAL_ADVICE
            )
        if self._rate_kpa_per_min < 0.1 * self._rise_kpa / max(1e-9, self._curve.last_s / 60.0):
            return (words.TOWEL_LEVELS_OFF,), words.LEAK_ADVICE
        return (words.TOWEL_SLOW,), words.SLOW_ADVICE

    def _facts(self) -> list[Fact]:
        if not self._curve.points:
            return []
        facts = [Fact("highest_kpa", self._peak[1], f"highest tension {self._peak[1]:z.1f} kPa")]
        for key, at_s, kpa in (
            ("target_after_s", self._passed_s, self._terms.target_kpa), ("good_after_s", self._good_s, self._good_kpa)
        ):  # fmt: skip
            if at_s is not None:
                facts.append(Fact(key, at_s, f"{kpa:g} kPa after {time_text(at_s)}"))
        return [*facts, Fact("duration_s", self._curve.last_s, f"test ran for {time_text(self._curve.last_s)}")]

    @property
    def _good_kpa(self) -> float:
        return max(self._terms.good_kpa, self._terms.target_kpa)

    @property
    def _start_kpa(self) -> float:
        return median(y for _, y in self._curve.points[:3])

    @property
    def _peak(self) -> Point:
        return max(smoothed(self._curve.points), key=lambda point: point[1])

    @property
    def _rise_kpa(self) -> float:
        return self._peak[1] - self._start_kpa if self._curve.points else 0.0

    @property
    def _has_lost(self) -> bool:
        lost_kpa = self._peak[1] - self._curve.level
        return self._rise_kpa >= FLAT_KPA and lost_kpa > max(LOST_KPA, LOST_SHARE * self._rise_kpa)

    @property
    def _rate_kpa_per_min(self) -> float:
        """How it moves now: over the last fifth of the time, and ten samples at least."""
        points = self._curve.points
        recent = self._curve.since(self._curve.last_s * (1.0 - _RECENT))
        window = recent if len(recent) >= 10 else points[-10:]
        return trend(window).slope * 60.0 if len(window) > 1 else 0.0
