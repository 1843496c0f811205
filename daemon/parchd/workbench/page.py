"""The sheet as one HTML page that needs nothing else: for screens, phones, and paper in A4 or Letter."""

from collections.abc import Iterable
from decimal import Decimal
from html import escape
from importlib.resources import files

from parchd.workbench import words
from parchd.workbench.costs import CostLine, Costs, figure
from parchd.workbench.cutting import Stick
from parchd.workbench.drawing import drawing, scales_for
from parchd.workbench.markup import row, section, table, tag, tick_box
from parchd.workbench.markup import words as plain
from parchd.workbench.parts import Need
from parchd.workbench.sheet import Row, Sheet
from parchd.workbench.steps import ALWAYS, STAR, Step, build_steps, install_steps, proof_steps

_LEAST_LABELLED = 0.03


def sheet_page(sheet: Sheet) -> str:
    """Write all of a sheet as HTML; it is well-formed XML as well, and names nothing outside of itself."""
    order = sheet.order
    sections = [
        section("Drawings", _drawings(sheet)),
        section("Depths", _depths(sheet)),
        section("Cutting plan", _plan(sheet)),
        section("Parts" if sheet.costs is None else "Parts and costs", _parts(sheet)),
        section("Build", [_caution(ALWAYS), _steps(build_steps(order.readout, order.closure))]),
        section("Bench proof", [_steps(proof_steps(order.readout, order.closure)), *_proof(sheet)]),
        section("Install", [_steps(install_steps(order.readout, order.closure))]),
        section("Record", _record(sheet)),
    ]
    notes = [tag("p", f"{plain('span', 'Note', 'word')}: {escape(note, quote=False)}", "note") for note in sheet.notes]
    body = "\n".join([_header(sheet), *notes, *sections, tag("footer", plain("p", STAR, "small"))])
    style = files("parchd.workbench").joinpath("page.css").read_text(encoding="utf-8")
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8"/>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1"/>\n'
        f"{plain('title', f'Build sheet: {words.heading(sheet)}, {sheet.made_on.isoformat()}')}\n"
        f"<style>\n{style}</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n</body>\n</html>\n"
    )


def _header(sheet: Sheet) -> str:
    lines = [
        plain("h1", f"Build sheet: {words.heading(sheet)}"),
        plain("p", sheet.made_on.isoformat()),
        plain("p", f"{words.where(sheet)}. {words.depths(sheet)}."),
    ]
    return tag("header", "\n".join(lines))


def _drawings(sheet: Sheet) -> Iterable[str]:
    order, scales = sheet.order, scales_for([row.instrument for row in sheet.rows])
    figures = [
        tag(
            "figure",
            plain(
                "figcaption", f"{order.ruler.text(row.instrument.depth_mm)} deep: No. {words.numbers(row)} (1:{scale})"
            )
            + drawing(row.instrument, scale, order.ruler, order.readout, order.closure),
        )
        for row, scale in zip(sheet.rows, scales, strict=True)
    ]
    yield tag("div", "\n".join(figures), "drawings")
    yield plain("p", f"Lengths are to scale when printed at 100 %. {words.geometry_note(sheet)}", "small")


def _depths(sheet: Sheet) -> Iterable[str]:
    unit = sheet.order.ruler.value
    lengths = [f"{what}, {unit}" for what in ("Lower tube", "Ground mark", "Height")]
    head = (f"Depth, {unit}", "No.", *lengths, "Head, kPa", "Limit, kPa")
    rows = [row(_depth_cells(sheet, r), "<>>>>>>") for r in sheet.rows]
    yield table(head, rows, "<>>>>>>")
    yield plain("p", f"{words.head_note(sheet)} {words.limit_note(sheet)}", "small")


def _depth_cells(sheet: Sheet, r: Row) -> list[str]:
    one = r.instrument
    lengths = (one.lower_mm, one.ground_mark_mm, one.height_mm)
    written = [sheet.order.ruler.number(length) for length in lengths]
    depth, head, limit = sheet.order.ruler.number(one.depth_mm), f"{r.reach.head_kpa:.2f}", f"{r.reach.usable_kpa:.1f}"
    return [depth, words.numbers(r), *written, head, limit]


def _plan(sheet: Sheet) -> Iterable[str]:
    yield plain("p", words.plan_note(sheet))
    sticks = [_stick(sheet, number, stick) for number, stick in sheet.plan.grouped()]
    yield tag("ul", "\n".join(sticks), "sticks")


def _stick(sheet: Sheet, number: int, stick: Stick) -> str:
    ruler = sheet.order.ruler
    what = f"{number} \u00d7 {ruler.text(stick.stock_mm)}: {words.stick_pieces(sheet, stick)}".replace(
        " x ", " \u00d7 "
    )
    pieces = [_bar(sheet, stick, piece.length_mm) for piece in stick.pieces]
    if stick.offcut_mm:
        pieces.append(_bar(sheet, stick, stick.offcut_mm, "offcut"))
        what += f"; offcut {ruler.text(stick.offcut_mm)}"
    label = tag("label", tick_box(f"cut: {what}") + plain("span", what))
    return tag("li", label + f'<div class="stick" aria-hidden="true">{"".join(pieces)}</div>')


def _bar(sheet: Sheet, stick: Stick, length_mm: float, kind: str = "") -> str:
    """One part of the picture of a length; where it is too narrow for its number, the line above has it."""
    size = sheet.order.ruler.number(length_mm) if length_mm >= _LEAST_LABELLED * stick.stock_mm else ""
    of_kind = f' class="{kind}"' if kind else ""
    return f'<span{of_kind} style="--mm: {length_mm:.1f}">{plain("b", size)}</span>'


def _parts(sheet: Sheet) -> Iterable[str]:
    costs = sheet.costs
    if costs is None:
        rows = [row(_part_cells(sheet, need), "<<>") for need in sheet.needs]
        yield table(("", "Part", "Needed"), rows, "<<>")
    else:
        yield _cost_table(sheet, costs)
    yield plain("p", words.spares_note(sheet), "small")
    if costs is None:
        yield plain("p", words.NO_PRICES, "small screen")
    else:
        yield from (plain("p", note) for note in words.cost_notes(costs))


def _part_cells(sheet: Sheet, need: Need, bought: str = "") -> list[str]:
    title = plain("span", need.part.title) + _small(words.part_note(sheet, need))
    return [tick_box(need.part.title), title, plain("span", need.text) + _small(bought)]


def _small(text: str) -> str:
    return plain("small", text) if text else ""


def _cost_table(sheet: Sheet, costs: Costs) -> str:
    total = f"Sum ({costs.currency})" if costs.currency else "Sum"
    lines = zip(sheet.needs, costs.lines, strict=True)
    rows = [row(_cost_cells(sheet, need, line), "<<>>") for need, line in lines]
    rows.append(_sum_row("Parts", costs.parts_total))
    for name, amount in costs.tools:
        rows.append(row([tick_box(name), plain("span", name), "once", figure(amount)], "<<>>"))
    rows.append(_sum_row("Parts and what is paid once", costs.parts_total + costs.tools_total))
    return table(("", "Part", "Needed", total), rows, "<<>>")


def _cost_cells(sheet: Sheet, need: Need, line: CostLine) -> list[str]:
    bought = words.bought(line).replace(" x ", " \u00d7 ")
    return [*_part_cells(sheet, need, bought), words.line_total(line)]


def _sum_row(name: str, amount: Decimal) -> str:
    return row(["", name, "", figure(amount)], "<<>>", "sum")


def _steps(steps: Iterable[Step]) -> str:
    items = []
    for number, step in enumerate(steps, 1):
        head = plain("strong", f"{number}. {step.title}." if step.ticked else f"{step.title}.")
        said = f"<span>{head} {escape(step.text, quote=False)}</span>"
        text = tag("label", tick_box(step.title) + said) if step.ticked else said
        items.append(tag("li", text + (_caution(step.caution) if step.caution else ""), "" if step.ticked else "plain"))
    return tag("ul", "\n".join(items), "steps")


def _caution(text: str) -> str:
    return tag("p", f"{plain('span', 'CAUTION', 'word')}: {escape(text, quote=False)}", "caution")


def _proof(sheet: Sheet) -> Iterable[str]:
    yield plain("p", f"Vacuum that the {sheet.order.readout.value} shows on an upright instrument, kPa:")
    rows = [
        row(
            [
                sheet.order.ruler.text(r.instrument.depth_mm), f"{r.reach.head_kpa:.1f}",
                f"{r.reach.proof_vacuum_kpa:.1f}", f"{r.reach.good_vacuum_kpa:.1f}",
            ],
            "<>>>",
        )
        for r in sheet.rows
    ]  # fmt: skip
    yield table(("Depth", "Cup in water", "Towel, at least*", "Towel, good*"), rows, "<>>>")


def _record(sheet: Sheet) -> Iterable[str]:
    unit = sheet.order.ruler.value
    head = ("No.", "Depth", f"Height, {unit}", "Towel, kPa", "In water, kPa", "Passed on", "Set on, where")
    rows = [
        row([f"{number}", sheet.order.ruler.text(r.instrument.depth_mm), "", "", "", "", ""], "><<<<<<")
        for r in sheet.rows
        for number in r.numbers
    ]
    yield table(head, rows, "><<<<<<", "record")
