"""What a sheet gathers."""

from dataclasses import replace
from datetime import date

import pytest

from parchd.testing.sheets import PRICES, order_of, sheet_of
from parchd.workbench.errors import SheetError
from parchd.workbench.geometry import Pattern
from parchd.workbench.sheet import MOST_INSTRUMENTS, draw_up
from parchd.workbench.words import depths, geometry_note, numbers, plan_note, spares_note


def test_instruments_are_numbered_through_from_the_shallowest() -> None:
    sheet = sheet_of(order_of(600.0, 300.0, 450.0, count=2))
    assert [(row.instrument.depth_mm, list(row.numbers)) for row in sheet.rows] == [
        (300.0, [1, 2]), (450.0, [3, 4]), (600.0, [5, 6]),
    ]  # fmt: skip
    assert [numbers(row) for row in sheet.rows] == ["1-2", "3-4", "5-6"]
    assert (sheet.count, depths(sheet)) == (6, "2 at 30 cm, 2 at 45 cm, 2 at 60 cm")


def test_every_instrument_has_a_lower_tube_and_a_top_piece_in_the_plan() -> None:
    sheet = sheet_of(order_of(300.0, 600.0, count=3))
    names = [(piece.name, piece.length_mm) for stick in sheet.plan.sticks for piece in stick.pieces]
    assert sorted(names) == sorted(
        [("lower tube", 450.0)] * 3 + [("lower tube", 750.0)] * 3 + [("top piece", 100.0)] * 6
    )
    assert next(need.used for need in sheet.needs if need.part.key == "pipe") == len(sheet.plan.sticks) == 2


def test_the_parts_list_asks_for_as_many_cans_as_the_prices_say_that_it_takes() -> None:
    sheet = sheet_of(order_of(300.0, count=25), PRICES)
    counts = {need.part.key: need.total for need in sheet.needs}
    assert (counts["epoxy"], counts["cement"], counts["input"]) == (3, 1, 25)


def test_without_prices_there_are_no_costs() -> None:
    assert sheet_of(order_of(), "").costs is None
    assert draw_up(order_of(), date(2026, 5, 14)).costs is None


def test_an_unusual_allowance_is_pointed_out() -> None:
    assert sheet_of(order_of()).notes == ()
    (note,) = sheet_of(replace(order_of(), pattern=Pattern(above_mm=300.0))).notes
    assert note == "30 cm above the ground is not the usual 13 to 15 cm."


def test_depths_that_look_like_another_unit_are_pointed_out() -> None:
    (note,) = sheet_of(order_of(60.0)).notes
    assert note == "Is a depth of 6 cm meant? Lengths are in cm, unless they carry a unit."
    assert sheet_of(order_of(60.0, 300.0)).notes == ()


def test_the_callers_notes_come_first() -> None:
    assert sheet_of(order_of(60.0), notes=("Look here.", "")).notes[0] == "Look here."


@pytest.mark.parametrize("count", [0, -1, MOST_INSTRUMENTS + 1])
def test_a_number_that_nobody_builds_is_refused(count: int) -> None:
    with pytest.raises(SheetError, match=r"1 to 500|at least 1"):
        sheet_of(order_of(300.0, count=count))
    with pytest.raises(SheetError, match="1 to 500"):
        draw_up(replace(order_of(), depths_mm={}), date(2026, 5, 14))


def test_the_plan_says_what_is_bought_and_what_becomes_of_it() -> None:
    assert plan_note(sheet_of(order_of())) == (
        "Buy 2 lengths of 300 cm (no plan needs fewer), 600 cm in all: 420 cm become tubes, 3.6 cm sawdust at 3 mm a "
        "cut, 176.4 cm offcuts (30 % waste). The longest offcut, 168.2 cm, can replace a lower tube for 60 cm."
    )
    alone = plan_note(sheet_of(replace(order_of(600.0, count=1), stock_mm=1000.0)))
    assert "No offcut is long enough" in alone
    # three tubes of 51 cm take three lengths of 1 m, though all pieces and cuts would fill less than two
    split = plan_note(sheet_of(replace(order_of(360.0, count=3), stock_mm=1000.0)))
    assert "Buy 3 lengths of 100 cm (every plan needs 2 or more)" in split


def test_the_cup_is_explained_and_spares_are_counted() -> None:
    sheet = sheet_of(order_of())
    note = geometry_note(sheet)
    assert "The cup, 6 cm outside of the tube, is not taken off: half of it, 3 cm, lifts the tube" in note
    assert "so 18 cm of tube stand above the ground" in note
    assert spares_note(sheet) == "Counts of pieces contain 1 spare of each (10 %, rounded up)."
    assert spares_note(sheet_of(replace(order_of(), spares_percent=0.0))) == "Counts contain no spares."
