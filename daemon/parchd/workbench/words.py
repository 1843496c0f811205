"""Sentences that the sheet says in the terminal and on paper alike."""

from collections.abc import Iterable

from parchd.physics.water import vapour_pressure_kpa
from parchd.workbench.costs import CostLine, Costs, figure
from parchd.workbench.cutting import Stick
from parchd.workbench.geometry import TEE_STOP_MM
from parchd.workbench.lengths import Ruler, altitude_text
from parchd.workbench.limits import head_per_10cm_kpa
from parchd.workbench.parts import Measure, Need
from parchd.workbench.sheet import Row, Sheet

NO_PRICES = (
    "No costs: no prices were given. parchd has none of its own; start it on a terminal to be asked for yours, or "
    "write them into a file and name it with --prices."
)


def heading(sheet: Sheet) -> str:
    return f"{sheet.count} tensiometer{'s' * (sheet.count != 1)}"


def where(sheet: Sheet) -> str:
    """Name and altitude of the site; a line to write on where there is no name."""
    site = sheet.order.site
    return f"{site.name or 'Site: ____________________'}, {altitude_text(site.altitude_m, sheet.order.ruler)}"


def depths(sheet: Sheet) -> str:
    """How many of which depth.

    E.g. ``3 at 30 cm, 3 at 60 cm``.
    """
    ruler = sheet.order.ruler
    return ", ".join(f"{row.instrument.count} at {ruler.text(row.instrument.depth_mm)}" for row in sheet.rows)


def numbers(row: Row) -> str:
    """Running numbers of one depth: ``4`` or ``4-6``."""
    last = row.numbers[-1]
    return f"{row.first}" if last == row.first else f"{row.first}-{last}"


def stick_pieces(sheet: Sheet, stick: Stick) -> str:
    """What is cut from a length, in order: ``3 x 75 cm, 2 x 10 cm``."""
    lengths = [piece.length_mm for piece in stick.pieces]
    each = dict.fromkeys(lengths)
    return ", ".join(f"{lengths.count(length)} x {sheet.order.ruler.text(length)}" for length in each)


def geometry_note(sheet: Sheet) -> str:
    """How the lower tube is measured, and where the cup comes in."""
    ruler, pattern = sheet.order.ruler, sheet.order.pattern
    above, cup, half = (ruler.text(mm) for mm in (pattern.above_mm, pattern.cup_mm, pattern.cup_mm / 2))
    usual = "13 to 15 cm*" if ruler is Ruler.CM else "5 to 6 in*"
    return (
        f"Lower tube = depth + {above} for the part above the ground (usual: {usual}). Depths count from the soil to "
        f"the middle of the cup. The cup, {cup} outside of the tube, is not taken off: half of it, {half}, lifts the "
        f"tube, so {ruler.text(sheet.rows[0].instrument.stands_mm)} of tube stand above the ground. Measure your cups "
        "(--cup-length). The ground mark, drawn from the lower end of the lower tube, comes level with the soil."
    )


def head_note(sheet: Sheet) -> str:
    """Why something is taken off what the readout shows."""
    site, ruler = sheet.order.site, sheet.order.ruler
    return (
        f"The {sheet.order.readout.value} sits above the cup and shows more vacuum than there is tension at the cup. "
        f"The head is taken off: {head_per_10cm_kpa(site):.3f} kPa for each 10 cm of water at {site.water_c:g} C, "
        f"about 1 kPa for each 10 cm (4 in). The height is that of this sheet, with {ruler.text(TEE_STOP_MM)} from the "
        "end of the tube to the middle of the tee: measure the finished instrument."
    )


def limit_note(sheet: Sheet) -> str:
    """Where the usable limits come from."""
    site = sheet.order.site
    return (
        "The limit is the tension at the cup up to which a reading can be believed: "
        f"{site.air_kpa:.1f} kPa of air at {altitude_text(site.altitude_m, sheet.order.ruler)}, less "
        f"{vapour_pressure_kpa(site.water_c):.1f} for vapour, {site.gas_margin_kpa:g} for gas coming out of the water "
        "(an assumption; 14 gives the 85 kPa of ISO 11276 at sea level) and the head."
    )


def plan_note(sheet: Sheet) -> str:
    """How much pipe is bought and what becomes of it."""
    plan, order = sheet.plan, sheet.order
    written, number = order.ruler.text, len(plan.sticks)
    best = "no plan needs fewer" if number == plan.least_sticks else f"every plan needs {plan.least_sticks} or more"
    waste = 100.0 * (1.0 - plan.used_mm / plan.bought_mm)
    return (
        f"Buy {number} length{'s' * (number != 1)} of {written(order.stock_mm)} ({best}), {written(plan.bought_mm)} in "
        f"all: {written(plan.used_mm)} become tubes, {written(plan.sawdust_mm)} sawdust at {written(order.kerf_mm)} a "
        f"cut, {written(sum(plan.offcuts_mm))} offcuts ({waste:.0f} % waste). {_offcut_use(sheet)}"
    )


def _offcut_use(sheet: Sheet) -> str:
    ruler = sheet.order.ruler
    longest = max(sheet.plan.offcuts_mm, default=0.0)
    fits = [row.instrument for row in sheet.rows if row.instrument.lower_mm <= longest]
    if not fits:
        return "No offcut is long enough to replace a lower tube: one bad cut costs a further length."
    deepest = ruler.text(fits[-1].depth_mm)
    return f"The longest offcut, {ruler.text(longest)}, can replace a lower tube for {deepest}."


def part_note(sheet: Sheet, need: Need) -> str:
    """What to look for when buying a part; may be empty."""
    long = f"{sheet.order.ruler.text(sheet.order.stock_mm)} long; " if need.part.measure is Measure.STOCK else ""
    return long + need.part.note


def spares_note(sheet: Sheet) -> str:
    """Whether counts contain spares."""
    percent, spare = sheet.order.spares_percent, max(need.spare for need in sheet.needs)
    if not spare:
        return "Counts contain no spares."
    return f"Counts of pieces contain {spare} spare{'s' * (spare != 1)} of each ({percent:g} %, rounded up)."


def cost_notes(costs: Costs) -> Iterable[str]:
    """What the totals mean, sentence by sentence."""
    more = " (parts without a price not counted)" if costs.unpriced else ""
    number = costs.instruments
    yield (
        f"One tensiometer: {costs.money(costs.per_instrument)} for parts{more}; "
        f"{costs.money(costs.all_per_instrument)} with its share of what is paid once, over {number}."
    )
    if costs.unpriced:
        yield f"Without a price: {', '.join(costs.unpriced)}."
    if costs.bought_unit is None:
        yield "Give the price of a bought tensiometer (bought_unit) to see from how many on building pays."
    yield from _break_even_notes(costs)


def _break_even_notes(costs: Costs) -> Iterable[str]:
    even = costs.break_even
    if even is None or costs.bought_unit is None:
        return
    bought = f"a bought one at {costs.money(costs.bought_unit)}"
    if even.instruments is None:
        yield f"Break-even: never. Building one costs no less than {bought}, and what is paid once comes on top."
    elif even.instruments == 1:
        yield f"Break-even: with the first, against {bought}."
    else:
        least = "at least " if costs.unpriced else ""
        yield f"Break-even: {least}{even.instruments} tensiometers, against {bought}; then what is paid once is back."
    verb = "saves" if even.saved >= 0 else "costs more than buying, by"
    at_most = "at most " if costs.unpriced and even.saved > 0 else ""
    yield f"Building {costs.instruments} {verb} {at_most}{costs.money(abs(even.saved))}; your hours are not counted."


def bought(line: CostLine) -> str:
    """How often which price is paid: ``7 x 9.50`` or ``1 x 12.00 for 10``; empty without a price."""
    if line.price is None:
        return ""
    pack = f" for {line.price.pack}" if line.price.pack is not None else ""
    return f"{line.packs} x {figure(line.price.amount)}{pack}"


def line_total(line: CostLine) -> str:
    return "-" if line.total is None else figure(line.total)
