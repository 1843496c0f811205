"""``parchd calibrate --zero`` and ``--check``: one or two known pressures correct the calibration in force."""

from datetime import datetime

from parchd.cli.calibrating import Bench, Stopped
from parchd.cli.calibrating_write import Target, begins, tell, write_calibration
from parchd.cli.exits import Exit
from parchd.config.words import calibration_words
from parchd.contract import ParchdError
from parchd.physics.calibration import NOMINAL, Fit, check_off_kpa, epochs, rezero, span_check
from parchd.physics.head import head_kpa
from parchd.workbench import calibrating_words as words
from parchd.workbench.calibrating import Session, Taken
from parchd.workbench.calibrating_chart import check_chart
from parchd.workbench.calibrating_file import check_text
from parchd.workbench.calibrating_reference import Reference
from parchd.workbench.chart_svg import chart_svg
from parchd.workbench.live_typed import TypedError
from parchd.workbench.records import stamp, write_new

MOST_OFF_KPA = 10.0
LITTLE_KPA = 0.1
LEAST_SPAN_KPA = 20.0


class CheckError(ParchdError, ValueError):
    """A check found what no check can correct; the text says what."""


def check_zero(bench: Bench, target: Target) -> Exit:
    """Set the zero anew by one known pressure: the cup in water, or the port open to the air."""
    session = Session(bench.setup)
    _introduce(bench, "Zero")
    before = _in_force(bench)
    _take(bench, session, _zero_kpa(bench), bench.supply_v() if bench.feed is None else 0.0)
    point = session.points[0]
    off_kpa = 0.0 - check_off_kpa(before, *point)
    after = rezero(before, *point)
    _tell_zero(bench, session, off_kpa)
    if not bench.agreed("Write it?", usually=abs(off_kpa) >= LITTLE_KPA):
        raise Stopped
    return _written(bench, target, session, "zero", None, before, after)


def check_span(bench: Bench, target: Target, given: Reference | None) -> Exit:
    """Set zero and span anew by two known pressures, far apart."""
    session = Session(bench.setup)
    _introduce(bench, "Zero and span")
    before = _in_force(bench)
    reference = bench.reference(given)
    for caution in words.cautions(reference):
        bench.desk.say(f"CAUTION: {caution}", indent="  ")
    supply_v = bench.supply_v() if bench.feed is None else 0.0
    for name in ("first, with no vacuum", "second, as high as it will go"):
        question = f"Set the {name}. Reference shows, {reference.unit}: "
        _take(bench, session, bench.ask(question, reference.parse_kpa), supply_v)
    after = _checked(session, before)
    for index in (0, 1):
        off_kpa = 0.0 - check_off_kpa(before, *session.points[index])
        bench.desk.say(f"At {session.taken[index].vacuum_kpa:.2f} kPa it was off by {off_kpa:+z.2f} kPa.")
    bench.desk.say(f"Its slope changes by {(after.slope / before.slope - 1.0) * 100:+z.2f} %.")
    if not bench.agreed("Write it?", usually=True):
        raise Stopped
    return _written(bench, target, session, "span", reference, before, after)


def _introduce(bench: Bench, what: str) -> None:
    setup = bench.setup
    bench.desk.say(
        f"{what} of {setup.place.tensiometer}. So far: {calibration_words(setup.calibrations, bench.clock.now_us())}."
    )


def _in_force(bench: Bench) -> Fit:
    """The curve that holds now, which the check corrects."""
    now_us = bench.clock.now_us()
    dated = [one for one in epochs(bench.setup.calibrations) if one.calibration.valid_from_us <= now_us]
    return dated[-1].fit if dated else NOMINAL


def _zero_kpa(bench: Bench) -> float:
    """Ask where the instrument is, and give the vacuum that it must show there."""
    setup, desk = bench.setup, bench.desk
    zeroed = setup.place.tensiometer in bench.loaded.zeroed
    head = head_kpa(setup.height_m, setup.water_c)
    desk.say(f"  w  cup in free water up to its middle, tube full: it must show {head:.2f} kPa", indent="     ")
    if zeroed:
        desk.say("     (its gauge is zeroed in water: the open air is no reference for it)")
    else:
        desk.say("  a  its port open to the air, away from any water: it must show 0", indent="     ")

    def parse(text: str) -> float:
        word = text.strip().lower()[:1]
        if word == "w" or (word == "a" and not zeroed):
            return head if word == "w" else 0.0
        raise TypedError("w, please" if zeroed else "w or a, please")

    return bench.ask("Where is it? ", parse)


def _take(bench: Bench, session: Session, vacuum_kpa: float, supply_v: float) -> None:
    reading = bench.reading(supply_v)
    if reading is None:
        raise Stopped
    session.add(Taken(vacuum_kpa, reading))
    bench.desk.show([words.point_line(session, len(session.taken) - 1)])


def _tell_zero(bench: Bench, session: Session, off_kpa: float) -> None:
    """
    Raises:
        CheckError: it is off by more than a drift can be.
    """
    if abs(off_kpa) > MOST_OFF_KPA:
        raise CheckError(
            f"it is off by {off_kpa:+.1f} kPa: that is no drift. Is there air in the tube, is the height right, is it "
            "this channel, has the transducer been overloaded? Nothing was written"
        )
    bench.desk.say(f"It must show {session.taken[0].vacuum_kpa:.2f} kPa; its zero is off by {off_kpa:+z.2f} kPa.")
    if abs(off_kpa) < LITTLE_KPA:
        bench.desk.say("That is next to nothing: no correction is needed.")


def _checked(session: Session, before: Fit) -> Fit:
    """
    Raises:
        CheckError: the two points make no sense.
    """
    low, high = (point.vacuum_kpa for point in session.taken)
    if not high - low >= LEAST_SPAN_KPA:
        raise CheckError(
            f"the two pressures are {high - low:.1f} kPa apart; {LEAST_SPAN_KPA:g} is the least that says something "
            "about a span. Nothing was written"
        )
    try:
        return span_check(before, *session.points)
    except ValueError as error:
        raise CheckError(f"{error}; is the reference read in the right unit? Nothing was written") from error


def _written(
    bench: Bench, target: Target, session: Session, check: str, reference: Reference | None, before: Fit, after: Fit
) -> Exit:
    now = bench.now.replace(microsecond=0, tzinfo=None)
    by = bench.by or bench.ask("Done by (Enter: nobody): ", lambda text: text)
    text = check_text(session, check, reference, _after_all(now, begins(bench)), by)
    name = f"{stamp(now)}_{bench.setup.place.tensiometer}_{check}"
    path = write_calibration(bench, target, f"{bench.setup.place.tensiometer}_{now:%Y-%m-%d_%H%M}_{check}", text)
    chart = check_chart(
        session, before, after, f"Check of the {check}: {bench.setup.place.tensiometer}, {now:%Y-%m-%d}"
    )
    picture = write_new(bench.folder, name, ".svg", chart_svg(chart))
    tell(bench, target, path)
    bench.desk.show([f"Picture:     {picture}"])
    bench.desk.say(f"Write it down as well: parchd service -t {bench.setup.place.tensiometer} -w re-zero")
    return Exit.OK


def _after_all(now: datetime, others: list[datetime]) -> datetime:
    """
    Raises:
        CheckError: a calibration begins later, so that this one would never hold.
    """
    if later := [other for other in others if other.replace(tzinfo=None) >= now]:
        raise CheckError(f"a calibration begins at {later[0]:%Y-%m-%d %H:%M}, later than now: is the clock right?")
    return now
