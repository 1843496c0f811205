"""Clocks of devices, judged by when their samples arrive."""

from collections.abc import Callable

import pytest

from parchd.contract import Cause, Reading, Sample, TimeSource, Unit
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.physics.causes import flag_of
from parchd.testing.diagnosing import Watched, hours_us, instrument

YEAR_H = 365.0 * 24.0


def listened(lag_s: Callable[[float], float], hours: int = 48, interval_s: float = 900.0, **changes: object) -> Watched:
    """Let two channels deliver, and ask every hour by the daemon's clock."""
    seen = Watched(
        *(instrument(name, interval_s=interval_s) for name in ("north-20", "north-40")),
        lag_s=lag_s,
        time_source=TimeSource.DEVICE if changes.get("device", True) else TimeSource.ARRIVAL,
    )
    curves = {f"bus1/{name}": lambda h: 20.0 + h / 24.0 for name in ("north-20", "north-40")}
    for _ in range(hours):
        seen.run(1, curves)
        now_us = seen.now_us + round(lag_s((seen.now_us - hours_us(0)) / 3.6e9) * 1e6)
        seen.listen(dict.fromkeys(curves, now_us), now_us, now_us)
    return seen


@pytest.mark.parametrize("off_h", [1.0, 2.25, 12.0])
def test_a_clock_that_is_hours_behind_is_found_within_a_quarter_of_a_day(off_h: float) -> None:
    seen = listened(lambda h: 3.0 if h < 24.0 else off_h * 3600.0)

    (finding,) = seen.begun()
    assert (finding.key.kind, finding.key.name) == (FindingKind.WRONG_CLOCK, "bus1")
    assert finding.found_us - finding.start_us <= hours_us(8.0) - hours_us(0.0)
    assert finding.facts[0].value == pytest.approx(off_h, abs=0.01)


def test_a_clock_ahead_by_minutes_is_found() -> None:
    seen = listened(lambda h: 3.0 if h < 24.0 else -300.0)

    assert seen.opened() == [(FindingKind.WRONG_CLOCK, "bus1")]
    assert seen.findings[0].facts[0].what == "clock is ahead by"


@pytest.mark.parametrize("years", [-2.0, 46.0])
def test_a_clock_that_is_years_off_is_found_within_two_hours(years: float) -> None:
    seen = listened(lambda h: years * YEAR_H * 3600.0, hours=3)

    assert seen.opened() == [(FindingKind.WRONG_CLOCK, "bus1")]


@pytest.mark.parametrize("off_h", [-2.0 * YEAR_H, 56.0 * YEAR_H])
def test_behind_a_clock_that_is_years_off_the_diagnosis_goes_on(off_h: float) -> None:
    """Wires break while it is wrong, and once it has been set; each is found within the hour."""
    seen = Watched(instrument("north-20"), instrument("north-40"))
    for hour in range(72):
        clock_us = -round(off_h * HOUR_US) if 24 <= hour < 60 else 0
        for quarter in range(4):
            at_h = hour + quarter / 4.0
            seen.take(
                [
                    stamped("north-20", at_h, clock_us, breaks=(23.5,)),
                    stamped("north-40", at_h, clock_us, breaks=(40.0, 66.0)),
                ]
            )
        seen.listen(dict.fromkeys(("bus1/north-20", "bus1/north-40"), hours_us(at_h)), 0, hours_us(hour + 1.0))

    assert [(one.found_us, one.start_us) for one in seen.begun(FindingKind.OPEN_CIRCUIT)] == [
        (hours_us(41.0), hours_us(40.0)), (hours_us(67.0), hours_us(66.0)),
    ]  # fmt: skip
    assert FindingKind.WRONG_CLOCK not in seen.still_open()


def stamped(name: str, at_h: float, clock_us: int, breaks: tuple[float, ...] = ()) -> Reading:
    """A sample with the time of a clock that is off by so much; its wire is broken for two hours from some on."""
    cause = Cause.OPEN_CIRCUIT if any(begin <= at_h < begin + 2.0 for begin in breaks) else Cause.NONE
    tension_kpa = None if cause else 20.0 + at_h / 24.0
    sample = Sample(name, hours_us(at_h) + clock_us, 0.0 if cause else 2.0 + at_h / 100.0, Unit.V, TimeSource.DEVICE)
    doubt = Cause.CLOCK if clock_us > 0 and not cause else cause
    return Reading(sample, f"bus1/{name}", hours_us(at_h) + 1, None, tension_kpa, flag_of(doubt), doubt, late=False)


def test_a_clock_that_was_set_is_right_again() -> None:
    seen = listened(lambda h: 3600.0 if h < 24.0 else 3.0)

    assert [one.key.kind for one in seen.ended()] == [FindingKind.WRONG_CLOCK]
    assert seen.still_open() == set()


def test_a_gateway_that_catches_up_has_a_right_clock() -> None:
    """Nothing for ten hours, then all of it at once; later a slow link that gets nearer hour by hour."""
    seen = Watched(instrument("north-20"), instrument("north-40"))
    curves = {f"bus1/{name}": lambda h: 20.0 for name in ("north-20", "north-40")}
    for first, lag in ((0, lambda h: 2.0), (10, lambda h: (20.0 - h) * 3600.0), (20, lambda h: (30.0 - h) * 1800.0)):
        seen._lag_s = lag
        for hour in range(first, first + 10):
            seen.run(1, curves)
            seen.listen({}, hours_us(hour + 1.0), hours_us(hour + 1.0))

    assert seen.opened(FindingKind.WRONG_CLOCK) == []


def test_a_record_that_is_played_back_has_a_right_clock() -> None:
    """Ten years old, and a day in a second."""
    seen = listened(lambda h: 10.0 * YEAR_H * 3600.0 - h * 3599.96, hours=24)

    assert seen.opened() == []


def test_means_stamped_with_their_beginning_are_not_late() -> None:
    assert listened(lambda h: 3605.0, interval_s=3600.0).opened() == []


def test_times_of_arrival_say_nothing_about_clocks_of_devices() -> None:
    assert listened(lambda h: 7200.0, device=False).opened() == []
