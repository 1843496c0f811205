"""Vents that are blocked: tension follows the weather."""

import math
from collections.abc import Callable

import pytest

from parchd.contract import Unit
from parchd.diagnosis import vent
from parchd.diagnosis.kinds import FindingKind
from parchd.testing.diagnosing import Watched, chance, hours_us, instrument, noisy

AIR = "bus1/air"
NAMES = ("north-30", "north-31", "north-60")


def air_kpa(h: float) -> float:
    """Fronts come by every few days, and a tide twice a day."""
    fronts = 0.9 * math.sin(h / 19.0) + 0.7 * math.sin(h / 31.0 + 1.0) + 0.5 * math.sin(h / 11.3)
    return 100.0 + fronts + 0.1 * math.sin(h * math.pi / 6.0)


def soil(number: int, h: float) -> float:
    """Dries for six days with a ripple that grows, then is wetted; days differ a little."""
    dry = (h % 144.0) / 144.0
    weather = 0.5 * chance(9, 24.0 * (h // 24.0)).gauss(0.0, 1.0)
    return 8.0 + (22.0, 20.0, 12.0)[number] * dry + (1.0 + dry) * math.sin(h * math.pi / 12.0 + number) + weather * dry


def watched(
    days: float, blocked: int = 0, since_h: float = 0.0, until_h: float = math.inf, *, barometer: bool = True,
    vented: bool = True, unit: Unit = Unit.KPA,
) -> Watched:  # fmt: skip
    """The first so many tensiometers feel the air since an hour."""

    def curve(number: int) -> Callable[[float], float]:
        def tension(h: float) -> float:
            felt = air_kpa(h) - air_kpa(since_h) if number < blocked and since_h <= h < until_h else 0.0
            return soil(number, h) - felt

        return noisy(tension, 0.05, number)

    curves = {f"bus1/{name}": curve(number) for number, name in enumerate(NAMES)}
    scale = 10.0 if unit is Unit.HPA else 1.0
    posts = {"north-31": "post 2"}
    seen = Watched(
        *(instrument(name, station=posts.get(name, "post 1"), vented=vented) for name in NAMES),
        barometer_channel=AIR if barometer else None,
        units={AIR: unit},
    )
    return seen.run(24 * days, {AIR: lambda h: scale * air_kpa(h), **curves})


@pytest.mark.parametrize("unit", [Unit.KPA, Unit.HPA])
def test_a_tensiometer_that_feels_the_air_has_a_blocked_vent(unit: Unit) -> None:
    seen = watched(60, blocked=1, since_h=300.0, unit=unit)

    assert seen.opened(FindingKind.BLOCKED_VENT) == [(FindingKind.BLOCKED_VENT, "north-30")]
    (finding,) = seen.begun(FindingKind.BLOCKED_VENT)
    assert finding.facts[0].value == pytest.approx(-1.0, abs=0.35)
    assert hours_us(300) <= finding.found_us <= hours_us(300 + 21 * 24)


def test_tensiometers_that_breathe_are_quiet_for_a_season() -> None:
    assert watched(120).opened(FindingKind.BLOCKED_VENT) == []


@pytest.mark.parametrize(("error", "days"), [(0.22, {7}), (0.19, {7, 14, 21, 28}), (0.26, set())])
def test_a_week_tells_sooner_than_many_in_which_soils_go_their_own_ways(error: float, days: set[int]) -> None:
    assert {span for span in vent.SPAN_DAYS if vent.is_blocked(vent.Line(-1.0, error, 100), span)} == days


@pytest.mark.parametrize(("share", "blocked"), [(1.0, True), (0.35, False)])
def test_half_of_the_days_that_surely_go_less_with_the_barometer_deny_a_blocked_vent(
    share: float, blocked: bool
) -> None:
    """What storms and wettings of the other half happen to do weighs more in all days together."""
    points = [
        vent.Point(air, beside, -air * (share if n < 40 else 1.1) + 0.3 * beside + 0.05 * (n % 3))
        for n, (air, beside) in enumerate((n % 7 - 3.0, n % 5 - 2.0) for n in range(80))
    ]

    assert vent.in_both_halves(points) == blocked


def test_a_vent_that_was_cleared_is_over() -> None:
    seen = watched(75, blocked=1, since_h=300.0, until_h=900.0)

    assert [one.key.name for one in seen.ended(FindingKind.BLOCKED_VENT)] == ["north-30"]
    assert FindingKind.BLOCKED_VENT not in seen.still_open()


def test_without_a_barometer_nothing_is_said() -> None:
    assert watched(45, blocked=1, barometer=False).opened(FindingKind.BLOCKED_VENT) == []


def test_a_transducer_that_measures_against_something_else_has_no_vent() -> None:
    assert watched(45, blocked=1, vented=False).opened(FindingKind.BLOCKED_VENT) == []
