"""Heads and usable limits of built instruments; the formulas have their own tests in tests/oracle."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.testing.sheets import order_of, sheet_of
from parchd.workbench.errors import SheetError
from parchd.workbench.geometry import USUAL, Instrument
from parchd.workbench.lengths import Ruler
from parchd.workbench.limits import Reach, Site, head_per_10cm_kpa, range_warning, reach_of


def test_a_60_cm_instrument_has_79_cm_of_head_and_loses_as_much_range() -> None:
    reach = reach_of(Instrument(600.0, 1), Site("", 0.0))
    # 998.207 kg/m3 x 9.80665 m/s2 x 0.79 m, density of Tanaka et al. 2001 at 20 C
    assert reach.head_kpa == pytest.approx(7.7334, abs=1e-4)
    # 101.30 of air (FAO-56 eq. 7), 2.338 of vapour (eq. 11), 14 for gas
    assert reach.usable_kpa == pytest.approx(101.30 - 2.338 - 14.0 - 7.7334, abs=2e-3)


def test_at_1500_m_the_usable_limit_is_the_published_one_less_the_head() -> None:
    # 84.78 kPa of air at 1500 m: FAO-56 eq. 7
    reach = reach_of(Instrument(600.0, 1), Site("", 1500.0))
    assert reach.usable_kpa == pytest.approx(84.78 - 2.338 - 14.0 - 7.733, abs=0.01)


def test_ten_centimetres_of_water_are_0_979_kpa_at_20_degrees() -> None:
    assert head_per_10cm_kpa(Site("", 0.0)) == pytest.approx(0.9789, abs=5e-5)


def test_the_gauge_shows_the_head_on_top_of_what_the_proof_asks_for() -> None:
    reach = Reach(head_kpa=7.73, usable_kpa=72.4)
    assert (reach.proof_vacuum_kpa, reach.good_vacuum_kpa) == pytest.approx((27.73, 37.73))


@given(st.floats(100, 2500), st.floats(1, 400), st.floats(-400, 5000))
def test_a_deeper_instrument_has_more_head_and_less_range(depth_mm: float, more_mm: float, altitude_m: float) -> None:
    site = Site("", altitude_m)
    shallow, deep = (reach_of(Instrument(depth, 1), site) for depth in (depth_mm, depth_mm + more_mm))
    assert deep.head_kpa - shallow.head_kpa == pytest.approx(shallow.usable_kpa - deep.usable_kpa)
    assert deep.head_kpa > shallow.head_kpa


@pytest.mark.parametrize(
    ("usable_kpa", "said"),
    [
        (40.0, ""),
        (39.9, "can be believed up to 40 kPa only here, less than many limits for irrigation"),
        (20.0, "20 kPa only here, less than many limits for irrigation"),
        (19.9, "20 kPa only here, too little to pass the bench proof"),
        (0.0, "no tension at all here"),
        (-5.0, "Do not build it"),
    ],
)
def test_little_range_is_said_in_words(usable_kpa: float, said: str) -> None:
    warning = range_warning(Instrument(900.0, 1), Reach(10.0, usable_kpa), Ruler.CM)
    assert said in warning
    assert bool(said) == bool(warning)


def test_the_sheet_warns_of_depths_that_the_altitude_leaves_too_little_for_and_of_no_others() -> None:
    sheet = sheet_of(order_of(300.0, 1500.0, altitude_m=3400.0))
    assert [note.startswith("At a depth of 150 cm") for note in sheet.notes] == [True]


def test_those_who_think_in_inches_are_warned_in_inches() -> None:
    order = replace(order_of(60 * 25.4, altitude_m=3400.0), ruler=Ruler.INCH, pattern=USUAL[Ruler.INCH])
    (note,) = sheet_of(order).notes
    assert "At a depth of 60 in" in note
    assert "1 kPa with each 4 in" in note


@pytest.mark.parametrize("altitude_m", [-501.0, 9001.0, float("nan")])
def test_an_altitude_of_no_farm_is_refused(altitude_m: float) -> None:
    with pytest.raises(SheetError, match="-500 to 9000 m"):
        Site("", altitude_m)
