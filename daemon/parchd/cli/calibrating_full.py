"""``parchd calibrate``: a calibration in its own right."""

from dataclasses import replace

from parchd.cli.calibrating import Bench
from parchd.cli.calibrating_points import Work
from parchd.cli.calibrating_write import Target, begins, tell, write_calibration
from parchd.cli.exits import Exit
from parchd.config.words import calibration_words
from parchd.physics.calibration import Fit
from parchd.workbench import calibrating_words as words
from parchd.workbench.calibrating import Session
from parchd.workbench.calibrating_chart import residual_chart
from parchd.workbench.calibrating_draft import draft_path, drop_draft, load_draft
from parchd.workbench.calibrating_file import full_text, valid_from
from parchd.workbench.calibrating_judge import bend, refusal
from parchd.workbench.calibrating_reference import Reference
from parchd.workbench.chart_svg import chart_svg
from parchd.workbench.live_typed import TypedError
from parchd.workbench.records import stamp, write_new

_PLOT_ROWS = 10


def calibrate(bench: Bench, target: Target, given: Reference | None, degree: int | None) -> Exit:
    """Take points, fit, and write what comes of it."""
    work = _begun(bench, given)
    work.session.degree = degree or 1
    verdict = Verdict(bench, work)
    work.take_points()
    while not verdict.wanted():
        work.take_points()
    begin = valid_from(bench.now, begins(bench))
    by = bench.by or bench.ask("Done by (Enter: nobody): ", lambda text: text)
    text = full_text(work.session, work.reference, begin, by)
    path = write_calibration(bench, target, f"{work.name}_{begin:%Y-%m-%d}", text)
    drop_draft(work.draft)
    picture = verdict.picture(work.session.fitted())
    tell(bench, target, path)
    bench.desk.show([f"Picture:     {picture}"])
    return Exit.OK


def _begun(bench: Bench, given: Reference | None) -> Work:
    """Introduce, and begin anew or go on with points that were kept."""
    desk, setup = bench.desk, bench.setup
    desk.say(
        f"Calibration of {setup.place.tensiometer}, signal in {words.unit_of(setup)} from "
        f"{'what you type' if bench.feed is None else f'{bench.feed.origin}, channel {setup.channel}'}. "
        f"So far: {calibration_words(setup.calibrations, bench.clock.now_us())}."
    )
    if bench.feed is not None and setup.interval_s > 30.0:
        desk.say(
            f"interval_s is {setup.interval_s:g} s: each point will take {setup.interval_s * 7 / 60:.0f} min. Set the "
            "board to a sample every second or so while you calibrate."
        )
    kept = load_draft(draft_path(bench.folder, setup), setup)
    if kept is not None:
        session, reference, begun = kept
        count = len(session.taken)
        if bench.agreed(f"{count} point{'s' * (count != 1)} of {begun:%Y-%m-%d %H:%M} are kept: go on?", usually=True):
            work = Work(bench, session, reference, begun)
            work.show_points()
            return work
    reference = bench.reference(given)
    for caution in words.cautions(reference):
        desk.say(f"CAUTION: {caution}", indent="  ")
    for number, step in enumerate(words.steps(reference), 1):
        desk.say(f"  {number}. {step}", indent="     ")
    return Work(bench, Session(setup), reference, bench.now)


class Verdict:
    """What the points amount to, and what the person makes of it."""

    def __init__(self, bench: Bench, work: Work) -> None:
        self._bench = bench
        self._desk = bench.desk
        self._work = work
        self._session = work.session
        self._reference = work.reference

    def wanted(self) -> bool:
        """Fit, show, and ask what to do; true: write it. False: more points are to be taken."""
        while True:
            why = refusal(self._session, self._reference)
            if why:
                self._desk.say(f"No calibration yet: {why.rstrip('.')}.", indent="  ")
                return False
            fit = self._session.fitted()
            self._show(fit)
            answer = self._decided(fit)
            if answer in ("w", "m"):
                return answer == "w"

    def picture(self, fit: Fit) -> str:
        """Keep the residuals as a picture."""
        title = f"Calibration: {self._work.name}, {self._work.begun:%Y-%m-%d %H:%M}"
        chart = residual_chart(self._session, fit, title, list(words.summary(self._session, fit, self._reference)))
        chart = replace(chart, x_title="vacuum, kPa")
        name = f"{stamp(self._work.begun)}_{self._work.name}_calibration"
        return str(write_new(self._bench.folder, name, ".svg", chart_svg(chart)))

    def _show(self, fit: Fit) -> None:
        desk = self._desk
        desk.show([""])
        self._work.show_points()
        desk.show([""])
        desk.plot(residual_chart(self._session, fit, self._work.name), _PLOT_ROWS)
        desk.show([""])
        for paragraph in words.summary(self._session, fit, self._reference):
            desk.say(paragraph, indent="  ")
        if fit.suspects:
            desk.say(words.suspect_words(self._session, fit, self._without_suspect(fit)), indent="  ")
        if bent := words.bend_words(self._session):
            desk.say(bent, indent="  ")

    def _without_suspect(self, fit: Fit) -> Fit:
        try:
            return self._session.fitted(without=fit.suspects[:1])
        except ValueError:  # the others alone are too few for this degree
            return fit

    def _decided(self, fit: Fit) -> str:
        """Ask what to do; w writes, m takes more points, all else is done and asked again."""
        suspect = f"x {fit.suspects[0] + 1}" if fit.suspects else ""
        curve = "s" if self._session.degree == 2 else "c" if bend(self._session) is not None else ""
        choices = {
            suspect: "leave it out; it stays on record",
            "w": "write this calibration",
            "m": "more points",
            curve: "a straight line" if curve == "s" else "a curve",
            "x N": "leave point N out, or take it back in",
            "q": "stop; points may be kept for later",
        }
        self._desk.show(["", *(f"  {key:<4} {does}" for key, does in choices.items() if key)])
        word = self._bench.ask("What now? ", lambda text: self._understood(text, curve))
        if word == "q":
            self._work.stop()
        if word[0] == "x":
            self._work.leave_out(word)
        elif word in ("c", "s"):
            self._session.degree = 2 if word == "c" else 1
        return word

    def _understood(self, text: str, curve: str) -> str:
        word = text.strip().lower()
        if word[:1] == "x" or (word and word in ("w", "m", "q", curve)):
            return word
        raise TypedError("one of the letters above, please")
