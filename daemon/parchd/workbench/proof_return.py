"""The return-to-water test: out of the towel into water, and how the instrument comes to rest there."""

from parchd.workbench import proof_words as words
from parchd.workbench.chart import Chart, Level, Point, Span, thinned
from parchd.workbench.live_steady import Limits, Standing, stand, trend
from parchd.workbench.proof import Curve, Fact, Moment, Outcome, Proof, Result, Subject, Terms, smoothed, time_text
from parchd.workbench.proof_chart import time_chart
from parchd.workbench.proof_fit import LEAST_POINTS, FirstOrder, first_order

LEAST_FALL_KPA = 5.0
"""Less than this is too little to tell a time constant from."""
NEAR_KPA = 1.0
FAR_OFF_KPA = 5.0
_BEGUN_KPA, _BEGUN_SHARE = 1.0, 0.15
_STILL_S, _STILL_SHARE = 10.0, 0.05
_LOOK_S, _LEFT_KPA = 1.0, 0.3


class ReturnTrial:
    """Waits for the fall, follows it to rest, and fits an exponential to it."""

    def __init__(self, subject: Subject, terms: Terms) -> None:
        self._subject = subject
        self._terms = terms
        self._curve = Curve()
        self._high_kpa = float("-inf")
        self._fell_s: float | None = None
        self._rests = False
        self._look_s = 0.0
        self._still = Limits(min(_STILL_S, _STILL_SHARE * terms.return_s), drift_kpa=0.1, spread_kpa=1.0)
        self._stopped = False

    @property
    def over(self) -> bool:
        waited_s = self._curve.last_s - (self._fell_s or 0.0)
        return self._stopped or self._rests or waited_s >= self._terms.return_s

    def take(self, moment: Moment) -> None:
        self._curve.take(moment.t_s, moment.tension_kpa, moment.trouble)
        if moment.tension_kpa is None or len(self._curve.points) < 3:
            return
        level = self._curve.level
        self._high_kpa = max(self._high_kpa, level)
        if self._fell_s is None and self._high_kpa - level > max(_BEGUN_KPA, _BEGUN_SHARE * self._high_kpa):
            self._fell_s = moment.t_s
        self._rests = self._has_come_to_rest()

    def enter(self) -> None:
        self.stop()

    def stop(self) -> None:
        self._stopped = True

    def chart(self) -> Chart:
        top_kpa = max(LEAST_FALL_KPA, self._high_kpa)
        fit, title = self._fit(), f"{self._subject.name}: return to water"
        fitted = [] if fit is None else [(t, fit.at(t)) for t, _ in thinned(self._fall, 100)]
        return time_chart(
            title, "tension at the cup, kPa", Span(0.0, top_kpa), self._curve.points, (Level(0.0, "rest"),), fitted
        )

    def status(self) -> str:
        if not self._curve.points:
            return self._curve.worst_trouble or "waiting for the first value"
        waits = self._fell_s is None and self._high_kpa >= LEAST_FALL_KPA
        stage = "waits for the fall" if waits else "comes to rest"
        return f"{time_text(self._curve.last_s)}: {self._curve.level:z.1f} kPa, {stage}"

    def hint(self) -> str:
        if self._fell_s is None and self._high_kpa >= LEAST_FALL_KPA:
            return "Stand the cup in water up to its middle now. Enter ends the test."
        return "It ends by itself when the value stands still. Enter ends it now."

    def result(self) -> Result:
        outcome, headline, meaning, advice = self._judged()
        return Result(
            Proof.RETURN, outcome, headline, tuple(self._facts()), meaning, advice, self.chart(),
            thinned(self._curve.points, words.RECORDED),
        )  # fmt: skip

    def _judged(self) -> words.Judged:
        if len(self._curve.points) < 3:
            return words.no_values(self._curve.worst_trouble)
        if self._fell_s is None and self._high_kpa >= LEAST_FALL_KPA:
            if self._stopped:
                return Outcome.UNFINISHED, "ended by hand before anything fell", (), ()
            headline = f"still {self._curve.level:.1f} kPa after {time_text(self._curve.last_s)}"
            return Outcome.FAILED, headline, (words.RETURN_NEVER,), words.SLOW_ADVICE
        if not self._rests and abs(self._rest_kpa) > FAR_OFF_KPA:
            outcome = Outcome.UNFINISHED if self._stopped else Outcome.FAILED
            return outcome, f"not at rest: {self._curve.level:z.1f} kPa", (words.RETURN_SLOW,), words.SLOW_ADVICE
        return self._by_speed_and_zero()

    def _by_speed_and_zero(self) -> words.Judged:
        slow = self._settle_s is not None and self._settle_s > self._terms.slow_s
        off = abs(self._rest_kpa) > self._terms.zero_kpa
        speed = [] if self._settle_s is None else [f"back within 1 kPa in {time_text(self._settle_s)}"]
        headline = ", ".join([*speed, f"zero off by {self._rest_kpa:+z.2f} kPa"])
        meaning = [words.NOTHING_TO_FALL if self._settle_s is None else words.RETURN_QUICK]
        advice: list[str] = []
        if slow:
            meaning = [words.RETURN_SLOW]
            advice += words.SLOW_ADVICE
        if (fit := self._fit()) is not None and not fit.resolved:
            meaning.append(words.COARSE)
        meaning.append(self._zero_words() if off else words.ZERO_RIGHT)
        if off:
            advice.append(words.REZERO_ADVICE.format(name=self._subject.name))
        good = self._settle_s is not None and not slow and not off
        return Outcome.PASSED if good else Outcome.DOUBTFUL, headline, tuple(meaning), tuple(advice)

    def _zero_words(self) -> str:
        head_kpa = self._subject.head_kpa
        shown_kpa = self._rest_kpa + head_kpa
        if abs(head_kpa) > 2.0 and abs(shown_kpa) < NEAR_KPA:
            return words.DRY_TUBE.format(head=head_kpa)
        return f"At rest the transducer shows {shown_kpa:z.2f} kPa; its column of water makes {head_kpa:.2f} kPa."

    def _facts(self) -> list[Fact]:
        if len(self._curve.points) < 3 or (self._fell_s is None and self._high_kpa >= LEAST_FALL_KPA):
            return []
        rest, head_kpa = self._rest_kpa, self._subject.head_kpa
        facts = [
            Fact("zero_off_kpa", rest, f"zero off by {rest:+z.2f} kPa"),
            Fact("shown_at_rest_kpa", rest + head_kpa, f"the transducer shows {rest + head_kpa:z.2f} kPa at rest"),
            Fact("head_kpa", head_kpa, f"its column of water makes {head_kpa:.2f} kPa"),
        ]
        fit = self._fit()
        if fit is not None:
            less = "" if fit.resolved else "at most "
            tau_s = fit.tau_s if fit.resolved else max(fit.tau_s, 1.5 * fit.interval_s)
            facts.insert(0, Fact("time_constant_s", tau_s, f"time constant {less}{time_text(tau_s)}"))
        if self._settle_s is not None:
            facts.insert(1, Fact("within_1_kpa_s", self._settle_s, f"within 1 kPa after {time_text(self._settle_s)}"))
        return facts

    def _has_come_to_rest(self) -> bool:
        """Look once a second: the fit costs more than a fast sample may."""
        now_s = self._curve.last_s
        if now_s < self._look_s or (self._fell_s is None and self._high_kpa >= LEAST_FALL_KPA):
            return False
        self._look_s = now_s + min(_LOOK_S, self._still.window_s / 4.0)
        if stand(self._curve.since(self._fell_s or 0.0), self._still).standing is not Standing.STEADY:
            return False
        fit = self._fit()
        return fit is None or fit.left_at(now_s) < _LEFT_KPA

    @property
    def _fall(self) -> list[Point]:
        """The curve from where a tenth of the way is gone."""
        if self._fell_s is None:
            return []
        return self._curve.since(self._still_s)[1:]

    @property
    def _still_s(self) -> float:
        """When the cup came into the water, as nearly as the samples tell."""
        begin_kpa = self._high_kpa - 0.1 * (self._high_kpa - self._curve.level)
        still = [t for t, y in smoothed(self._curve.points) if t <= (self._fell_s or 0.0) and y >= begin_kpa]
        return still[-1] if still else 0.0

    def _fit(self) -> FirstOrder | None:
        fall = self._fall
        if len(fall) < LEAST_POINTS or self._high_kpa - self._curve.level < LEAST_FALL_KPA:
            return None
        return first_order(fall)

    @property
    def _rest_kpa(self) -> float:
        """Where it comes to rest: the plateau of the fit where that lies near the last values."""
        last = self._curve.points[-1][0]
        window = self._curve.since(last - self._still.window_s)
        recent = window if len(window) > 2 else self._curve.points[-3:]
        level = trend(recent).level if recent[0][0] < last else self._curve.level
        fit = self._fit()
        trusted = fit is not None and fit.resolved and fit.left_at(last) < 2.0 * NEAR_KPA
        return fit.plateau if fit is not None and trusted and abs(fit.at(last) - level) < NEAR_KPA / 2.0 else level

    @property
    def _settle_s(self) -> float | None:
        """How long from the water to within 1 kPa of rest, for good."""
        fall = self._fall
        if len(fall) < 2 or self._high_kpa - self._curve.level < LEAST_FALL_KPA:
            return None
        rest, still_s = self._rest_kpa, self._still_s
        away = [t for t, y in smoothed(fall) if abs(y - rest) > NEAR_KPA]
        return min((t for t, _ in fall if not away or t > away[-1]), default=fall[-1][0]) - still_s
