"""Tubes worked out by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.workbench.errors import SheetError
from parchd.workbench.geometry import TEE_STOP_MM, USUAL, Instrument, Pattern, instruments_of
from parchd.workbench.lengths import Ruler

INCH = 25.4


def test_for_24_inches_of_depth_the_lower_tube_has_30_inches() -> None:
    one = Instrument(24 * INCH, 1, USUAL[Ruler.INCH])
    assert one.lower_mm == pytest.approx(30 * INCH)  # 24 + 6, common practice
    assert one.lower_mm / 10 == pytest.approx(76, abs=0.5)
    assert Ruler.INCH.text(one.lower_mm) == "30 in"


def test_for_60_centimetres_of_depth_all_lengths_are_as_worked_out_by_hand() -> None:
    one = Instrument(600.0, 1)
    assert one.lower_mm == 600 + 150
    assert one.ground_mark_mm == 600 - 60 / 2  # the middle of the cup is 3 cm below the tube
    assert one.stands_mm == 150 + 60 / 2
    assert one.height_mm == 30 + 750 + 10
    assert one.length_mm == 60 + 750 + 2 * 10 + 100


@given(
    depth_mm=st.floats(251, 3000),
    above_mm=st.floats(10, 1000),
    top_mm=st.floats(20, 1000),
    cup_mm=st.floats(5, 500),
)
def test_with_the_ground_mark_level_with_the_soil_the_middle_of_the_cup_is_at_its_depth(
    depth_mm: float, above_mm: float, top_mm: float, cup_mm: float
) -> None:
    one = Instrument(depth_mm, 1, Pattern(above_mm, top_mm, cup_mm))
    assert one.ground_mark_mm + cup_mm / 2 == pytest.approx(depth_mm)
    assert one.ground_mark_mm + one.stands_mm == pytest.approx(one.lower_mm)
    assert one.height_mm == pytest.approx(depth_mm + one.stands_mm + TEE_STOP_MM)
    assert one.stands_mm > above_mm


@pytest.mark.parametrize(
    ("depth_mm", "count", "said"),
    [
        (-300.0, 1, r"more than 0: -30 cm \(-11 13/16 in\)"),
        (0.0, 1, "more than 0"),
        (20.0, 1, "would look out of the ground"),
        (60_000.0, 1, "more than any water column can bridge"),
        (600.0, 0, "at least 1"),
    ],
)
def test_what_cannot_stand_in_the_ground_is_refused(depth_mm: float, count: int, said: str) -> None:
    with pytest.raises(SheetError, match=said):
        Instrument(depth_mm, count)


@pytest.mark.parametrize("wrong", [{"above_mm": -1.0}, {"top_mm": 5.0}, {"cup_mm": 0.0}, {"above_mm": 1100.0}])
def test_a_pattern_that_nobody_builds_is_refused_with_its_range(wrong: dict[str, float]) -> None:
    with pytest.raises(SheetError, match=r"is [\d.]+ to [\d.]+ cm long, not"):
        Pattern(**wrong)


def test_instruments_come_shallow_first() -> None:
    assert [(i.depth_mm, i.count) for i in instruments_of({600.0: 2, 300.0: 1}, Pattern())] == [(300.0, 1), (600.0, 2)]
