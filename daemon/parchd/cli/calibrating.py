"""What calibrations and checks have in common, before the person who makes them."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

from parchd.cli.desk import Desk
from parchd.clock import Clock, to_datetime
from parchd.config import Loaded
from parchd.pipeline.setup import TensiometerSetup
from parchd.workbench.calibrating import Capture, Reading
from parchd.workbench.calibrating_reference import (
    COLUMN_HALF_MM,
    Reference,
    parse_half_kpa,
    parse_reference_unit,
)
from parchd.workbench.calibrating_words import signal_text
from parchd.workbench.live import Feed, LiveError, patience_s
from parchd.workbench.live_steady import LEAST_SAMPLES, Limits, Standing
from parchd.workbench.live_typed import TypedError, parse_number, parse_signal

_SLICE_S, _SILENCE_SHOWN_S, _BAR = 0.25, 4.0, 12
_STANDING = {Standing.WAITING: "listening", Standing.MOVING: "still moving", Standing.NOISY: "noisy"}

AnswerT = TypeVar("AnswerT")


class Stopped(Exception):
    """The person does not want to go on, or is not there any more."""


@dataclass(frozen=True, slots=True)
class Bench:
    """One transducer on the bench or in the field.

    Args:
        feed: where its signal comes from; ``None``: it is typed in.
        limits: when a signal counts as steady.
        folder: for records.
        by: who does it; may be empty.
    """

    loaded: Loaded
    setup: TensiometerSetup
    feed: Feed | None
    limits: Limits
    folder: Path
    by: str
    desk: Desk
    clock: Clock

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.loaded.pipeline.site.time_zone)

    @property
    def now(self) -> datetime:
        """Local time at the site."""
        return to_datetime(self.clock.now_us()).astimezone(self.zone)

    def ask(self, question: str, parse: Callable[[str], AnswerT]) -> AnswerT:
        """Ask until an answer can be used.

        Raises:
            Stopped: nobody answers any more.
        """
        while (answer := self.desk.ask(question)) is not None:
            try:
                return parse(answer)
            except TypedError as error:
                self.desk.say(f"  {error}", indent="  ")
        raise Stopped

    def agreed(self, question: str, *, usually: bool) -> bool:
        """Ask yes or no; Enter means what is usual."""

        def parse(answer: str) -> bool:
            word = answer.strip().lower()
            if word[:1] not in ("", "y", "n"):
                raise TypedError("y or n, please")
            return usually if not word else word[0] == "y"

        return self.ask(f"{question} [{'Y/n' if usually else 'y/N'}] ", parse)

    def reference(self, given: Reference | None) -> Reference:
        """Ask what it is calibrated against, and how well that is known."""
        if given is None:
            self.desk.say(
                "What is it calibrated against? A hanging column of water: type cm or in. A gauge: type the unit on "
                "its dial, kPa, cbar, mbar, hPa, psi, inHg, mmHg or cmH2O."
            )
            given = Reference(self.ask("Unit (Enter: kPa): ", parse_reference_unit), self.setup.water_c)
        if given.is_column:
            return self._column(given)
        gauge = given
        self.desk.say("How far may the gauge be off? Its dial or papers say it: 0.5 kPa, or 1.6 % of its full scale.")
        question = f"Accuracy, {gauge.unit}, or such as 1.6% of 100: "
        return Reference(gauge.unit, gauge.water_c, self.ask(question, lambda text: parse_half_kpa(text, gauge)))

    def _column(self, given: Reference) -> Reference:
        usual_c = given.water_c
        water_c = self.ask(f"Temperature of the water, C (Enter: {usual_c:g}): ", lambda text: _water_c(text, usual_c))
        column = Reference(given.unit, water_c)
        half_kpa = self.ask(
            f"How well do you read its length, to either side (Enter: {COLUMN_HALF_MM:g} mm): ",
            lambda text: parse_half_kpa(text or f"{COLUMN_HALF_MM:g} mm", column),
        )
        return Reference(column.unit, column.water_c, half_kpa)

    def supply_v(self) -> float:
        """Ask for the supply where it is not measured live."""
        nominal_v = self.setup.transducer.nominal_supply_v
        if not self.setup.transducer.needs_supply:
            return nominal_v
        question = f"Supply voltage, measured (Enter: {nominal_v:g}): "
        return self.ask(question, lambda text: _supply_v(text, nominal_v))

    def reading(self, supply_v: float) -> Reading | None:
        """Take the signal: wait until it stands still, or have it typed in.

        Args:
            supply_v: for a signal that is typed in.

        Returns:
            ``None``: the person took it back.

        Raises:
            LiveError: no signal comes.
        """
        if self.feed is None:
            return self._typed(supply_v)
        with self.desk.quiet_keys():
            return self._awaited(self.feed)

    def _typed(self, supply_v: float) -> Reading | None:
        unit = self.setup.transducer.unit.value

        def parse(text: str) -> float | None:
            return parse_signal(text, self.setup) if text else None

        signal = self.ask(f"     signal, {unit} (Enter takes the point back): ", parse)
        return None if signal is None else Reading(signal, supply_v, self.setup.air_kpa)

    def _awaited(self, feed: Feed) -> Reading | None:
        capture, heard_s = Capture(self.limits), self.clock.monotonic_s()
        patience = patience_s(self.setup.interval_s)
        feed.forget()
        try:
            while True:
                samples = feed.take(_SLICE_S)
                for sample in samples:
                    capture.take(sample)
                heard_s = self.clock.monotonic_s() if samples else heard_s
                silent_s = self.clock.monotonic_s() - heard_s
                if feed.ended and not samples:
                    raise LiveError(f"nothing more comes from {feed.origin}")
                if silent_s > patience:
                    raise LiveError(f"no sample of {self.setup.channel} for {silent_s:.0f} s. {feed.silence()}".strip())
                typed = self.desk.line(0.0)
                if typed is not None and typed.strip():
                    return None
                if capture.count and (typed is not None or capture.stand().standing is Standing.STEADY):
                    return capture.reading()
                silence = feed.silence() if silent_s > _SILENCE_SHOWN_S else ""
                self.desk.update(f"     {silence or self._progress(capture)}")
        finally:
            self.desk.clear_line()

    def _progress(self, capture: Capture) -> str:
        if not capture.count:
            return capture.trouble or f"waiting for a sample of {self.setup.channel}"
        now = capture.stand()
        filled = round(now.part * _BAR)
        text = f"[{'#' * filled}{'.' * (_BAR - filled)}] {signal_text(capture.last.signal or 0.0, self.setup)}"
        if capture.count < LEAST_SAMPLES // 2:
            return f"{text}, {_STANDING[Standing.WAITING]}"
        moves = f" {abs(now.drift_kpa_per_min):.1f} kPa/min" if now.standing is Standing.MOVING else ""
        noise = f" +/-{now.spread_kpa:.2f} kPa" if now.standing is Standing.NOISY else ""
        return f"{text}, {_STANDING.get(now.standing, 'steady')}{moves}{noise}; Enter takes it, c cancels"


def _water_c(text: str, usual_c: float) -> float:
    if not text:
        return usual_c
    number, _ = parse_number(text)
    if not 0.0 <= number <= 45.0:
        raise TypedError(f"water has 0 to 45 C here, not {number:g}")
    return number


def _supply_v(text: str, nominal_v: float) -> float:
    if not text:
        return nominal_v
    number, _ = parse_number(text)
    if not abs(number / nominal_v - 1.0) <= 0.2:
        raise TypedError(f"{number:g} V is more than a fifth off the {nominal_v:g} V of the data sheet")
    return number
