"""Saturation and free water above the cup: events."""

import math

from parchd.diagnosis.kinds import EventKind
from parchd.testing.diagnosing import Watched, hours_us, instrument

CHANNEL = "bus1/north-20"


def wet(h: float) -> float:
    """Never the same number twice."""
    return 0.3 + 0.1 * math.sin(h)


def test_a_day_without_tension_is_saturation_until_the_soil_dries() -> None:
    seen = Watched(instrument("north-20")).run(240, {CHANNEL: lambda h: 12.0 if h < 48 else wet(h) if h < 130 else 8.0})

    (event,) = seen.happened(EventKind.SATURATION)
    assert (event.subject, event.start_us, event.end_us) == ("tensiometer/north-20", hours_us(48), hours_us(130))


def test_saturation_is_told_while_it_lasts() -> None:
    seen = Watched(instrument("north-20")).run(80, {CHANNEL: wet})

    (event,) = seen.happened(EventKind.SATURATION)
    assert event.end_us is None


def test_an_irrigation_is_no_saturation() -> None:
    seen = Watched(instrument("north-20")).run(96, {CHANNEL: lambda h: 12.0 if h < 48 else min(12.0, 0.2 * (h - 48))})
    assert seen.happened(EventKind.SATURATION) == []


def test_free_water_above_the_cup_is_told_with_its_height() -> None:
    seen = Watched(instrument("north-60", head_kpa=7.0)).run(
        96, {"bus1/north-60": lambda h: 9.0 if h < 30 else -1.96 + 0.05 * math.sin(h) if h < 54 else 2.0}
    )

    (event,) = seen.happened(EventKind.POSITIVE_PRESSURE)
    assert (event.start_us, event.end_us) == (hours_us(30), hours_us(54))
    (height,) = [fact.value for fact in event.facts if fact.unit == "cm"]
    assert isinstance(height, float)
    assert abs(height - 20.0) < 1.0


def test_an_empty_tube_is_no_free_water() -> None:
    seen = Watched(instrument("north-60", head_kpa=7.0)).run(
        96, {"bus1/north-60": lambda h: 9.0 if h < 30 else -7.1 + 0.1 * math.sin(h)}
    )
    assert seen.happened(EventKind.POSITIVE_PRESSURE) == []
    assert seen.happened(EventKind.SATURATION) == []
