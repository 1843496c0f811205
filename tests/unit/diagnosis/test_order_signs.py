"""What two weeks say of an exchange of two depths, beside another station."""

import math

import pytest

from parchd.diagnosis.order_signs import Pair, Signs, odds, signs
from parchd.testing.courses import rippled, watered

HOURS = range(20 * 24, 34 * 24)
SHALLOW = rippled(watered(5.0, 3.0, 0.45, swing_kpa=0.6))
DEEP = rippled(watered(10.0, 5.0, 0.12, falls_within_h=6.0, swing_kpa=0.1, late_h=20.0))


def felt(late_h: float = 0.0) -> Pair:
    """A station that is wired rightly: what its transducers feel."""
    return Pair([SHALLOW(hour - late_h) + 4.0 for hour in HOURS], [DEEP(hour - late_h) + 7.0 for hour in HOURS])


def turned(pair: Pair) -> Pair:
    return Pair(pair.lower, pair.upper)


def test_the_odds_are_for_an_exchange_of_the_station_that_is_turned_round() -> None:
    assert odds(signs(turned(felt()), felt(3.0))) > 3.0
    assert odds(signs(felt(), felt(3.0))) < -3.0


def test_beside_a_station_that_is_exchanged_a_right_one_seems_less_wrong_than_that() -> None:
    assert odds(signs(felt(), turned(felt(3.0)))) < odds(signs(turned(felt()), felt(3.0))) - 3.0


def test_each_sign_is_turned_round_with_the_wires() -> None:
    straight, crossed = signs(felt(), felt(3.0)), signs(turned(felt()), felt(3.0))
    assert crossed.apart == pytest.approx(-straight.apart)
    assert min(crossed.restless, crossed.wettest) > 0.5
    assert max(abs(straight.restless), abs(straight.wettest)) < 0.5


def test_gaps_of_a_few_hours_change_little_and_gaps_of_days_leave_nothing_to_say() -> None:
    whole = turned(felt())

    def without(hours: int) -> Pair:
        return Pair([math.nan if at % 96 < hours else kpa for at, kpa in enumerate(whole.upper)], whole.lower)

    assert odds(signs(without(4), felt(3.0))) == pytest.approx(odds(signs(whole, felt(3.0))), abs=2.0)
    assert math.isnan(odds(signs(without(48), felt(3.0))))


def test_nothing_speaks_for_an_exchange_while_one_of_the_two_keeps_to_its_own_depth() -> None:
    """The upper one has grown sluggish: calm and late, as a lower one is; but the lower one is where it was."""
    there, late = felt(3.0), felt(60.0)
    sluggish = Pair([0.2 * kpa + 8.0 for kpa in late.upper], there.lower)
    found = signs(sluggish, there)

    assert found.restless > 0.5
    assert found.nearer < -0.3
    assert odds(found) <= 0.0


def test_one_that_keeps_plainly_nearer_to_its_own_depth_was_not_exchanged_however_calm_it_is() -> None:
    calm = Signs(apart=-0.85, restless=3.9, wettest=3.7, nearer=-1.1)

    assert odds(calm) <= 0.0
    assert odds(calm._replace(nearer=-0.9)) > 0.0


def test_what_warmth_does_to_a_tube_within_the_day_tells_nothing_of_its_depth() -> None:
    """Two stations dry alike for ten days, and the lower tube here has the sun on it, as the upper one there has."""

    def drying(from_kpa: float, kpa_per_day: float, swing_kpa: float) -> list[float]:
        days = [hour / 24.0 for hour in range(240)]
        return [from_kpa + kpa_per_day * day + swing_kpa * math.cos((day - 0.8) * 2.0 * math.pi) for day in days]

    here = Pair(drying(15.0, 0.40, 0.6), drying(18.0, 0.15, 2.5))
    there = Pair(drying(13.0, 0.45, 2.0), drying(15.5, 0.17, 0.2))

    assert odds(signs(here, there)) < -3.0
