"""``parchd calibrate``: a calibration in its own right."""

from dataclasses import replace
from datetime import datetime
from typing import NoReturn

from parchd.cli.calibrating import Bench, Stopped
from parchd.cli.calibrating_write import Target, begins, tell, write_calibration
from parchd.cli.exits import Exit
from parchd.config.words import calibration_words
from parchd.physics.calibration import Fit
from parchd.workbench import calibrating_words as words
from parchd.workbench.calibrating import Reading, Session, Taken
from parchd.workbench.calibrating_chart import residual_chart
from parchd.workbench.calibrating_draft import draft_path, drop_draft, load_draft, save_draft
from parchd.workbench.calibrating_file import full_text, valid_from
from parchd.workbench.calibrating_judge import bend, refusal
from parchd.workbench.calibrating_reference import Reference
from parchd.workbench.chart_svg import chart_svg
from parchd.workbench.live import LiveError
from parchd.workbench.live_typed import TypedError
from parchd.workbench.records import stamp, write_new

_MOVED_KPA = 0.5
_PLOT_ROWS = 10


def calibrate(bench: Bench, target: Target, given: Reference | None, degree: int | None) -> Exit:
    """Take points, fit, and write what comes of it."""
    work = _begun(bench, given)
    work.session.degree = degree or 1
    while True:
        work.take_points()
        if work.judge():
            break
    begin = valid_from(bench.now, begins(bench))
    text = full_text(work.session, work.reference, begin, work.by())
    path = write_calibration(bench, target, f"{work.name}_{begin:%Y-%m-%d}", text)
    drop_draft(work.draft)
    picture = work.picture(work.session.fitted())
    tell(bench, target, path)
    bench.desk.show([f"Picture:     {picture}"])
    return Exit.OK


def _begun(bench: Bench, given: Reference | None) -> "Work":
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


class Work:
    """The points and the person who takes them."""

    def __init__(self, bench: Bench, session: Session, reference: Reference, begun: datetime) -> None:
        self.session = session
        self.reference = reference
        self.name = bench.setup.place.tensiometer
        self.draft = draft_path(bench.folder, bench.setup)
        self._bench = bench
        self._desk = bench.desk
        self._begun = begun
        self._supply_v = bench.supply_v() if bench.feed is None else 0.0

    def take_points(self) -> None:
        """Take points until the person says that they are done.

        Raises:
            Stopped: the person does not want to go on.
        """
        self._desk.say("Type what the reference shows. u undo, l list, x N leave out, d done, ? help.")
        while True:
            number = len(self.session.taken) + 1
            answer = self._desk.ask(f"{number:>3}  reference, {self.reference.unit}: ")
            if answer is None:
                self._stop()
            word = answer.strip().lower()
            if word in ("d", "done"):
                return
            if word and not self._obeyed(word):
                self._take(word)

    def judge(self) -> bool:
        """Fit, show, and ask what to do; true: write it. False: more points are to be taken."""
        while True:
            why = refusal(self.session, self.reference)
            if why:
                self._desk.say(f"No calibration yet: {why.rstrip('.')}.", indent="  ")
                return False
            fit = self.session.fitted()
            self._show(fit)
            answer = self._decided(fit)
            if answer in ("w", "m"):
                return answer == "w"

    def show_points(self) -> None:
        self._desk.show([words.point_line(self.session, index) for index in range(len(self.session.taken))])

    def picture(self, fit: Fit) -> str:
        """Keep the residuals as a picture."""
        title = f"Calibration: {self.name}, {self._begun:%Y-%m-%d %H:%M}"
        chart = residual_chart(self.session, fit, title, list(words.summary(self.session, fit, self.reference)))
        chart = replace(chart, x_title="vacuum, kPa")
        name = f"{stamp(self._begun)}_{self.name}_calibration"
        return str(write_new(self._bench.folder, name, ".svg", chart_svg(chart)))

    def by(self) -> str:
        return self._bench.by or self._bench.ask("Done by (Enter: nobody): ", lambda text: text)

    def _obeyed(self, word: str) -> bool:
        """Do what a command asks; false: it is none."""
        if word == "?":
            self._desk.show(words.HELP)
        elif word == "l":
            self.show_points()
        elif word == "q":
            self._stop()
        elif word == "u":
            point = self.session.undo()
            back = "there is none" if point is None else f"{self.reference.text(point.vacuum_kpa)} taken back"
            self._desk.show([f"     {back}"])
            self._save()
        elif word.split(maxsplit=1)[0] == "x":
            self._leave_out(word)
        else:
            return False
        return True

    def _leave_out(self, word: str) -> None:
        number = word.removeprefix("x").strip()
        if not number.isdecimal() or not 1 <= int(number) <= len(self.session.taken):
            self._desk.show([f"     x and the number of a point, 1 to {len(self.session.taken)}"])
            return
        self.session.left_out ^= {int(number) - 1}
        self._desk.show([words.point_line(self.session, int(number) - 1)])
        self._save()

    def _take(self, word: str) -> None:
        try:
            vacuum_kpa = self.reference.parse_kpa(word)
        except TypedError as error:
            self._desk.say(f"     {error}", indent="     ")
            return
        try:
            reading = self._bench.reading(self._supply_v)
        except LiveError as error:
            self._desk.say(f"     {error}", indent="     ")
            return
        if reading is None:
            self._desk.show(["     not taken"])
            return
        self.session.add(Taken(self._still(vacuum_kpa, reading), reading))
        self._desk.show([words.point_line(self.session, len(self.session.taken) - 1)])
        self._save()

    def _still(self, vacuum_kpa: float, reading: Reading) -> float:
        """Ask again what the gauge shows where the pressure moved while the signal was waited for."""
        if reading.moved_kpa <= _MOVED_KPA or self.reference.is_column:
            return vacuum_kpa
        self._desk.say(f"     The pressure moved by {reading.moved_kpa:.1f} kPa meanwhile.", indent="     ")
        question = f"     What does the gauge show now (Enter: still {self.reference.text(vacuum_kpa)})? "
        return self._bench.ask(question, lambda text: self.reference.parse_kpa(text) if text else vacuum_kpa)

    def _show(self, fit: Fit) -> None:
        desk = self._desk
        desk.show([""])
        self.show_points()
        desk.show([""])
        desk.plot(residual_chart(self.session, fit, self.name), _PLOT_ROWS)
        desk.show([""])
        for paragraph in words.summary(self.session, fit, self.reference):
            desk.say(paragraph, indent="  ")
        if fit.suspects:
            desk.say(words.suspect_words(self.session, fit, self._without_suspect(fit)), indent="  ")
        if bent := words.bend_words(self.session):
            desk.say(bent, indent="  ")

    def _without_suspect(self, fit: Fit) -> Fit:
        try:
            return self.session.fitted(without=fit.suspects[:1])
        except ValueError:  # the others alone are too few for this degree
            return fit

    def _decided(self, fit: Fit) -> str:
        """Ask what to do; w writes, m takes more points, all else is done and asked again."""
        suspect = f"x {fit.suspects[0] + 1}" if fit.suspects else ""
        curve = "s" if self.session.degree == 2 else "c" if bend(self.session) is not None else ""
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
            self._stop()
        if word[0] == "x":
            self._leave_out(word)
        elif word in ("c", "s"):
            self.session.degree = 2 if word == "c" else 1
        return word

    def _understood(self, text: str, curve: str) -> str:
        word = text.strip().lower()
        if word[:1] == "x" or (word and word in ("w", "m", "q", curve)):
            return word
        raise TypedError("one of the letters above, please")

    def _save(self) -> None:
        if self.session.taken:
            save_draft(self.draft, self.session, self.reference, self._begun)
        else:
            drop_draft(self.draft)

    def _stop(self) -> NoReturn:
        count = len(self.session.taken)
        if count and self._desk.ask(f"Keep the {count} points for later? [Y/n] ") in ("n", "N", "no"):
            drop_draft(self.draft)
        elif count:
            self._desk.say("Kept: the same command goes on with them.")
        raise Stopped
