"""The build sheet: all that is worked out, ready to be written or drawn."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from parchd.workbench.costs import Costs, costs_of
from parchd.workbench.cutting import CuttingPlan, Piece, cut
from parchd.workbench.errors import SheetError
from parchd.workbench.geometry import ABOVE_RANGE_MM, USUAL, Instrument, Pattern, instruments_of
from parchd.workbench.lengths import Ruler
from parchd.workbench.limits import Reach, Site, range_warning, reach_of
from parchd.workbench.parts import Closure, Measure, Need, Readout, needs_of
from parchd.workbench.prices import Prices

MOST_INSTRUMENTS = 500

STOCK_MM = {Ruler.CM: 3000.0, Ruler.INCH: 3048.0}
KERF_MM = {Ruler.CM: 3.0, Ruler.INCH: 3.175}
SPARES_PERCENT = 10.0


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be built.

    Args:
        depths_mm: how many instruments of each depth.
        site: where they will stand.
        ruler: the unit of all lengths that people see.
        pattern: dimensions that all share.
        stock_mm: length of the pipe as it is sold.
        kerf_mm: what the saw takes.
        spares_percent: of each part that is counted in pieces.
    """

    depths_mm: Mapping[float, int]
    site: Site
    ruler: Ruler = Ruler.CM
    pattern: Pattern = USUAL[Ruler.CM]
    readout: Readout = Readout.TRANSDUCER
    closure: Closure = Closure.CAP
    stock_mm: float = STOCK_MM[Ruler.CM]
    kerf_mm: float = KERF_MM[Ruler.CM]
    spares_percent: float = SPARES_PERCENT


@dataclass(frozen=True, slots=True)
class Row:
    """The instruments of one depth and what they show; ``first`` is the number of the first of them."""

    instrument: Instrument
    reach: Reach
    first: int

    @property
    def numbers(self) -> range:
        """Their running numbers on the sheet.

        >>> list(Row(Instrument(300.0, 2), Reach(4.8, 75.0), first=3).numbers)
        [3, 4]
        """
        return range(self.first, self.first + self.instrument.count)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A build sheet.

    Args:
        made_on: the date it bears.
        rows: one for each depth, the shallowest first.
        plan: how the pipe is cut.
        needs: parts and counts.
        costs: ``None``: the user gave no prices.
        notes: what is odd, in whole sentences.
    """

    order: Order
    made_on: date
    rows: tuple[Row, ...]
    plan: CuttingPlan
    needs: tuple[Need, ...]
    costs: Costs | None
    notes: tuple[str, ...]

    @property
    def count(self) -> int:
        return sum(row.instrument.count for row in self.rows)


def draw_up(order: Order, made_on: date, prices: Prices | None = None, notes: Iterable[str] = ()) -> Sheet:
    """Work out a sheet.

    Args:
        prices: ``None``, or none in it: the sheet has no costs.
        notes: what the caller found odd; it comes first.

    Raises:
        SheetError: something cannot be built.
    """
    instruments = instruments_of(order.depths_mm, order.pattern)
    count = sum(instrument.count for instrument in instruments)
    if not 1 <= count <= MOST_INSTRUMENTS:
        raise SheetError(f"a sheet is for 1 to {MOST_INSTRUMENTS} tensiometers, not {count}")
    plan = cut(_pieces(instruments), order.stock_mm, order.kerf_mm)
    needs = needs_of(
        count, len(plan.sticks), readout=order.readout, closure=order.closure, spares_percent=order.spares_percent
    )
    costs = costs_of(needs, prices, count) if prices else None
    rows = tuple(_rows(instruments, order.site))
    own = [range_warning(row.instrument, row.reach, order.ruler) for row in rows]
    return Sheet(
        order, made_on, rows, plan, _with_packs(needs, costs), costs, tuple(filter(None, (*notes, *own, *_odd(order))))
    )


def _pieces(instruments: Iterable[Instrument]) -> Iterable[Piece]:
    for instrument in instruments:
        yield from [Piece(instrument.lower_mm, "lower tube")] * instrument.count
        yield from [Piece(instrument.pattern.top_mm, "top piece")] * instrument.count


def _rows(instruments: Iterable[Instrument], site: Site) -> Iterable[Row]:
    first = 1
    for instrument in instruments:
        yield Row(instrument, reach_of(instrument, site), first)
        first += instrument.count


def _with_packs(needs: tuple[Need, ...], costs: Costs | None) -> tuple[Need, ...]:
    """Of what is bought in packs, take as many as the prices say that the order needs."""
    if costs is None:
        return needs
    packs = {line.need: line.packs for line in costs.lines if line.need.part.measure is Measure.PACK and line.packs}
    return tuple(Need(need.part, packs.get(need, need.used), need.spare) for need in needs)


def _odd(order: Order) -> Iterable[str]:
    ruler, (least, most) = order.ruler, ABOVE_RANGE_MM[order.ruler]
    if not least <= order.pattern.above_mm <= most:
        above, usual = ruler.text(order.pattern.above_mm), f"{ruler.number(least)} to {ruler.text(most)}"
        yield f"{above} above the ground is not the usual {usual}."
    shallow = [ruler.text(depth) for depth in order.depths_mm if depth < 100.0]
    if shallow and not any(depth >= 100.0 for depth in order.depths_mm):
        yield f"Is a depth of {' and '.join(shallow)} meant? Lengths are in {ruler.value}, unless they carry a unit."
