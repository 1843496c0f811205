"""Taking points: what is typed between one pressure and the next."""

from datetime import datetime
from typing import NoReturn

from parchd.cli.calibrating import Bench, Stopped
from parchd.workbench import calibrating_words as words
from parchd.workbench.calibrating import Reading, Session, Taken
from parchd.workbench.calibrating_draft import draft_path, drop_draft, save_draft
from parchd.workbench.calibrating_reference import Reference
from parchd.workbench.live import LiveError
from parchd.workbench.live_typed import TypedError

_MOVED_KPA = 0.5


class Work:
    """The points and the person who takes them."""

    def __init__(self, bench: Bench, session: Session, reference: Reference, begun: datetime) -> None:
        self.session = session
        self.reference = reference
        self.name = bench.setup.place.tensiometer
        self.draft = draft_path(bench.folder, bench.setup)
        self._bench = bench
        self._desk = bench.desk
        self.begun = begun
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
                self.stop()
            word = answer.strip().lower()
            if word in ("d", "done"):
                return
            if word and not self._obeyed(word):
                self._take(word)

    def show_points(self) -> None:
        self._desk.show([words.point_line(self.session, index) for index in range(len(self.session.taken))])

    def _obeyed(self, word: str) -> bool:
        """Do what a command asks; false: it is none."""
        if word == "?":
            self._desk.show(words.HELP)
        elif word == "l":
            self.show_points()
        elif word == "q":
            self.stop()
        elif word == "u":
            point = self.session.undo()
            back = "there is none" if point is None else f"{self.reference.text(point.vacuum_kpa)} taken back"
            self._desk.show([f"     {back}"])
            self._save()
        elif word.split(maxsplit=1)[0] == "x":
            self.leave_out(word)
        else:
            return False
        return True

    def leave_out(self, word: str) -> None:
        """Leave the point out that ``x 4`` names, or take it back in."""
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

    def _save(self) -> None:
        if self.session.taken:
            save_draft(self.draft, self.session, self.reference, self.begun)
        else:
            drop_draft(self.draft)

    def stop(self) -> NoReturn:
        """Keep the points, or throw them away, and end.

        Raises:
            Stopped: always.
        """
        count = len(self.session.taken)
        if count and self._desk.ask(f"Keep the {count} points for later? [Y/n] ") in ("n", "N", "no"):
            drop_draft(self.draft)
        elif count:
            self._desk.say("Kept: the same command goes on with them.")
        raise Stopped
