"""The sheet for a terminal of 80 columns, in plain ASCII but for what the user brought along."""

import textwrap
from collections.abc import Iterable, Sequence

from parchd.workbench import words
from parchd.workbench.costs import CostLine, Costs, figure
from parchd.workbench.sheet import Row, Sheet
from parchd.workbench.steps import ALWAYS, STAR, Step, build_steps, install_steps, proof_steps

WIDTH = 80
_NAME = 27

_FIGURE = r"""
        _
       |_|        {closure}
       | |        top piece: {top} to cut
      _|_|__
     |_   __|=O   tee and {readout}
       | |        |
       | |        | {stands} of tube above the ground
  -----|-|----    ground mark
       | |        :
       | |        : lower tube: depth + {above} to cut
       |_|        :
       (_)        cup: {cup} outside of the tube; its middle is the depth
"""


def sheet_text(sheet: Sheet) -> str:
    """Write all of a sheet; each line has at most 80 columns."""
    order = sheet.order
    blocks = [
        [_spread(f"BUILD SHEET: {words.heading(sheet)}", sheet.made_on.isoformat()), words.where(sheet)],
        [line for note in sheet.notes for line in _wrapped(f"NOTE: {note}", indent="      ")],
        ["ONE TENSIOMETER", *_figure(sheet), "", *_wrapped(words.geometry_note(sheet))],
        [
            f"DEPTHS (lengths in {order.ruler.value}, pressures in kPa)",
            *_depths(sheet),
            "",
            *_wrapped(f"{words.head_note(sheet)} {words.limit_note(sheet)}"),
        ],
        ["CUTTING PLAN", *_plan(sheet), "", *_wrapped(words.plan_note(sheet))],
        ["PARTS", *_parts(sheet), "", *_wrapped(words.spares_note(sheet))],
        _costs(sheet.costs),
        ["BUILD", *_wrapped(f"CAUTION: {ALWAYS}", indent="  "), *_steps(build_steps(order.readout, order.closure))],
        ["BENCH PROOF", *_steps(proof_steps(order.readout, order.closure)), "", *_proof(sheet)],
        ["INSTALL", *_steps(install_steps(order.readout, order.closure)), "", *_wrapped(STAR)],
    ]
    return "\n\n".join("\n".join(line.rstrip() for line in block) for block in blocks if block) + "\n"


def _figure(sheet: Sheet) -> list[str]:
    order, ruler = sheet.order, sheet.order.ruler
    return _FIGURE.format(
        closure=order.closure.value,
        readout=order.readout.value,
        top=ruler.text(order.pattern.top_mm),
        above=ruler.text(order.pattern.above_mm),
        stands=ruler.text(sheet.rows[0].instrument.stands_mm),
        cup=ruler.text(order.pattern.cup_mm),
    ).splitlines()[1:]


def _depths(sheet: Sheet) -> Iterable[str]:
    head = ("depth", "count", "No.", "lower tube", "ground mark", "height", "head", "limit")
    return _table(head, [_depth_cells(sheet, row) for row in sheet.rows], "<>>>>>>>")


def _depth_cells(sheet: Sheet, row: Row) -> tuple[str, ...]:
    ruler, one, reach = sheet.order.ruler, row.instrument, row.reach
    lengths = (one.lower_mm, one.ground_mark_mm, one.height_mm)
    return (
        ruler.number(one.depth_mm), f"{one.count}", words.numbers(row), *map(ruler.number, lengths),
        f"{reach.head_kpa:.2f}", f"{reach.usable_kpa:.1f}",
    )  # fmt: skip


def _plan(sheet: Sheet) -> Iterable[str]:
    ruler = sheet.order.ruler
    for number, stick in sheet.plan.grouped():
        left = ruler.text(stick.offcut_mm) if stick.offcut_mm else "nothing"
        line = f"[ ] {number} x {ruler.text(stick.stock_mm)}: {words.stick_pieces(sheet, stick)}; offcut {left}"
        yield from _wrapped(line, indent="      ")


def _parts(sheet: Sheet) -> Iterable[str]:
    for need in sheet.needs:
        note = f": {said}" if (said := words.part_note(sheet, need)) else ""
        yield from _wrapped(f"[ ] {need.text:<10} {need.part.title}{note}", indent=" " * 15)


def _costs(costs: Costs | None) -> list[str]:
    if costs is None:
        return ["COSTS", *_wrapped(words.NO_PRICES)]
    rows = [_cost_cells(line) for line in costs.lines]
    rows.append(("parts", "", "", figure(costs.parts_total)))
    rows += [(_short(name, _NAME), "once", "", figure(amount)) for name, amount in costs.tools]
    rows.append(("parts and what is paid once", "", "", figure(costs.parts_total + costs.tools_total)))
    currency = f" ({costs.currency})" if costs.currency else ""
    notes = [line for note in words.cost_notes(costs) for line in _wrapped(note, indent="  ")]
    return [f"COSTS{currency}", *_table(("part", "needed", "bought", "sum"), rows, "<>>>"), "", *notes]


def _cost_cells(line: CostLine) -> tuple[str, ...]:
    return _short(line.need.part.title, _NAME), line.need.text, words.bought(line), words.line_total(line)


def _steps(steps: Iterable[Step]) -> Iterable[str]:
    for number, step in enumerate(steps, 1):
        head = f"[ ] {number}. " if step.ticked else " " * 7
        yield from _wrapped(f"{head}{step.title}. {step.text}", indent="       ")
        if step.caution:
            yield from textwrap.wrap(
                f"CAUTION: {step.caution}", WIDTH, initial_indent=" " * 7, subsequent_indent=" " * 16
            )


def _proof(sheet: Sheet) -> Iterable[str]:
    yield f"Vacuum that the {sheet.order.readout.value} shows on an upright instrument, kPa:"
    rows = [
        (
            sheet.order.ruler.text(row.instrument.depth_mm),
            f"{row.reach.head_kpa:.1f}",
            f"{row.reach.proof_vacuum_kpa:.1f}",
            f"{row.reach.good_vacuum_kpa:.1f}",
        )
        for row in sheet.rows
    ]
    yield from _table(("depth", "cup in water", "towel, at least*", "towel, good*"), rows, "<>>>")


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], sides: str) -> list[str]:
    widths = [max(len(row[column]) for row in (head, *rows)) for column in range(len(head))]
    lines = [
        "  ".join(f"{cell:{side}{width}}" for cell, side, width in zip(row, sides, widths, strict=True))
        for row in (head, *rows)
    ]
    return ["  " + line.rstrip() for line in lines]


def _wrapped(text: str, *, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_on_hyphens=False)


def _spread(left: str, right: str) -> str:
    return f"{left}{right:>{max(len(right) + 1, WIDTH - len(left))}}"


def _short(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 2] + ".."
