"""The result as plain text."""

from collections.abc import Iterator

from parchd.evaluation.aims import aims
from parchd.evaluation.tally import HEALTHY, NOTHING, Row, Tally, aside_lines, quantile

_HEAD = (
    f"{'kind':30} {'faults':>6} {'found':>6} {'recall':>6} {'false':>6} {'precis.':>7} "
    f"{'delay h':>8} {'90 %':>8} {'shown h':>8} {'doubt h':>8} {'dating h':>8} {'90 %':>8} {'aside':>6}"
)


def summary(tally: Tally) -> Iterator[str]:
    """Lines of the result: aims, kinds, what was taken for what."""
    for aim in aims(tally):
        sign = ">=" if aim.at_least else "<="
        yield f"{aim.verdict:10} {aim.what:58} {number(aim.result):>8} {aim.unit:2} (aim {sign} {aim.aim:g})"
    yield ""
    yield _HEAD
    yield from (_line(row) for row in tally.rows)
    yield from (_line(row) for row in tally.forms)
    yield _line(tally.all)
    yield ""
    yield (
        f"false findings in seasons without faults: {tally.false_healthy} in {tally.years_healthy:.1f} sensor-years; "
        f"on healthy tensiometers beside faulty ones: {tally.false_beside} in {tally.years_beside:.1f} "
        f"({number(tally.beside_rate)} per sensor-year)"
    )
    yield f"outages of healthy gateways and channels that were told, and were real: {tally.outages}"
    yield ""
    yield from aside_lines(tally) or ["no fault was set aside"]
    yield ""
    yield from _confusions(tally)


def _line(row: Row) -> str:
    false = "" if row.false is None else f"{row.false}"
    late = [abs(hours) for hours in row.dating_h]
    return (
        f"{row.name:30} {row.faults:6} {row.found:6} {number(row.recall):>6} {false:>6} {number(row.precision):>7} "
        f"{hours_text(row.delay_h, 0.5):>8} {hours_text(row.delay_h, 0.9):>8} {hours_text(row.shown_h, 0.5):>8} "
        f"{hours_text(row.doubt_h, 0.5):>8} {hours_text(row.dating_h, 0.5):>8} {hours_text(late, 0.9):>8} {row.aside:6}"
    )


def _confusions(tally: Tally) -> Iterator[str]:
    """What was taken for what, the most frequent first; what is right is left out."""
    wrong = {
        pair: count for pair, count in tally.confusion.items() if pair[0] != pair[1] and pair != (HEALTHY, NOTHING)
    }
    yield "what was taken for what"
    for (true, said), count in sorted(wrong.items(), key=lambda item: (-item[1], item[0])):
        yield f"{count:6}  {true} -> {said}"
    if not wrong:
        yield "  nothing was taken for anything else"


def number(value: float) -> str:
    """Three digits; a dash where there is none.

    >>> number(0.98765), number(float("nan"))
    ('0.988', '-')
    """
    return "-" if value != value else f"{value:.3f}"


def hours_text(hours: "tuple[float, ...] | list[float]", share: float) -> str:
    """A quantile of hours with one decimal; a dash where there is none."""
    value = quantile(hours, share)
    return "-" if value != value else f"{value:.1f}"
