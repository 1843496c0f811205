"""Cutting plans: worked out by hand, and against the best plan there is."""

from collections import Counter
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.workbench.cutting import CuttingPlan, Piece, Stick, cut
from parchd.workbench.errors import SheetError


def pieces(*lengths_mm: float) -> list[Piece]:
    return [Piece(length, f"tube {length:g}") for length in lengths_mm]


def lengths(plan: CuttingPlan) -> list[list[float]]:
    return [[piece.length_mm for piece in stick.pieces] for stick in plan.sticks]


def best(lengths_mm: list[int], stock_mm: int, kerf_mm: int) -> int:
    """The fewest lengths of pipe that any plan needs, by trying all of them (pieces as bits)."""

    def fits(chosen: int) -> bool:
        inside = [length for index, length in enumerate(lengths_mm) if chosen >> index & 1]
        return sum(inside) + kerf_mm * (len(inside) - 1) <= stock_mm

    @cache
    def fewest(left: int) -> int:
        if not left:
            return 0
        first, rest, counts = left & -left, left & (left - 1), []
        others = rest
        while True:  # all subsets of the rest that go with the first piece
            if fits(first | others):
                counts.append(1 + fewest(rest & ~others))
            if not others:
                return min(counts)
            others = (others - 1) & rest

    return fewest((1 << len(lengths_mm)) - 1)


def test_six_instruments_come_out_of_two_pipes_as_worked_out_by_hand() -> None:
    plan = cut(pieces(*[750.0] * 3, *[450.0] * 3, *[100.0] * 6), stock_mm=3000.0, kerf_mm=3.0)
    assert lengths(plan) == [[750.0, 750.0, 750.0, 450.0, 100.0, 100.0], [450.0, 450.0, 100.0, 100.0, 100.0, 100.0]]
    first, second = plan.sticks
    assert first.used_mm == 2900.0
    assert (first.cuts, first.sawdust_mm, first.offcut_mm) == (6, 18.0, 82.0)  # 3000 - 2900 - 6 x 3
    assert (second.used_mm, second.offcut_mm) == (1300.0, 1682.0)  # 3000 - 1300 - 6 x 3
    assert plan.used_mm + plan.sawdust_mm + sum(plan.offcuts_mm) == plan.bought_mm == 6000.0
    assert plan.least_sticks == 2  # 4200 + 12 x 3 = 4236 of 3003 each


def test_the_saw_takes_its_share_between_pieces() -> None:
    """Four times 250 fill a metre exactly, but three cuts lie between them."""
    assert len(cut(pieces(*[250.0] * 4), 1000.0, 0.0).sticks) == 1
    assert len(cut(pieces(*[250.0] * 4), 1000.0, 3.0).sticks) == 2
    assert len(cut(pieces(*[247.75] * 4), 1000.0, 3.0).sticks) == 1  # 4 x 247.75 + 3 x 3 = 1000


def test_no_cut_is_made_where_the_pipe_ends_with_the_last_piece() -> None:
    (stick,) = cut(pieces(497.0, 500.0), 1000.0, 3.0).sticks
    assert (stick.cuts, stick.offcut_mm, stick.sawdust_mm) == (1, 0.0, 3.0)


def test_a_rest_smaller_than_the_saw_is_sawdust_and_no_offcut() -> None:
    (stick,) = cut(pieces(499.0, 496.0), 1000.0, 3.0).sticks
    assert (stick.cuts, stick.offcut_mm, stick.sawdust_mm) == (2, 0.0, 5.0)
    assert cut(pieces(499.0, 496.0), 1000.0, 3.0).offcuts_mm == ()


def test_sixteenths_of_an_inch_that_fit_exactly_do_fit() -> None:
    sixteenths = 25.4 / 16
    assert len(cut(pieces(*[31 * sixteenths] * 12), 12 * 31 * sixteenths, 0.0).sticks) == 1


def test_a_plan_may_need_more_than_the_least() -> None:
    plan = cut(pieces(510.0, 510.0, 510.0), 1000.0, 0.0)
    assert (len(plan.sticks), plan.least_sticks) == (3, 2)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(60, 1000), min_size=1, max_size=9), st.integers(0, 8))
def test_a_plan_needs_hardly_more_than_the_best_one(lengths_mm: list[int], kerf_mm: int) -> None:
    """Dosa 2007: first-fit decreasing needs at most 11/9 of the best and 6/9 more."""
    plan = cut(pieces(*map(float, lengths_mm)), 1000.0, float(kerf_mm))
    fewest = best(lengths_mm, 1000, kerf_mm)
    assert plan.least_sticks <= fewest <= len(plan.sticks) <= (11 * fewest + 6) / 9


@given(st.lists(st.floats(20, 3000), max_size=60), st.floats(0, 10))
def test_every_piece_is_cut_once_and_every_pipe_holds_what_is_cut_from_it(
    lengths_mm: list[float], kerf_mm: float
) -> None:
    plan = cut(pieces(*lengths_mm), 3000.0, kerf_mm)
    assert Counter(length for stick in lengths(plan) for length in stick) == Counter(lengths_mm)
    for stick in plan.sticks:
        assert stick.used_mm + (len(stick.pieces) - 1) * kerf_mm <= 3000.0 + 0.01
        assert stick.used_mm + stick.sawdust_mm + stick.offcut_mm == pytest.approx(3000.0)
    assert sum(number for number, _ in plan.grouped()) == len(plan.sticks)


def test_pipes_that_are_cut_alike_are_shown_once() -> None:
    plan = cut(pieces(*[900.0] * 5), 1000.0, 3.0)
    assert [(number, stick.pieces[0].length_mm) for number, stick in plan.grouped()] == [(5, 900.0)]


def test_nothing_to_cut_needs_no_pipe() -> None:
    assert (cut([], 1000.0, 3.0).sticks, cut([], 1000.0, 3.0).least_sticks) == ((), 0)


def test_a_piece_longer_than_the_pipe_is_refused_with_what_to_do() -> None:
    with pytest.raises(SheetError, match=r"lower tube of 315 cm .* pipe of 300 cm .*--stock-length"):
        cut([Piece(3150.0, "lower tube")], 3000.0, 3.0)


@pytest.mark.parametrize("kerf_mm", [-1.0, 51.0, float("nan")])
def test_a_saw_that_takes_too_much_or_less_than_nothing_is_refused(kerf_mm: float) -> None:
    with pytest.raises(SheetError, match="0 to 50 mm"):
        cut(pieces(100.0), 3000.0, kerf_mm)


def test_a_stick_knows_what_still_fits() -> None:
    stick = Stick(1000.0, 3.0, (Piece(600.0, "a"),))
    assert stick.takes(Piece(397.0, "b"))
    assert not stick.takes(Piece(397.1, "b"))
