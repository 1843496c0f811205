"""Frost: risk of it, and ice."""

from collections.abc import Callable

from parchd.contract import Unit
from parchd.diagnosis.kinds import FindingKind
from parchd.testing.diagnosing import Watched, hours_us, instrument

WARMTH = "bus1/warmth"


def watched(celsius: Callable[[float], float], days: float) -> Watched:
    seen = Watched(instrument("north-20", temperature_channel=WARMTH), units={WARMTH: Unit.CELSIUS})
    return seen.run(days * 24, {"bus1/north-20": lambda h: 20.0 + h / 240.0, WARMTH: celsius})


def nights(*cold_c: float) -> Callable[[float], float]:
    """Days of 12 degC; each night from 2 to 6 o'clock is as cold as told."""
    return lambda h: cold_c[int(h // 24)] if 2.0 <= h % 24.0 < 6.0 and int(h // 24) < len(cold_c) else 12.0


def test_a_night_near_freezing_is_a_risk_told_within_the_hour() -> None:
    (finding,) = watched(nights(5.0, 1.5), 3).begun()

    assert (finding.key.kind, finding.key.name) == (FindingKind.FROST_RISK, "north-20")
    assert finding.start_us == hours_us(26)
    assert finding.found_us <= hours_us(28)
    assert finding.facts[0].value == 1.5


def test_cold_nights_of_one_week_are_one_finding() -> None:
    seen = watched(nights(1.0, 8.0, 0.5, 1.0, 8.0, 8.0, 1.5), 10)
    assert seen.opened() == [(FindingKind.FROST_RISK, "north-20")]


def test_the_risk_is_over_from_its_last_cold_hour_on_and_told_anew_in_another_month() -> None:
    seen = watched(nights(1.0, *[9.0] * 20, 1.0), 24)

    assert seen.opened() == [(FindingKind.FROST_RISK, "north-20")] * 2
    assert [one.ended_us for one in seen.ended()] == [hours_us(6)]


def test_two_hours_below_zero_are_frozen_until_a_day_of_thaw() -> None:
    seen = watched(nights(-2.0, -1.0), 5)

    frozen = seen.begun(FindingKind.FROZEN)
    assert [one.start_us for one in frozen] == [hours_us(2)]
    assert [one.ended_us for one in seen.ended(FindingKind.FROZEN)] == [hours_us(30)]


def test_an_hour_below_zero_is_a_risk_only() -> None:
    seen = watched(lambda h: -0.5 if 26.0 <= h < 27.0 else 4.0, 3)
    assert seen.opened() == [(FindingKind.FROST_RISK, "north-20")]


def test_a_mild_week_is_quiet() -> None:
    assert watched(nights(4.0, 3.0, 2.1, 5.0), 7).opened() == []


def test_a_broken_thermometer_is_no_frost() -> None:
    assert watched(lambda h: -127.0, 3).opened() == []


def test_without_a_thermometer_nothing_is_said() -> None:
    seen = Watched(instrument("north-20")).run(48, {"bus1/north-20": lambda h: 20.0 + h / 240.0})
    assert seen.opened() == []
