"""Falls of tension, and what explains them."""

import math
from collections.abc import Callable

import pytest

from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.standing import Fall
from parchd.testing.diagnosing import BEGIN_US, Watched, instrument

Tension = Callable[[float], float]


def drying(start_kpa: float = 20.0, per_day_kpa: float = 4.0, ripple_kpa: float = 0.3) -> Tension:
    """Dry evenly, with a daily swing that is highest at 20:00."""
    return lambda h: start_kpa + per_day_kpa * h / 24.0 + ripple_kpa * math.cos(2 * math.pi * (h - 20.0) / 24.0)


def wetted(
    curve: Tension, at_h: float, to_kpa: float = 4.0, within_h: float = 2.0, per_day_kpa: float = 2.0
) -> Tension:
    """Let water come: it falls as an exponential does, then dries again."""

    def later(h: float) -> float:
        if h < at_h:
            return curve(h)
        left = math.exp(-(h - at_h) / within_h)
        return to_kpa + (curve(at_h) - to_kpa) * left + per_day_kpa * (h - at_h) / 24.0

    return later


def falls_of(farm: Watched, name: str) -> list[Fall]:
    return farm.standing(f"bus1/{name}").falls


def hour(number: float) -> int:
    return BEGIN_US // HOUR_US + int(number)


def test_drying_with_a_daily_swing_is_no_fall() -> None:
    farm = Watched(instrument("north-20")).run(12 * 24, {"bus1/north-20": drying(ripple_kpa=5.0)})

    assert falls_of(farm, "north-20") == []


def test_water_makes_one_fall_with_its_begin_and_size() -> None:
    farm = Watched(instrument("north-20")).run(8 * 24, {"bus1/north-20": wetted(drying(), at_h=100.0)})

    (fall,) = falls_of(farm, "north-20")
    assert abs(fall.begin - hour(100)) <= 1
    assert fall.from_kpa == pytest.approx(drying()(100.0), abs=1.0)
    assert fall.low_kpa == pytest.approx(4.5, abs=1.0)
    assert fall.over


def test_water_that_reached_a_neighbour_explains_a_fall_within_hours() -> None:
    farm = Watched(instrument("north-20"), instrument("north-30", station="post 2"))
    curves = {"bus1/north-20": wetted(drying(), 100.0), "bus1/north-30": wetted(drying(18.0), 101.0)}

    farm.run(106, curves)

    assert [fall.why for fall in falls_of(farm, "north-20")] == ["neighbours"]


def test_a_fall_beside_dry_neighbours_stays_unexplained_while_it_does_not_dry_again() -> None:
    farm = Watched(instrument("north-20"), instrument("north-30", station="post 2"))
    curves = {"bus1/north-20": wetted(drying(), 100.0, to_kpa=9.0, per_day_kpa=0.0), "bus1/north-30": drying(18.0)}

    farm.run(9 * 24, curves)

    assert [fall.explained for fall in falls_of(farm, "north-20")] == [None]


def test_without_neighbours_a_quick_fall_that_stays_above_the_empty_tube_is_taken_for_water() -> None:
    farm = Watched(instrument("north-20"))

    farm.run(100 + 20, {"bus1/north-20": wetted(drying(), 100.0)})

    assert [fall.why for fall in falls_of(farm, "north-20")] == ["behaviour"]


@pytest.mark.parametrize("gap_h", [3.0, 20.0])
def test_a_fall_across_a_gap_is_seen(gap_h: float) -> None:
    whole = wetted(drying(), 100.0)
    farm = Watched(instrument("north-20"))

    farm.run(8 * 24, {"bus1/north-20": lambda h: None if 99.0 < h < 99.0 + gap_h else whole(h)})

    assert len(falls_of(farm, "north-20")) == 1


def test_a_second_wetting_is_a_fall_of_its_own() -> None:
    once = wetted(drying(), 100.0, per_day_kpa=5.0)
    farm = Watched(instrument("north-20"))

    farm.run(12 * 24, {"bus1/north-20": wetted(once, 200.0, to_kpa=2.0)})

    assert len(falls_of(farm, "north-20")) == 2
