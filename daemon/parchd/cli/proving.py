"""The tests of ``parchd prove``, before the person who makes them."""

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from zoneinfo import ZoneInfo

from parchd.cli.desk import Desk
from parchd.clock import Clock, to_datetime
from parchd.pipeline.setup import TensiometerSetup
from parchd.workbench import proof_words as words
from parchd.workbench.live import Feed, LiveError, LiveSample, Stopwatch, patience_s
from parchd.workbench.live_typed import TypedError, typed_vacuum
from parchd.workbench.proof import Moment, Outcome, Proof, Result, Subject, Terms, Trial
from parchd.workbench.proof_hold import HoldTrial
from parchd.workbench.proof_record import proof_comment, proof_picture, proof_record
from parchd.workbench.proof_return import ReturnTrial
from parchd.workbench.proof_towel import TowelTrial
from parchd.workbench.records import keep, stamp

_SLICE_S, _SILENCE_SHOWN_S = 0.25, 4.0


@dataclass(frozen=True, slots=True)
class Proving:
    """One instrument on the bench.

    Args:
        time_zone: of the site.
        folder: for records.
        by: who makes the tests; may be empty.
    """

    setup: TensiometerSetup
    time_zone: str
    subject: Subject
    terms: Terms
    folder: Path
    by: str
    desk: Desk
    clock: Clock

    def run(self, wanted: Iterable[Proof], feed: Feed | None) -> list[Result]:
        """Make tests one after another; give what came of those that were made.

        Args:
            feed: where samples come from; ``None``: they are typed in.
        """
        self._introduce(feed)
        results: list[Result] = []
        for proof in wanted:
            answer = self._prepare(proof)
            if answer == "q":
                break
            if answer != "s":
                results.append(self._prove(proof, feed))
        if len(results) > 1:
            self.desk.show(["", f"{self.subject.name}, all tests:"])
            for r in results:
                self.desk.say(f"  {words.TITLES[r.proof]}: {r.outcome.value.upper()}, {r.headline}", indent="    ")
        return results

    def _introduce(self, feed: Feed | None) -> None:
        place, desk = self.setup.place, self.desk
        desk.say(
            f"Bench proof of {place.tensiometer}, for a depth of {place.depth_m * 100:g} cm: "
            f"{self.subject.head_kpa:.1f} kPa of water hang below its transducer, and it can be believed up to "
            f"{self.subject.usable_kpa:.0f} kPa."
        )
        if feed is None:
            desk.say("You type the vacuum that its gauge or display shows, in kPa or with a unit behind: 12 inHg.")
        else:
            desk.say(f"Samples come from {feed.origin}, channel {self.setup.channel}. Ctrl-C ends everything.")
        if self.setup.interval_s > 30.0 and feed is not None:
            desk.say(
                f"interval_s is {self.setup.interval_s:g} s: with samples so far apart these tests see little. Set the "
                "board to a sample every few seconds while it is on the bench."
            )
        desk.say(f"Records go to {self.folder}.")

    def _prepare(self, proof: Proof) -> str:
        """Say what to do and wait until it is done; give what was answered: s skips, q ends."""
        desk = self.desk
        desk.show(["", words.TITLES[proof].upper()])
        for caution in words.cautions(proof):
            desk.say(f"CAUTION: {caution}", indent="  ")
        for number, step in enumerate(words.instructions(proof, self.subject, self.terms), 1):
            desk.say(f"  {number}. {step}", indent="     ")
        desk.say(words.STAR)
        if not desk.somebody:
            return ""
        answer = desk.ask("Enter begins, s skips this test, q ends: ")
        return "q" if answer is None else answer.strip().lower()[:1]

    def _prove(self, proof: Proof, feed: Feed | None) -> Result:
        trial = _trial(proof, self.subject, self.terms)
        began = to_datetime(self.clock.now_us()).astimezone(ZoneInfo(self.time_zone))
        trouble: BaseException | None = None
        try:
            self._typed(trial) if feed is None else self._watched(trial, feed)
        except (LiveError, KeyboardInterrupt) as error:
            trouble = error
            trial.stop()
        result = trial.result()
        if trouble is not None:
            result = _broken_off(result, trouble)
        self._tell(result)
        if result.points:
            origin = "typed" if feed is None else feed.origin
            record = proof_record(result, self.subject, self.setup, self.terms, began, origin, self.by)
            name = f"{stamp(began)}_{self.subject.name}_{proof.value}"
            kept = keep(self.folder, name, record, proof_comment(proof), proof_picture(result, began, self.by))
            self.desk.show([f"Record:  {kept[0]}", f"Picture: {kept[1]}"])
        if trouble is not None:
            raise trouble
        return result

    def _watched(self, trial: Trial, feed: Feed) -> None:
        """Follow the samples until the test is over."""
        watch, heard_s, patience = Stopwatch(), self.clock.monotonic_s(), patience_s(self.setup.interval_s)
        feed.forget()
        with self.desk.quiet_keys():
            while not trial.over:
                samples = feed.take(_SLICE_S)
                _give(trial, watch, samples)
                silent_s = 0.0 if samples else self.clock.monotonic_s() - heard_s
                heard_s = self.clock.monotonic_s() if samples else heard_s
                if feed.ended and not samples:
                    break
                if silent_s > patience:
                    raise LiveError(f"no sample of {self.setup.channel} for {silent_s:.0f} s. {_check(feed)}")
                if self.desk.line(0.0) is not None:
                    trial.enter()
                silence = feed.silence() if silent_s > _SILENCE_SHOWN_S else ""
                self.desk.draw(trial.chart(), trial.status(), silence or trial.hint())
            self.desk.draw(trial.chart(), trial.status(), "", last=True)

    def _typed(self, trial: Trial) -> None:
        """Ask for values until the test is over."""
        watch = Stopwatch()
        while not trial.over:
            answer = self.desk.ask(f"  {trial.hint()}\n  vacuum now, kPa: ")
            if not answer:
                trial.enter() if answer == "" else trial.stop()
                continue
            with suppress(TypedError):
                _give(trial, watch, [typed_vacuum(answer, self.setup, self.clock.now_us())])
                self.desk.show([f"  {trial.status()}"])
                continue
            self.desk.show(["  A number, please, such as 12.5 or 4 inHg"])
        self.desk.plot(trial.chart(), 12)

    def _tell(self, result: Result) -> None:
        desk = self.desk
        desk.say(f"{result.outcome.value.upper()}: {result.headline}.")
        if result.facts:
            desk.say(f"  {'; '.join(fact.text for fact in result.facts)}.", indent="  ")
        for sentence in result.meaning:
            desk.say(f"  {sentence}", indent="  ")
        if result.advice:
            desk.show(["What to do:"])
        for step in result.advice:
            desk.say(f"  - {step}", indent="    ")


def _trial(proof: Proof, subject: Subject, terms: Terms) -> Trial:
    if proof is Proof.HOLD:
        return HoldTrial(subject, terms)
    return TowelTrial(subject, terms) if proof is Proof.TOWEL else ReturnTrial(subject, terms)


def _give(trial: Trial, watch: Stopwatch, samples: Iterable[LiveSample]) -> None:
    for sample in samples:
        t_s = watch.at_s(sample.time_us)
        if t_s is not None and not trial.over:
            trial.take(Moment(t_s, sample.vacuum_kpa, sample.tension_kpa, sample.trouble))


def _broken_off(result: Result, trouble: BaseException) -> Result:
    """Say that a test was not made to its end, unless it had shown all that it must."""
    if result.outcome is Outcome.PASSED:
        return result
    why = "ended by Ctrl-C" if isinstance(trouble, KeyboardInterrupt) else "no more samples"
    by_hand = "ended by hand"
    said = result.headline
    headline = said.replace(by_hand, why, 1) if said.startswith(by_hand) else f"{why}: {said}"
    return replace(result, outcome=Outcome.UNFINISHED, headline=headline)


def _check(feed: Feed) -> str:
    """Say what to look at when nothing comes."""
    return (
        f"{feed.silence()} Is the board powered and plugged in, does it send, and is the channel's name right? "
        "A longer interval belongs into interval_s."
    ).strip()
