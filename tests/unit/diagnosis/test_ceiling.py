"""A fall counts for clearing an alarm only when something explains it."""

import math
from collections.abc import Callable

from parchd.testing.diagnosing import Watched, instrument

ONE, OTHER = "bus1/north-30", "bus1/north-31"


def drying(h: float) -> float:
    return 20.0 + 4.0 * h / 24.0 + 0.5 * math.cos(2 * math.pi * (h - 20.0) / 24.0)


def falling(at_h: float, tau_h: float, to_kpa: float) -> Callable[[float], float]:
    def curve(h: float) -> float:
        if h < at_h:
            return drying(h)
        return to_kpa + (drying(at_h) - to_kpa) * math.exp(-(h - at_h) / tau_h)

    return curve


def pair() -> Watched:
    return Watched(instrument("north-30"), instrument("north-31", station="post 2"))


def held(farm: Watched, tension_kpa: float) -> float:
    return farm.diagnosis.held_kpa(farm.state, ONE, tension_kpa)


def test_a_fall_that_nothing_explains_is_held_at_what_it_read_before() -> None:
    farm = pair().run(206, {ONE: falling(200.0, 0.5, 12.0), OTHER: drying})

    assert held(farm, 12.0) > 50.0


def test_a_leak_that_takes_days_is_held_as_well() -> None:
    farm = pair().run(230, {ONE: falling(200.0, 40.0, 0.0), OTHER: drying})

    assert held(farm, 25.0) > 50.0


def test_water_that_reached_the_neighbour_lets_the_fall_count_within_hours() -> None:
    farm = pair().run(208, {ONE: falling(200.0, 1.0, 6.0), OTHER: falling(200.5, 1.0, 5.0)})

    assert held(farm, 6.5) == 6.5


def test_the_daily_swing_is_not_held() -> None:
    farm = pair().run(200, {ONE: drying, OTHER: drying})

    assert held(farm, drying(200.0) - 1.0) == drying(200.0) - 1.0


def test_a_reading_above_the_ceiling_counts_as_it_is() -> None:
    farm = pair().run(200, {ONE: drying, OTHER: drying})

    assert held(farm, 70.0) == 70.0


def test_a_channel_that_nobody_named_is_taken_at_its_word() -> None:
    assert pair().diagnosis.held_kpa(pair().state, "bus1/unknown", 3.0) == 3.0


def test_one_that_was_read_for_less_than_a_day_is_taken_at_its_word() -> None:
    farm = pair().run(20, {ONE: falling(10.0, 0.5, 12.0), OTHER: drying})

    assert held(farm, 12.0) == 12.0


def three_depths() -> Watched:
    return Watched(*(instrument(f"north-{depth}") for depth in (30, 31, 60)))


def test_what_reads_low_for_hours_at_every_depth_is_held_until_it_stands_still() -> None:
    def shaky(h: float) -> float:
        return drying(h) if h < 200.0 else -3.0 - 6.0 * math.sin(math.floor(h) * 1.1) ** 2

    names = [f"bus1/north-{depth}" for depth in (30, 31, 60)]
    shaken = three_depths().run(215, dict.fromkeys(names, shaky))
    assert held(shaken, -5.0) > 50.0

    flooded = three_depths().run(215, dict.fromkeys(names, falling(200.0, 0.5, 2.0)))
    assert held(flooded, 2.0) == 2.0


def test_a_collapse_at_the_dry_end_is_held_though_water_came_half_a_day_before() -> None:
    def driest(h: float) -> float:
        return 30.0 + 48.0 * h / 200.0 if h < 200.0 else 8.0

    late = pair().run(210, {ONE: driest, OTHER: falling(184.0, 1.0, 5.0)})
    assert held(late, 8.0) > 70.0

    together = pair().run(210, {ONE: driest, OTHER: falling(199.0, 1.0, 5.0)})
    assert held(together, 8.0) == 8.0
