"""Noise that channels of a source share, and wiring that drops out."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from parchd.contract import Cause
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.testing.diagnosing import Curve, Watched, averaged, chance, hours_us, instrument, noisy

NAMES = ("north-20", "north-40", "north-60", "north-80")
SHARED = (FindingKind.NOISY_SUPPLY, FindingKind.DROP_OUTS)
Tension = Callable[[float], float]


def soil(number: int) -> Tension:
    """Drying with a daily ripple and a little noise."""
    start = (24.0, 20.0, 14.0, 9.0)[number]
    return noisy(lambda h: start + h / 40.0 + math.sin(h * math.pi / 12.0), 0.05, number)


def watched(curves: Callable[[int], Curve], days: float, interval_s: float = 900.0) -> Watched:
    seen = Watched(*(instrument(name, interval_s=interval_s) for name in NAMES))
    return seen.run(24 * days, {f"bus1/{name}": curves(number) for number, name in enumerate(NAMES)})


def shaken(number: int, sd_kpa: float, during: Callable[[float], bool], seed: int = 0) -> Tension:
    """Noise of which half is the same on all channels."""

    def curve(h: float) -> float:
        common, own = chance(77 + seed, h).gauss(0.0, sd_kpa), chance(number + 10 * seed, h + 0.5).gauss(0.0, sd_kpa)
        return soil(number)(h) + (0.7 * common + 0.7 * own if during(h) else 0.0)

    return curve


def dipped(number: int, share: float, when: Callable[[float], bool]) -> Tension:
    """Part of the signal is missing at some moments, on all channels."""
    return lambda h: soil(number)(h) * (1.0 - share) if when(h) else soil(number)(h)


@pytest.mark.parametrize(("interval_s", "within_h"), [(300.0, 8.0), (900.0, 8.0), (3600.0, 13.0)])
def test_noise_that_begins_on_several_channels_at_once_is_the_supply(interval_s: float, within_h: float) -> None:
    seen = watched(lambda n: shaken(n, 2.0, lambda h: h >= 96.0), 6, interval_s)

    (finding,) = seen.begun(*SHARED)
    assert (finding.key.kind, finding.key.name) == (FindingKind.NOISY_SUPPLY, "bus1")
    assert hours_us(95) <= finding.start_us <= hours_us(99)
    assert finding.found_us <= hours_us(96.0 + within_h)


@pytest.mark.parametrize(("sd_kpa", "seed"), [(1.0, 16), (1.5, 12)])
def test_noise_whose_last_samples_happen_to_lie_close_together_is_no_drop_out(sd_kpa: float, seed: int) -> None:
    """Eight samples an hour apart: on two of four channels most of them do; but they leap up as well as down."""
    seen = watched(lambda n: shaken(n, sd_kpa, lambda h: h >= 96.0, seed), 6, 3600.0)

    assert seen.opened(*SHARED) == [(FindingKind.NOISY_SUPPLY, "bus1")]


def test_noise_that_begins_while_water_comes_is_the_supply() -> None:
    """It goes up by less than the water has led down before it."""

    def wetted(number: int) -> Tension:
        return lambda h: shaken(number, 2.0, lambda x: x >= 80.0)(h) + 6.0 * (80.0 - max(75.0, min(h, 80.0)))

    assert watched(wetted, 4).opened(*SHARED) == [(FindingKind.NOISY_SUPPLY, "bus1")]


def test_noise_ends_when_the_channels_are_quiet_again() -> None:
    seen = watched(lambda n: shaken(n, 2.0, lambda h: 96.0 <= h < 130.0), 7)

    (ended,) = seen.ended(*SHARED)
    assert hours_us(129) <= (ended.ended_us or 0) <= hours_us(132)


def test_noise_that_comes_again_for_a_few_hours_ends_when_it_is_over_and_not_before_it_was_told() -> None:
    again = ((96.0, 130.0), (180.0, 183.0))

    seen = watched(lambda n: shaken(n, 2.0, lambda h: any(a <= h < b for a, b in again)), 9)

    first, second = seen.ended(*SHARED)
    assert hours_us(129) <= (first.ended_us or 0) <= hours_us(132)
    assert second.start_us >= hours_us(179)
    assert hours_us(183) <= (second.ended_us or 0) <= hours_us(185)


def test_noise_of_one_channel_is_no_supply() -> None:
    assert watched(lambda n: shaken(n, 2.0, lambda h: n == 1 and h >= 96.0), 6).opened(*SHARED) == []


@pytest.mark.parametrize("interval_s", [900.0, 3600.0])
def test_water_on_all_channels_is_no_noise_and_no_drop_out(interval_s: float) -> None:
    """Every second day the soil is wetted within two hours and dries again."""

    def pulsed(number: int) -> Tension:
        return lambda h: soil(number)(h) * (1.0 - 0.8 * math.exp(-((h % 48.0) - 4.0) / 20.0) if h % 48.0 > 4.0 else 1.0)

    assert watched(pulsed, 14, interval_s).opened(*SHARED) == []


@pytest.mark.parametrize(("interval_s", "per_day"), [(900.0, 6.0), (1800.0, 6.0), (3600.0, 3.0)])
def test_dips_of_all_channels_at_once_are_drop_outs_when_they_come_again(interval_s: float, per_day: float) -> None:
    """At random moments, some of them one sample after the other."""
    share = per_day * interval_s / 86_400.0
    seen = watched(lambda n: dipped(n, 0.7, lambda h: h >= 48.0 and chance(5, h).random() < share), 5, interval_s)

    (finding,) = seen.begun(*SHARED)
    assert (finding.key.kind, finding.key.name, finding.others) == (FindingKind.DROP_OUTS, "bus1", NAMES)
    assert finding.start_us >= hours_us(47)
    assert finding.found_us <= hours_us(48 + 36)


def test_dips_that_averages_have_smoothed_are_drop_outs_still() -> None:
    """Two of fifteen minutes are lost, sometimes one in each of two averages: the edges are spoiled too."""
    lost = [60.3, 66.97, 75.5, 81.23, 90.6]
    seen = watched(
        lambda n: averaged(dipped(n, 1.0, lambda h: any(at <= h < at + 2.0 / 60.0 for at in lost)), 900.0, 15), 5
    )

    assert seen.opened(*SHARED) == [(FindingKind.DROP_OUTS, "bus1")]


def test_samples_that_all_channels_lose_at_once_are_drop_outs() -> None:
    def curve(number: int) -> Curve:
        return lambda h: Cause.OPEN_CIRCUIT if h in (60.25, 66.5, 75.5, 81.25) else soil(number)(h)

    assert watched(curve, 5).opened() == [(FindingKind.DROP_OUTS, "bus1")]


def test_drop_outs_of_every_third_sample_are_not_taken_for_noise() -> None:
    seen = watched(lambda n: dipped(n, 0.8, lambda h: h >= 96.0 and chance(5, h).random() < 0.3), 6)
    assert seen.opened(*SHARED) == [(FindingKind.DROP_OUTS, "bus1")]


def test_drop_outs_of_a_few_hours_are_not_taken_for_noise() -> None:
    def still(number: int) -> Tension:
        flat = noisy(lambda _: 20.0 - 4.0 * number, 0.05, number)
        return lambda h: 1.8 * flat(h) if 60.0 <= h < 64.0 and h % 1.0 == 0.5 else flat(h)

    assert watched(still, 4).opened(FindingKind.NOISY_SUPPLY) == []


def test_averages_that_drop_outs_lead_up_only_are_no_noise() -> None:
    """Of every hour another part is lost, on all channels, and what is lost reads high."""
    seen = watched(
        lambda n: lambda h: soil(n)(h) + (30.0 * max(chance(5, h).random() - 0.4, 0.0) * (h >= 96.0)), 6, 3600.0
    )

    assert seen.opened(FindingKind.NOISY_SUPPLY) == []


@pytest.mark.parametrize(("last_h", "opened"), [(65.5, []), (67.0, [(FindingKind.DROP_OUTS, "bus1")])])
def test_dips_of_a_few_hours_may_be_noise_that_has_begun(last_h: float, opened: list[tuple[FindingKind, str]]) -> None:
    seen = watched(lambda n: dipped(n, 0.7, lambda h: h in (60.0, 63.0, last_h)), 4, 1800.0)

    assert seen.opened(*SHARED) == opened


def test_a_dip_of_days_ago_makes_noise_that_has_begun_no_drop_outs() -> None:
    seen = watched(lambda n: dipped(n, 0.7, lambda h: h in (10.0, 60.0, 61.25, 62.5)), 4)

    assert seen.opened(*SHARED) == []


def test_drop_outs_are_over_when_there_were_none_for_days() -> None:
    moments = [h / 4.0 for h in range(192, 384) if chance(5, h).random() < 0.1]
    seen = watched(lambda n: dipped(n, 0.7, lambda h: h in moments), 9)

    assert seen.opened(*SHARED) == [(FindingKind.DROP_OUTS, "bus1")]
    (ended,) = seen.ended(*SHARED)
    assert hours_us(moments[-1]) <= (ended.ended_us or 0) <= hours_us(moments[-1] + 1.0)


def test_peaks_just_before_water_comes_are_no_dips() -> None:
    """In means of an hour the turn from fast drying to a wetting stands out as a dip does."""
    hours, kpa = (-48.0, -2.0, -1.0, 0.0, 1.0, 2.0, 6.0, 12.0), (-25.0, -2.4, -0.9, 0.0, -2.0, -7.6, -22.0, -25.0)

    def pulsed(number: int) -> Tension:
        if number > 1:
            return soil(number)
        return lambda h: 41.0 - 4.0 * number + float(np.interp(h % 60.0 - 48.0, hours, kpa))

    assert watched(pulsed, 20, 3600.0).opened(*SHARED) == []


def test_dips_of_one_channel_or_at_different_times_are_quiet() -> None:
    alone = watched(lambda n: dipped(n, 0.7, lambda h: n == 0 and chance(5, h).random() < 0.1), 5)
    scattered = watched(lambda n: dipped(n, 0.7, lambda h: h % 24.0 == 6.0 + n), 5)

    assert alone.opened(*SHARED) == scattered.opened(*SHARED) == []


def test_a_noisy_channel_that_meets_the_dips_of_another_is_quiet() -> None:
    def curve(number: int) -> Tension:
        if number == 0:
            return lambda h: soil(0)(h) + (chance(5, h).gauss(0.0, 1.2) if h >= 48.0 else 0.0)
        return lambda h: soil(number)(h) - (2.0 if h >= 48.0 and round(h * 4) % 61 == 15 * number else 0.0)

    assert watched(curve, 8).opened(*SHARED) == []


def serviced(number: int, at_h: float) -> Tension:
    """A tube is opened for a quarter of an hour, and settles within some hours."""
    begin = at_h + 0.25 * number

    def curve(h: float) -> float:
        if begin <= h < begin + 0.25:
            return -2.0
        left = math.exp(-(h - begin - 0.25) / 1.2) if h >= begin else 0.0
        return soil(number)(h) * (1.0 - left) - 2.0 * left

    return curve


def services(seen: Watched) -> list[int]:
    return [event.start_us for event in seen.happened(EventKind.SERVICE)]


@pytest.mark.parametrize("interval_s", [300.0, 900.0, 1800.0])
def test_a_round_of_service_is_one_event_and_no_fault_of_the_supply(interval_s: float) -> None:
    seen = watched(lambda n: serviced(n, 80.0), 6, interval_s)

    assert services(seen) == [hours_us(80)]
    assert seen.opened(*SHARED) == []
    (event,) = seen.happened(EventKind.SERVICE)
    assert event.subject == "source/bus1"
    touched = event.details["tensiometers"]
    assert isinstance(touched, list)
    assert len(touched) >= 3


@pytest.mark.parametrize("interval_s", [300.0, 900.0, 1800.0])
def test_tubes_that_are_opened_were_not_wetted(interval_s: float) -> None:
    seen = watched(lambda n: serviced(n, 80.0), 6, interval_s)

    assert len(services(seen)) == 1
    assert seen.happened(EventKind.WETTING) == []


def test_water_that_comes_the_day_after_a_service_is_told() -> None:
    def wetted(number: int) -> Tension:
        return lambda h: serviced(number, 80.0)(h) * (0.3 if h >= 104.0 + number else 1.0)

    seen = watched(wetted, 7)

    assert services(seen) == [hours_us(80)]
    assert {event.start_us for event in seen.happened(EventKind.WETTING)} == {hours_us(103)}


def test_tubes_that_are_opened_twice_are_no_noise_between_rare_samples() -> None:
    def opened(number: int) -> Tension:
        def curve(h: float) -> float:
            lost = max(math.exp(-(h - at_h) / 1.0) if h >= at_h else 0.0 for at_h in (100.2, 101.8))
            return soil(number)(h) * (1.0 - lost)

        return curve

    assert watched(opened, 6, 1800.0).opened(*SHARED) == []


def test_tubes_that_are_opened_while_the_soil_dries_fast_are_no_noise() -> None:
    """They had most vacuum just before."""

    def opened(number: int) -> Tension:
        def curve(h: float) -> float:
            steep = soil(number)(h) + 1.3 * max(0.0, min(h, 100.0) - 80.0)
            lost = math.exp(-(h - 100.2 - 0.2 * number) / 2.0) if h >= 100.2 + 0.2 * number else 0.0
            return steep * (1.0 - lost) - 4.0 * lost

        return curve

    assert watched(opened, 6, 1800.0).opened(*SHARED) == []


def test_a_level_that_is_another_one_after_the_service_is_told() -> None:
    def shifted(number: int) -> Tension:
        lifted = 10.0 if number == 2 else 0.0
        return lambda h: serviced(number, 80.0)(h) + (lifted if h > 81.0 else 0.0)

    (event,) = watched(shifted, 6).happened(EventKind.SERVICE)
    changed = event.details["changed_kpa"]
    assert isinstance(changed, dict)
    assert changed == pytest.approx({"north-60": 10.0}, abs=1.5)


def test_a_flood_is_no_service() -> None:
    """All depths within hours, and it stays."""

    def flooded(number: int) -> Tension:
        begin = 80.0 + 0.5 * number
        return lambda h: soil(number)(h) * (0.1 + 0.9 * math.exp(-(h - begin))) if h > begin else soil(number)(h)

    assert services(watched(flooded, 6)) == []


def test_one_tube_that_is_opened_is_no_round_of_service() -> None:
    assert services(watched(lambda n: serviced(n, 80.0) if n == 1 else soil(n), 6)) == []


def test_drop_outs_are_no_services() -> None:
    seen = watched(lambda n: dipped(n, 0.8, lambda h: h >= 48.0 and chance(5, h).random() < 0.06), 6)
    assert services(seen) == []
