"""Laws of the tubes: what each thing that can act on them does to the vacuum."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from parchd.simulator.grid import Grid
from parchd.simulator.vacuum import Tubes, follow

Floats = NDArray[np.float64]
HEAD_KPA = 4.0
DAY = 96
_EACH = ("soil_kpa", "head_kpa", "tau_s", "break_kpa", "hold_h", "drop_share", "fade_h")


def tubes(soil_kpa: Floats, *, tau_s: float = 300.0, break_kpa: float = 200.0) -> Tubes:
    """One tensiometer, looked at each quarter of an hour."""
    one = np.ones(1)
    grid = Grid(0, 900.0, 1, len(soil_kpa))
    return Tubes(
        grid, soil_kpa[:, None], HEAD_KPA * one, tau_s * one, break_kpa * one, 4.0 * one, 0.3 * one, 12.0 * one
    )


def drying(days: int, *, each: int = 8, highest_kpa: float = 40.0) -> Floats:
    """Saw teeth: the soil dries for some days and is wetted within three hours."""
    day = np.arange(days * DAY) / DAY % each
    wetted = np.clip((each - day) * 8.0, 0.0, 1.0)
    course: Floats = 3.0 + (highest_kpa - 3.0) * day / each * wetted
    return course


def tension(made: Tubes) -> Floats:
    felt: Floats = follow(made).vacuum_kpa[:, 0] - HEAD_KPA
    return felt


def column(made: Tubes, value: float, first: int, otherwise: float = np.nan) -> Floats:
    """A number from one moment on."""
    out = np.full(made.soil_kpa.shape, otherwise)
    out[first:] = value
    return out


def test_a_healthy_cup_follows_its_soil() -> None:
    soil = drying(24)
    assert np.abs(tension(tubes(soil, tau_s=60.0)) - soil).max() < 1.0


@given(st.floats(60.0, 1200.0))
@settings(max_examples=20)
def test_a_cup_in_wet_soil_answers_with_its_own_time(tau_s: float) -> None:
    soil = np.concatenate((np.full(4, 3.0), np.full(96, 0.0)))
    felt = tension(tubes(soil, tau_s=tau_s))
    assert felt[5] == pytest.approx(3.0 * np.exp(-2 * 900.0 / tau_s), rel=1e-6)


def test_a_cup_in_dry_soil_answers_more_slowly() -> None:
    up = np.concatenate((np.full(4, 0.0), np.full(4, 10.0)))
    high = up + 60.0
    quick, slow = tension(tubes(up, tau_s=1200.0)), tension(tubes(high, tau_s=1200.0)) - 60.0
    assert slow[4] < 0.6 * quick[4]


def test_a_lost_column_reads_minus_its_head_for_ever() -> None:
    soil = drying(30)
    made = tubes(soil)
    felt = tension(replace(made, lose_h=column(made, 0.5, 10 * DAY)))
    assert np.abs(felt[: 10 * DAY] - soil[: 10 * DAY]).max() < 5.0
    assert np.abs(felt[11 * DAY :] + HEAD_KPA).max() < 0.01


def test_a_slow_loss_falls_by_two_thirds_in_its_time() -> None:
    soil = np.full(20 * DAY, 30.0)
    made = tubes(soil)
    vacuum = follow(replace(made, lose_h=column(made, 20.0, DAY))).vacuum_kpa[:, 0]
    assert vacuum[DAY + 80 - 1] == pytest.approx(vacuum[DAY - 1] * np.exp(-1.0), rel=1e-6)


def test_a_refilled_tube_works_again() -> None:
    soil = np.concatenate((np.linspace(40.0, 90.0, 2 * DAY), np.full(6 * DAY, 20.0)))
    made = tubes(soil, break_kpa=70.0)
    filled = np.zeros(made.soil_kpa.shape, dtype=np.bool_)
    filled[5 * DAY] = True
    felt = tension(replace(made, refilled=filled))
    assert felt[5 * DAY - 1] < 5.0
    assert felt[-1] == pytest.approx(20.0, abs=0.1)


def test_a_cup_at_its_limit_flattens_breaks_and_reads_wet() -> None:
    soil = np.concatenate((np.linspace(40.0, 100.0, 4 * DAY), np.full(4 * DAY, 100.0)))
    followed = follow(tubes(soil, break_kpa=70.0))
    felt = followed.vacuum_kpa[:, 0] - HEAD_KPA
    ((row, moment),) = followed.broken
    assert row == 0
    assert 70.0 < felt[moment - 1] < 75.0
    assert felt[moment - 1] - felt[moment] > 40.0
    rise = np.diff(felt)
    assert rise[moment - 4] < 0.3 * rise[2 * DAY - 40]
    assert felt[-1] == pytest.approx(-HEAD_KPA, abs=0.5)
    assert followed.dead[-1, 0]


def test_a_column_that_broke_goes_on_fading_when_another_breaks() -> None:
    soil = np.concatenate((np.linspace(40.0, 100.0, 4 * DAY), np.full(4 * DAY, 100.0)))
    one, other = tubes(soil, break_kpa=70.0), tubes(soil, break_kpa=90.0)
    pairs = {name: np.append(getattr(one, name), getattr(other, name), axis=-1) for name in _EACH}
    followed = follow(replace(one, **pairs))
    (_, first), (_, second) = followed.broken
    assert first < second
    assert np.all(np.diff(followed.vacuum_kpa[first:, 0]) <= 0.0)


def test_a_cup_that_is_wetted_in_time_does_not_break() -> None:
    soil = drying(24, highest_kpa=72.0)
    assert follow(tubes(soil, break_kpa=71.5)).broken == []


def test_a_leak_holds_the_maxima_down_and_hardly_shows_after_water() -> None:
    soil = drying(48)
    made = tubes(soil)
    felt = tension(replace(made, leak_per_h=column(made, 1 / 10.0, 16 * DAY, 0.0), choked_h=np.array([7.0])))
    assert felt[: 16 * DAY].max() > 38.0
    assert felt[17 * DAY :].max() < 22.0
    wettest = int(np.argmin(soil[24 * DAY - 20 : 24 * DAY + 20])) + 24 * DAY - 20
    assert abs(felt[wettest + 8] - soil[wettest + 8]) < 3.0


def test_a_cracked_cup_holds_only_a_little_and_follows_below_that() -> None:
    soil = np.concatenate((np.full(4 * DAY, 30.0), np.full(4 * DAY, -1.0)))
    made = tubes(soil)
    felt = tension(replace(made, crack_kpa=column(made, 3.0, DAY)))
    assert felt[DAY - 1] == pytest.approx(30.0, abs=0.1)
    assert felt[3 * DAY] == pytest.approx(3.0, abs=0.1)
    assert felt[-1] == pytest.approx(-1.0, abs=0.1)


def test_a_clogged_cup_comes_late() -> None:
    soil = drying(32)
    made = tubes(soil)
    felt = tension(replace(made, slow_s=column(made, 30 * 3600.0, 0, 0.0)))
    assert felt[8 * DAY : 9 * DAY].min() > soil[8 * DAY : 9 * DAY].min() + 10.0


def test_a_cup_without_contact_follows_part_of_the_drying_and_is_right_after_water() -> None:
    soil = drying(24)
    made = tubes(soil)
    felt = tension(replace(made, gap_share=column(made, 0.3, 0), gap_lag_h=np.array([12.0])))
    assert 12.0 < felt.max() < 21.0
    wet = soil < 5.0
    assert np.abs(felt[wet] - soil[wet]).max() < 8.0
    assert np.median(np.abs(felt[wet] - soil[wet])) < 1.0


@pytest.mark.parametrize(("ice_kpa", "expected"), [(-10.0, -10.0), (np.inf, 20.0)])
def test_ice_pushes_or_holds(ice_kpa: float, expected: float) -> None:
    soil = np.concatenate((np.full(2 * DAY, 20.0), np.full(2 * DAY, 25.0)))
    made = tubes(soil)
    felt = tension(replace(made, ice_kpa=column(made, ice_kpa, DAY)))
    assert felt[-1] == pytest.approx(expected, abs=0.5)


def test_an_open_tube_shows_no_vacuum() -> None:
    made = tubes(np.full(DAY, 40.0))
    opened = np.zeros(made.soil_kpa.shape, dtype=np.bool_)
    opened[40:42] = True
    felt = tension(replace(made, open_=opened))
    assert felt[41] < 0.0
    assert felt[-1] == pytest.approx(40.0, abs=0.5)
