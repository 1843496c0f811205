"""Lost water, air at the dry end and cracked cups; and the healthy courses that look alike."""

import math
from collections.abc import Callable

import pytest

from parchd.contract import Cause
from parchd.diagnosis import sinking
from parchd.diagnosis.findings import End, Fact, Finding, FindingKey
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.diagnosis.verdict import Look
from parchd.testing.diagnosing import Watched, chance, hours_us, instrument

Tension = Callable[[float], float]
HEAD_KPA = 6.0
HYDRAULIC = (FindingKind.LOST_WATER, FindingKind.AIR_ENTRY, FindingKind.CRACKED_CUP)
ONE, OTHER, DEEP = "bus1/north-30", "bus1/north-31", "bus1/north-60"


def farm(*names: str, **changes: float) -> Watched:
    """Tensiometers 30 cm deep at two posts, and one deeper at the first."""
    stations = {"north-31": "post 2", "north-61": "post 2"}
    return Watched(*(instrument(n, station=stations.get(n, "post 1"), head_kpa=HEAD_KPA, **changes) for n in names))


def drying(start_kpa: float = 20.0, per_day_kpa: float = 4.0, ripple_kpa: float = 0.5) -> Tension:
    return lambda h: start_kpa + per_day_kpa * h / 24.0 + ripple_kpa * math.cos(2 * math.pi * (h - 20.0) / 24.0)


def dead(h: float) -> float:
    """Gas in the tube warms and cools."""
    return -HEAD_KPA + 0.4 * math.cos(2 * math.pi * (h - 15.0) / 24.0)


def collapsing(curve: Tension, at_h: float, tau_h: float = 0.5, to: Tension = dead) -> Tension:
    def later(h: float) -> float:
        left = math.exp(-max(0.0, h - at_h) / tau_h)
        return curve(h) if h < at_h else curve(at_h) * left + to(h) * (1.0 - left)

    return later


def wetted(curve: Tension, at_h: float, to_kpa: float, within_h: float = 2.0, per_day_kpa: float = 3.0) -> Tension:
    def later(h: float) -> float:
        left = math.exp(-max(0.0, h - at_h) / within_h)
        after = to_kpa + (curve(at_h) - to_kpa) * left + per_day_kpa * (h - at_h) / 24.0
        return curve(h) if h < at_h else after

    return later


def test_a_collapse_beside_a_dry_neighbour_is_lost_water_within_six_hours() -> None:
    seen = farm("north-30", "north-31").run(240, {ONE: collapsing(drying(), 200.0), OTHER: drying(18.0)})

    (finding,) = seen.begun(*HYDRAULIC)
    assert (finding.key.kind, finding.key.name) == (FindingKind.LOST_WATER, "north-30")
    assert hours_us(198) <= finding.start_us <= hours_us(201)
    assert finding.found_us <= hours_us(206.5)


def test_lost_water_needs_no_neighbour_when_the_tube_hangs_its_weight_on_nothing() -> None:
    seen = farm("north-30").run(240, {ONE: collapsing(drying(), 200.0)})

    assert seen.opened(*HYDRAULIC) == [(FindingKind.LOST_WATER, "north-30")]


@pytest.mark.parametrize("tau_h", [12.0, 20.0, 30.0, 40.0])
def test_a_slow_loss_beside_a_dry_neighbour_is_found_within_a_day_and_a_half(tau_h: float) -> None:
    seen = farm("north-30", "north-31").run(300, {ONE: collapsing(drying(), 200.0, tau_h), OTHER: drying(18.0)})

    (finding,) = seen.begun(*HYDRAULIC)
    assert finding.key.kind is FindingKind.LOST_WATER
    assert finding.found_us <= hours_us(200 + 36)
    assert abs(finding.start_us - hours_us(200)) <= hours_us(8) - hours_us(0)


def test_a_sudden_fall_from_the_dry_end_is_air_entry() -> None:
    seen = farm("north-30", "north-31").run(
        420, {ONE: collapsing(drying(per_day_kpa=4.2), 360.0, 0.3, lambda h: 30.0), OTHER: drying(18.0)}
    )

    assert seen.opened(*HYDRAULIC) == [(FindingKind.AIR_ENTRY, "north-30")]


def test_a_sample_that_stood_out_in_soil_that_becomes_wetter_is_no_air_entry() -> None:
    def resting(h: float) -> float:
        return 78.0 if h == 200.0 else 14.0 + 4.0 * math.cos(2 * math.pi * (h - 196.0) / 24.0)

    seen = farm("north-30", interval_s=3600.0).run(240, {ONE: resting})

    assert seen.opened(*HYDRAULIC) == []


@pytest.mark.parametrize(
    ("dry_kpa", "wild_kpa", "found"), [(50.0, 97.0, []), (76.0, 76.0, [(FindingKind.AIR_ENTRY, "north-30")])]
)
def test_amid_drop_outs_an_hour_that_holds_a_wild_sample_is_no_dry_end(
    dry_kpa: float, wild_kpa: float, found: list[tuple[FindingKind, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """On average that hour had been far drier than any before."""
    monkeypatch.setattr(Look, "source_has", lambda _, kind: kind is FindingKind.DROP_OUTS)

    def falling(h: float) -> float:
        return wild_kpa if h == 199.5 else dry_kpa - max(0.0, h - 200.0) * dry_kpa / 8.0

    assert farm("north-30", interval_s=1800.0).run(212, {ONE: falling}).opened(*HYDRAULIC) == found


def test_water_at_the_dry_end_is_no_air_entry_when_a_neighbour_got_it_too() -> None:
    dry = drying(per_day_kpa=4.2)
    curves = {ONE: wetted(dry, 360.0, 5.0), OTHER: wetted(drying(18.0), 361.0, 4.0)}
    seen = farm("north-30", "north-31").run(520, curves)

    assert seen.opened() == []


@pytest.mark.parametrize(
    ("left_kpa", "tau_h", "interval_s", "found"),
    [
        (36.0, 50.0, 900.0, [(FindingKind.AIR_ENTRY, "north-30")]),
        (55.0, 30.0, 900.0, []), (8.0, 60.0, 900.0, []), (36.0, 50.0, 3600.0, []),
    ],
)  # fmt: skip
def test_what_loses_half_of_its_vacuum_in_one_leap_and_sinks_on_let_air_in_whatever_water_came_to_a_neighbour(
    left_kpa: float, tau_h: float, interval_s: float, found: list[tuple[FindingKind, str]]
) -> None:
    dry = drying(per_day_kpa=4.2)

    def leaping(h: float) -> float:
        return dry(h) if h < 360.0 else -HEAD_KPA + (left_kpa + HEAD_KPA) * math.exp((360.0 - h) / tau_h)

    curves = {ONE: leaping, OTHER: wetted(drying(18.0, 2.0), 361.0, 4.0)}
    seen = farm("north-30", "north-31", interval_s=interval_s).run(372, curves)
    assert seen.opened(*HYDRAULIC) == found


def test_a_neighbour_that_was_opened_at_a_service_got_no_water() -> None:
    def opened(curve: Tension, at_h: float = 350.0) -> Tension:
        return lambda h: curve(h) if not at_h <= h < at_h + 6.0 else curve(h) * min(1.0, (h - at_h) / 3.0)

    broken = collapsing(drying(per_day_kpa=4.2), 360.0, 0.3, lambda h: 30.0)
    curves = {ONE: broken, OTHER: opened(drying(18.0, 2.0)), DEEP: opened(drying(15.0, 1.0))}
    seen = farm("north-30", "north-31", "north-60").run(420, curves)

    assert len(seen.happened(EventKind.SERVICE)) == 1
    assert seen.opened(*HYDRAULIC) == [(FindingKind.AIR_ENTRY, "north-30")]


@pytest.mark.parametrize(
    ("left_kpa", "per_hour_kpa", "found"),
    [(48.0, 0.8, []), (56.0, 3.0, []), (25.0, 0.8, [(FindingKind.AIR_ENTRY, "north-30")])],
)
def test_where_no_neighbour_tells_air_at_the_dry_end_takes_more_than_half_at_once(
    left_kpa: float, per_hour_kpa: float, found: list[tuple[FindingKind, str]]
) -> None:
    curve = collapsing(drying(68.0, 0.6), 200.0, 0.5, lambda h: left_kpa - per_hour_kpa * (h - 200.0))
    seen = farm("north-30").run(212, {ONE: curve})

    assert seen.opened(*HYDRAULIC) == found


@pytest.mark.parametrize(
    ("shift_kpa", "found"),
    [(0.0, [(FindingKind.AIR_ENTRY, "north-30")]), (14.0, [(FindingKind.LEVEL_SHIFT, "north-30")])],
)
def test_what_reads_dry_by_a_shift_alone_is_not_at_the_dry_end(
    shift_kpa: float, found: list[tuple[FindingKind, str]]
) -> None:
    def dry(h: float) -> float:
        return drying(68.0 - shift_kpa, 0.6)(h) + (shift_kpa if h >= 100.0 else 0.0)

    curve = collapsing(dry, 200.0, 0.5, lambda h: 25.0 - 0.8 * (h - 200.0))

    assert farm("north-30").run(212, {ONE: curve}).opened(*HYDRAULIC, FindingKind.LEVEL_SHIFT) == found


def test_a_cup_that_holds_a_few_kilopascals_is_cracked() -> None:
    seen = farm("north-30", "north-31").run(
        300, {ONE: collapsing(drying(), 200.0, 1.0, lambda h: dead(h) + HEAD_KPA + 3.0), OTHER: drying(18.0)}
    )

    assert seen.opened(*HYDRAULIC) == [(FindingKind.CRACKED_CUP, "north-30")]


def test_water_that_comes_two_days_after_a_cup_cracked_did_not_fill_it() -> None:
    cracked = collapsing(drying(), 200.0, 1.0, lambda h: 1.0 + 0.1 * math.cos(h / 4.0))
    curves = {ONE: cracked, OTHER: wetted(drying(18.0), 246.0, 2.0), "bus1/north-29": wetted(drying(19.0), 246.0, 2.0)}
    curves["bus1/north-28"] = wetted(drying(17.0), 246.0, 2.0)
    seen = farm("north-30", "north-31", "north-29", "north-28").run(270, curves)

    assert seen.opened(*HYDRAULIC) == [(FindingKind.CRACKED_CUP, "north-30")]


def test_a_cup_that_cracks_under_water_is_found_when_its_neighbour_dries() -> None:
    def cracked(h: float) -> float:
        swing_kpa = 0.2 * math.cos(2 * math.pi * (h - 20.0) / 24.0)
        return min(wetted(drying(), 200.0, 2.0)(h), 3.0) + swing_kpa if h > 200.0 else drying()(h)

    seen = farm("north-30", "north-31").run(
        420, {ONE: cracked, OTHER: wetted(drying(18.0), 200.0, 2.0, per_day_kpa=4.0)}
    )

    assert seen.opened(*HYDRAULIC) == [(FindingKind.CRACKED_CUP, "north-30")]


def watered_every_four_days(gain_kpa: float, most_kpa: float = 99.0) -> Tension:
    def cycle(h: float) -> float:
        since_h = h % 96.0
        return 0.5 + gain_kpa * (since_h / 96.0 + math.exp(-since_h / 3.0))

    return lambda h: min(cycle(h), most_kpa if h > 200.0 else 99.0) + 0.1 * math.cos(2 * math.pi * (h - 20.0) / 24.0)


def test_a_slow_loss_that_begins_with_a_step_is_lost_water_within_a_day_and_a_half() -> None:
    def losing(h: float) -> float:
        since_h = h - 200.0
        if since_h < 0.0:
            return drying()(h)
        return (drying()(200.0) - 8.0 + HEAD_KPA) * math.exp(-since_h / 60.0) - HEAD_KPA

    seen = farm("north-30", "north-31", interval_s=900.0).run(300, {ONE: losing, OTHER: drying(18.0)})

    (loss,) = seen.begun(FindingKind.LEVEL_SHIFT, *HYDRAULIC)
    assert loss.key.kind is FindingKind.LOST_WATER
    assert loss.found_us <= hours_us(236)


def test_a_ceiling_that_comes_back_after_every_watering_is_a_cracked_cup() -> None:
    curves = {
        ONE: watered_every_four_days(12.0, most_kpa=2.7),
        OTHER: watered_every_four_days(15.0),
    }

    assert farm("north-30", "north-31").run(40 * 24, curves).opened(*HYDRAULIC) == [
        (FindingKind.CRACKED_CUP, "north-30")
    ]


@pytest.mark.parametrize(("noise_kpa", "named"), [(0.7, 1), (3.0, 0)])
def test_a_ceiling_is_seen_amid_noise_that_neighbours_stand_out_from(
    noise_kpa: float, named: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Look, "source_has", lambda _, kind: kind is FindingKind.NOISY_SUPPLY)
    clip = watered_every_four_days(12.0, most_kpa=2.7)

    def cracked(h: float) -> float:
        return clip(h) + chance(5, h // 12.0).gauss(0.0, noise_kpa)

    seen = farm("north-30", "north-31").run(40 * 24, {ONE: cracked, OTHER: watered_every_four_days(15.0)})

    assert len(seen.opened(FindingKind.CRACKED_CUP)) == named


def test_a_ceiling_is_seen_beside_a_neighbour_that_is_known_every_other_day_only() -> None:
    other = watered_every_four_days(15.0)
    curves = {
        ONE: watered_every_four_days(12.0, most_kpa=2.7),
        OTHER: lambda h: other(h) if h < 240.0 or h // 36.0 % 2.0 else Cause.OPEN_CIRCUIT,
    }

    seen = farm("north-30", "north-31").run(40 * 24, curves)

    assert seen.opened(*HYDRAULIC) == [(FindingKind.CRACKED_CUP, "north-30")]


@pytest.mark.parametrize(("every_days", "apart_kpa", "named"), [(10.0, 0.0, 1), (60.0, 0.0, 0), (10.0, 0.3, 0)])
def test_a_deep_ceiling_that_comes_back_after_water_is_a_cracked_cup_though_the_soil_above_is_wet(
    every_days: float, apart_kpa: float, named: int
) -> None:
    """Soil that stands still under wetter soil comes to stand elsewhere each time."""

    def soil(h: float) -> float:
        return 1.0 + 1.5 * (h / 24.0 % every_days)

    def cracked(h: float) -> float:
        most_kpa = 3.5 + apart_kpa * (h // (24.0 * every_days) % 3.0)
        return min(soil(h), most_kpa + 0.02 * math.cos(h / 4.0))

    curves = {ONE: lambda h: 2.0 + 0.5 * math.cos(h / 40.0), DEEP: cracked, "bus1/north-61": soil}
    seen = farm("north-30", "north-60", "north-61").run(40 * 24, curves)

    assert len(seen.opened(FindingKind.CRACKED_CUP)) == named


@pytest.mark.parametrize(("wet_days", "named"), [(2.0, 1), (6.0, 0)])
def test_amid_noise_a_ceiling_is_one_on_most_days(wet_days: float, named: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Noise makes a ceiling of what soil seldom exceeds."""
    monkeypatch.setattr(Look, "source_has", lambda _, kind: kind is FindingKind.NOISY_SUPPLY)

    def own(h: float) -> float:
        held_kpa = 1.0 if h / 24.0 % 12.0 < wet_days else 2.7
        return (drying(4.0, 0.9)(h) if h < 200.0 else held_kpa) + chance(5, h // 12.0).gauss(0.0, 0.05)

    seen = farm("north-30", "north-31").run(40 * 24, {ONE: own, OTHER: lambda h: 3.0 + 1.5 * (h / 24.0 % 12.0)})

    assert len(seen.opened(FindingKind.CRACKED_CUP)) == named


def test_a_cup_that_follows_a_tenth_of_what_its_neighbour_does_has_no_ceiling() -> None:
    curves = {
        ONE: lambda h: 2.0 + 0.1 * watered_every_four_days(12.0)(h),
        OTHER: watered_every_four_days(15.0),
    }

    assert farm("north-30", "north-31").run(40 * 24, curves).opened(*HYDRAULIC) == []


def test_a_number_that_was_stuck_for_two_weeks_was_no_ceiling() -> None:
    own = watered_every_four_days(12.0)
    curves = {ONE: lambda h: 3.0 if 400.0 < h < 772.0 else own(h), OTHER: watered_every_four_days(15.0)}

    assert farm("north-30", "north-31").run(40 * 24, curves).opened() == [(FindingKind.STUCK_VALUE, "north-30")]


def test_a_ceiling_is_seen_beside_a_neighbour_whose_level_has_shifted() -> None:
    def shifted(h: float) -> float:
        return drying(4.0, 0.9, 0.1)(h) + (8.0 if h > 160.0 else 0.0)

    def cracked(h: float) -> float:
        return min(drying(3.0, 0.9, 0.1)(h), 99.0 if h < 220.0 else 4.0 + 0.1 * math.cos(2 * math.pi * h / 24.0))

    seen = farm("north-30", "north-31").run(30 * 24, {ONE: cracked, OTHER: shifted})

    assert {(FindingKind.LEVEL_SHIFT, "north-31"), (FindingKind.CRACKED_CUP, "north-30")} <= set(seen.opened())


def test_soil_that_drained_and_stands_at_its_lowest_has_no_ceiling() -> None:
    def drained(h: float) -> float:
        return drying(4.5, 0.01, 0.1)(h) + (9.0 * math.exp(-(h - 240.0) / 72.0) if h > 240.0 else 9.0)

    def other(h: float) -> float:
        return drying(6.0, 0.05, 0.1)(h) + max(0.0, h - 520.0) / 8.0

    seen = farm("north-30", "north-31").run(30 * 24, {ONE: drained, OTHER: other})

    assert seen.opened(*HYDRAULIC) == []


def test_soil_that_was_wet_all_the_time_has_no_ceiling_because_water_came_to_its_neighbour() -> None:
    def other(h: float) -> float:
        return 11.5 if h < 200.0 else 4.0 + 7.5 * math.exp(-(h - 200.0) / 60.0)

    seen = farm("north-30", "north-31").run(16 * 24, {ONE: lambda h: 4.8 + 0.02 * math.cos(h / 4.0), OTHER: other})

    assert seen.opened(*HYDRAULIC) == []


def test_wet_soil_that_dries_by_hundredths_for_weeks_has_no_ceiling_beside_one_that_dries_fast() -> None:
    def own(h: float) -> float:
        wet_kpa = 3.0 + 0.025 * min(max(0.0, h - 240.0) / 24.0, 34.0) + 0.01 * math.cos(h / 4.0)
        return wet_kpa + 7.0 * math.exp(-max(0.0, h - 200.0) / 12.0)

    def other(h: float) -> float:
        return 10.0 + h / 24.0 if h < 44.0 * 24.0 else 8.0 + h / 240.0

    assert farm("north-30", "north-31").run(50 * 24, {ONE: own, OTHER: other}).opened(*HYDRAULIC) == []


def test_a_shallow_ceiling_is_seen_beside_deeper_ones_that_dry_where_no_neighbour_is_left() -> None:
    def cracked(h: float) -> float:
        return min(drying(3.0, 0.9, 0.1)(h), 99.0 if h < 260.0 else 2.0 + 0.1 * math.cos(2 * math.pi * h / 24.0))

    def deep(h: float) -> float:
        return drying(2.0, 0.05, 0.1)(h) + max(0.0, h - 260.0) / 16.0

    seen = farm("north-30", "north-60").run(30 * 24, {ONE: cracked, DEEP: deep})

    assert seen.opened(*HYDRAULIC) == [(FindingKind.CRACKED_CUP, "north-30")]


@pytest.mark.parametrize(("above_kpa", "found"), [(0.0, []), (12.0, [(FindingKind.CRACKED_CUP, "north-60")])])
def test_a_deep_ceiling_tells_of_a_crack_only_where_the_soil_above_is_drier(
    above_kpa: float, found: list[tuple[FindingKind, str]]
) -> None:
    def still(h: float) -> float:
        return min(drying(2.0, 0.9, 0.1)(h), 4.0 + 0.1 * math.cos(2 * math.pi * h / 24.0))

    curves = {ONE: lambda h: still(h) + min(above_kpa, h / 24.0), DEEP: still, "bus1/north-61": drying(2.0, 0.9, 0.1)}

    assert farm("north-30", "north-60", "north-61").run(30 * 24, curves).opened(*HYDRAULIC) == found


@pytest.mark.parametrize(("shift_kpa", "above_kpa", "named"), [(0.0, 4.2, 0), (0.0, 8.0, 1), (-5.5, 4.2, 0)])
def test_what_stands_under_soil_that_is_mostly_wetter_has_no_ceiling(
    shift_kpa: float, above_kpa: float, named: int
) -> None:
    """A dry day now and then, and a level that has shifted, do not hide it."""

    def still(h: float) -> float:
        return min(drying(3.0, 0.5, 0.1)(h), 4.5) + 0.02 * math.cos(h / 4.0)

    def above(h: float) -> float:
        dry_kpa = 9.0 if h % 240.0 > 220.0 else above_kpa
        return dry_kpa + 0.3 * math.cos(math.pi * h / 12.0) + (shift_kpa if h > 100.0 else 0.0)

    curves = {ONE: above, DEEP: still, "bus1/north-61": drying(3.0, 1.0, 0.1)}
    seen = farm("north-30", "north-60", "north-61").run(30 * 24, curves)

    assert len(seen.opened(FindingKind.CRACKED_CUP)) == named


def test_a_deep_cup_that_cracks_is_found_by_dry_soil_above_where_no_neighbour_is_as_deep() -> None:
    above = wetted(drying(18.0), 265.0, 3.0)
    curves = {DEEP: rippled(collapsing(drying(10.0, 1.0), 200.0, 1.0, lambda _: 2.4), 0.3), ONE: above, OTHER: above}

    seen = farm("north-30", "north-31", "north-60").run(280, curves)

    assert seen.opened(*HYDRAULIC) == [(FindingKind.CRACKED_CUP, "north-60")]


@pytest.mark.parametrize(
    ("holds_kpa", "per_day_kpa", "found"),
    [(2.4, 0.0, [(FindingKind.CRACKED_CUP, "north-60")]), (2.4, 0.1, []), (4.0, 0.02, [])],
)
def test_a_deep_cup_that_cracks_when_water_comes_is_found_while_the_soil_above_dries_for_weeks(
    holds_kpa: float, per_day_kpa: float, found: list[tuple[FindingKind, str]]
) -> None:
    """Sand that has drained stands nearly still as well, at more."""
    deep = rippled(wetted(drying(10.0, 1.0), 210.0, holds_kpa, per_day_kpa=per_day_kpa), 0.3)

    seen = farm("north-30", "north-60").run(
        35 * 24, {DEEP: deep, ONE: wetted(drying(18.0), 200.0, 3.0, per_day_kpa=1.0)}
    )

    assert seen.opened(*HYDRAULIC) == found


def test_water_on_all_of_a_zone_and_days_of_wet_soil_are_quiet() -> None:
    curves = {
        ONE: wetted(drying(), 200.0, 0.5, per_day_kpa=0.5),
        OTHER: wetted(drying(18.0), 201.0, 1.0, per_day_kpa=0.7),
        DEEP: wetted(drying(10.0, 1.0), 210.0, 0.0, 8.0, per_day_kpa=0.2),
    }

    assert farm("north-30", "north-31", "north-60").run(30 * 24, curves).opened() == []


def test_water_that_reached_one_station_only_is_quiet() -> None:
    seen = farm("north-30", "north-31").run(20 * 24, {ONE: wetted(drying(), 200.0, 6.0), OTHER: drying(18.0, 2.0)})

    assert seen.opened() == []


def test_a_flood_that_stands_on_all_cups_is_no_lost_water() -> None:
    def flooded(to_kpa: float) -> Tension:
        return lambda h: to_kpa if 200.0 < h < 230.0 else drying()(h)

    seen = farm("north-30", "north-31").run(12 * 24, {ONE: flooded(-5.2), OTHER: flooded(-3.0)})

    assert seen.opened(*HYDRAULIC) == []


def test_a_finding_of_the_water_stays_until_a_service_is_written_down() -> None:
    def back(h: float) -> float:
        return collapsing(drying(), 200.0)(h) if h < 300 else drying(10.0)(h)

    seen = farm("north-30", "north-31").run(30 * 24, {ONE: back, OTHER: drying(18.0, 1.5)})

    assert seen.still_open() == {FindingKind.LOST_WATER}
    seen.keep(seen.diagnosis.serviced(seen.state, "north-30", hours_us(30 * 24)))
    assert seen.still_open() == set()


def broken_twice(h: float) -> float:
    """It breaks, is filled up after two days, and breaks again nine hours later."""
    broken = collapsing(drying(per_day_kpa=4.2), 360.0, 0.3, lambda h: 30.0)
    return collapsing(drying(per_day_kpa=4.2), 417.0, 0.3, lambda h: 30.0)(h) if h >= 408.0 else broken(h)


def test_a_cup_that_breaks_again_after_it_was_filled_up_is_told_again_and_never_believed_meanwhile() -> None:
    seen = farm("north-30", "north-31").run(480, {ONE: broken_twice, OTHER: drying(18.0)})

    first, again = seen.begun(*HYDRAULIC)
    (ended,) = seen.ended()
    assert (first.key, ended.end) == (again.key, End.REPEATED)
    assert ended.ended_us == again.start_us
    assert abs(again.start_us - hours_us(417)) <= hours_us(2) - hours_us(0)
    assert again.found_us <= hours_us(423.5)
    assert Fact("filled up after", first.found_us, "time") in again.facts
    assert seen.happened(EventKind.WETTING) == []


def test_water_that_reaches_a_broken_tube_which_was_filled_up_is_not_told_as_another_break() -> None:
    broken = collapsing(drying(per_day_kpa=4.2), 360.0, 0.3, lambda h: 30.0)
    watered = {ONE: wetted(drying(per_day_kpa=4.2), 417.0, 5.0), OTHER: wetted(drying(18.0, 2.0), 417.0, 4.0)}
    curves = {ONE: lambda h: watered[ONE](h) if h >= 408.0 else broken(h), OTHER: watered[OTHER]}
    seen = farm("north-30", "north-31").run(520, curves)

    assert seen.opened(*HYDRAULIC) == [(FindingKind.AIR_ENTRY, "north-30")]


def rippled(curve: Tension, kpa: float) -> Tension:
    return lambda h: curve(h) + kpa * math.cos(2 * math.pi * (h - 20.0) / 24.0)


def test_a_cracked_cup_is_seen_through_the_daily_swing_of_its_gas() -> None:
    cracked = rippled(collapsing(drying(), 200.0, 1.0, lambda _: 4.0), 2.0)
    seen = farm("north-30", "north-31").run(400, {ONE: cracked, OTHER: drying(18.0)})

    assert seen.opened(*HYDRAULIC) == [(FindingKind.CRACKED_CUP, "north-30")]


def test_a_cracked_cup_whose_gas_swings_wider_every_day_has_not_lost_its_water() -> None:
    def swinging(h: float) -> float:
        return (3.0 + 1.5 * max(0.0, h - 240.0) / 24.0) * math.cos(2 * math.pi * (h - 18.0) / 24.0)

    def cracked(h: float) -> float:
        return 1.2 + (0.0 if h < 100.0 else swinging(h)) + 0.03 * math.sin(777.0 * h)

    seen = farm("north-30", "north-31").run(330, {ONE: cracked, OTHER: drying(18.0)})

    assert FindingKind.LOST_WATER not in [kind for kind, _ in seen.opened()]


@pytest.mark.parametrize(
    ("per_day_kpa", "leaps", "cracked"), [(0.0, False, True), (0.03, False, False), (0.0, True, False)]
)
def test_a_deep_cup_that_fell_and_has_stood_still_for_two_weeks_while_its_neighbour_moves_a_little_is_cracked(
    per_day_kpa: float, leaps: bool, cracked: bool
) -> None:
    def fell(h: float) -> float:
        level_kpa = 2.6 + per_day_kpa * max(0.0, h - 200.0) / 24.0
        left = 0.0 if leaps else math.exp(-max(0.0, h - 200.0))
        kpa = 11.0 + 0.01 * h if h < 200.0 else level_kpa + (13.0 - level_kpa) * left
        return kpa + 0.1 * math.cos(2 * math.pi * (h - 20.0) / 24.0)

    swinging = drying(15.0, 0.1, 1.0)
    seen = farm("north-60", "north-61").run(24 * 24, {DEEP: fell, "bus1/north-61": swinging})

    assert seen.opened(*HYDRAULIC) == ([(FindingKind.CRACKED_CUP, "north-60")] if cracked else [])


def test_deep_soil_that_a_water_table_holds_still_at_both_stations_is_no_cracked_cup() -> None:
    def rests(h: float) -> float:
        kpa = 11.0 + 0.01 * h if h < 200.0 else 4.0 + 9.0 * math.exp(-(h - 200.0))
        return kpa + 0.1 * math.cos(2 * math.pi * (h - 20.0) / 24.0)

    seen = farm("north-60", "north-61").run(24 * 24, {DEEP: rests, "bus1/north-61": lambda h: rests(h) + 0.5})

    assert seen.opened(*HYDRAULIC) == []


def test_water_that_comes_to_one_spot_in_pushes_for_a_day_is_no_slow_loss() -> None:
    vacua = [34.0, 27.0, 19.5, 15.0, 13.6, 12.8, 11.0, 9.2, 7.8, 6.4, 5.3, 4.4]

    def pushed(h: float) -> float:
        at, part = divmod(min(max(h - 200.0, 0.0), 32.99) / 3.0, 1.0)
        return vacua[int(at)] + part * (vacua[int(at) + 1] - vacua[int(at)]) - HEAD_KPA

    seen = farm("north-30", "north-31").run(232, {ONE: pushed, OTHER: drying(18.0)})

    assert seen.opened(*HYDRAULIC) == []


def test_wet_soil_that_drains_and_dries_slowly_beside_a_dry_station_is_quiet() -> None:
    def irrigated(h: float) -> float:
        after = 4.0 + 16.0 * math.exp(-(h - 200.0) / 5.0) + 0.3 * max(0.0, h - 230.0) / 24.0
        return drying()(h) if h < 200.0 else after

    seen = farm("north-30", "north-31").run(400, {ONE: irrigated, OTHER: drying(18.0, 5.0)})

    assert seen.opened(*HYDRAULIC) == []


def test_a_step_to_a_few_kilopascals_is_no_cracked_cup() -> None:
    def stepped(h: float) -> float:
        return drying(12.0, 0.05)(h) - (9.0 if h >= 200.0 else 0.0)

    seen = farm("north-30", "north-31", "north-60").run(
        400, {ONE: stepped, OTHER: drying(18.0, 0.3), DEEP: drying(12.0, 0.2)}
    )

    assert seen.opened(*HYDRAULIC) == []


def test_a_tube_that_fills_slowly_after_somebody_opened_it_has_not_lost_its_water() -> None:
    """Its cup hardly touches the soil, so that it takes days; the others are back within the hour."""

    def opened(curve: Tension, fills_h: float) -> Tension:
        def later(h: float) -> float:
            lost_kpa = (curve(200.0) + HEAD_KPA) * math.exp(-max(0.0, h - 200.5) / fills_h)
            return curve(h) - (lost_kpa if h >= 200.0 else 0.0)

        return later

    curves = {ONE: opened(drying(6.0, 0.5), 150.0), OTHER: opened(drying(18.0), 0.5), DEEP: opened(drying(15.0), 0.5)}
    seen = farm("north-30", "north-31", "north-60").run(300, curves)

    assert seen.opened(*HYDRAULIC) == []


def wet(kpa: float) -> Tension:
    """Ground that is watered every day and hardly dries."""
    return lambda h: kpa + 0.4 * math.cos(2 * math.pi * (h - 17.0) / 24.0)


@pytest.mark.parametrize("tau_h", [12.0, 20.0, 28.0])
def test_a_slow_loss_in_wet_ground_is_seen_before_the_tube_is_empty(tau_h: float) -> None:
    seen = farm("north-30", "north-31").run(300, {ONE: collapsing(wet(3.5), 200.0, tau_h), OTHER: wet(3.2)})

    (finding,) = seen.begun(*HYDRAULIC)
    assert finding.key.kind is FindingKind.LOST_WATER
    assert finding.found_us <= hours_us(200 + 36)


def test_dry_ground_that_becomes_a_little_less_dry_is_no_water_beside_a_slow_loss_in_wet_ground() -> None:
    def easing(h: float) -> float:
        return drying(50.0, 0.0)(h) - 0.2 * max(0.0, h - 150.0)

    seen = farm("north-30", "north-31").run(230, {ONE: collapsing(wet(3.5), 200.0, 16.0), OTHER: easing})

    assert seen.opened(*HYDRAULIC) == [(FindingKind.LOST_WATER, "north-30")]


def test_a_slow_loss_in_wet_ground_is_seen_beside_a_neighbour_that_swings_with_the_day() -> None:
    losing = collapsing(wet(4.5), 212.0, 20.0)

    seen = farm("north-30", "north-31").run(240, {ONE: losing, OTHER: rippled(wet(5.0), 1.3)})

    assert seen.opened(*HYDRAULIC) == [(FindingKind.LOST_WATER, "north-30")]


@pytest.mark.parametrize(("below_kpa", "named"), [(13.0, 1), (3.0, 0)])
def test_where_no_neighbour_at_the_depth_can_be_asked_dry_ground_below_tells_of_a_slow_loss(
    below_kpa: float, named: int
) -> None:
    """Water that stands above a cup goes down from there."""
    losing = collapsing(wet(6.0), 200.0, 12.0)

    seen = farm("north-30", "north-60").run(236, {ONE: losing, DEEP: drying(below_kpa, 0.1)})

    assert len(seen.opened(FindingKind.LOST_WATER)) == named


def test_a_deeper_neighbour_at_another_post_that_becomes_wetter_tells_nothing_of_a_slow_loss() -> None:
    other_post = {OTHER: wet(3.2), "bus1/north-61": wetted(wet(9.0), 205.0, 3.0, 8.0)}

    seen = farm("north-30", "north-31", "north-61").run(240, {ONE: collapsing(wet(3.5), 200.0, 20.0), **other_post})

    assert seen.opened(*HYDRAULIC) == [(FindingKind.LOST_WATER, "north-30")]


def test_water_that_also_reached_a_neighbour_is_no_slow_loss_however_low_it_leads() -> None:
    one = collapsing(wet(6.0), 200.0, 10.0, lambda h: -3.0)

    assert farm("north-30", "north-31").run(260, {ONE: one, OTHER: wet(6.0)}).opened(*HYDRAULIC)
    other = collapsing(wet(6.0), 202.0, 10.0, lambda h: 1.0)
    assert not farm("north-30", "north-31").run(260, {ONE: one, OTHER: other}).opened(*HYDRAULIC)


def test_what_has_read_as_little_before_has_a_wrong_zero_and_loses_no_water() -> None:
    def off(h: float) -> float:
        return wet(-2.6)(h) if h < 60.0 else min(wet(2.5)(h), wet(-2.6)(h) + 0.15 * (h - 60.0))

    seen = farm("north-30", "north-31").run(
        240, {ONE: collapsing(off, 200.0, 12.0, lambda h: -3.0), OTHER: lambda h: off(h) * 0.5 + 3.0}
    )

    assert FindingKind.LOST_WATER not in [kind for kind, _ in seen.opened()]


def test_a_leap_to_where_an_empty_tube_reads_is_lost_water_within_hours_in_wet_ground_too() -> None:
    seen = farm("north-30", "north-31").run(240, {ONE: collapsing(wet(4.5), 200.0, 0.05), OTHER: wet(2.0)})

    (finding,) = seen.begun(*HYDRAULIC, FindingKind.LEVEL_SHIFT)
    assert finding.key.kind is FindingKind.LOST_WATER
    assert finding.found_us <= hours_us(206.5)


def test_a_leap_to_where_an_empty_tube_reads_is_no_water_though_water_had_led_down_to_where_it_leapt_from() -> None:
    def own(h: float) -> float:
        return wetted(drying(30.0), 199.0, 5.0, per_day_kpa=0.2)(h) if h < 300.0 else dead(h)

    seen = farm("north-30", "north-31").run(306, {ONE: own, OTHER: lambda h: 2.0 if h >= 199.0 else drying(28.0)(h)})

    (found,) = seen.begun(*HYDRAULIC)
    assert (found.key.kind, found.key.name) == (FindingKind.LOST_WATER, "north-30")
    assert abs(found.start_us - hours_us(300)) <= hours_us(2) - hours_us(0)


def test_what_has_read_less_than_an_empty_tube_can_only_passes_by_where_one_reads() -> None:
    def rising(h: float) -> float:
        return -10.0 + 0.045 * h

    seen = farm("north-30", "north-31").run(200, {ONE: rising, OTHER: lambda h: rising(h) + 13.0})

    assert FindingKind.LOST_WATER not in [kind for kind, _ in seen.opened()]


def test_an_hour_of_a_wire_that_dropped_out_hides_no_lost_water() -> None:
    def dropping_out(h: float) -> float:
        return -13.0 if 150.0 <= h < 151.0 else wet(4.5)(h)

    own = collapsing(dropping_out, 200.0, 0.05)
    seen = farm("north-30", "north-31").run(240, {ONE: own, OTHER: wet(2.0)})

    assert FindingKind.LOST_WATER in [kind for kind, _ in seen.opened()]


def test_lost_water_is_seen_through_a_wire_that_drops_out_hour_after_hour() -> None:
    empty = collapsing(drying(18.0), 200.0, 30.0)

    def dropping_out(h: float) -> float | None:
        return None if h > 200.0 and h % 6.0 < 1.0 else empty(h)

    seen = farm("north-30").run(400, {ONE: dropping_out})

    assert FindingKind.LOST_WATER in [kind for kind, _ in seen.opened()]


def test_a_fall_to_less_than_an_empty_tube_reads_leaves_its_water() -> None:
    def fell(h: float) -> float:
        return drying(8.0, 1.0)(h) - 8.0 * min(max(h - 200.0, 0.0), 3.0)

    seen = farm("north-30", "north-31").run(240, {ONE: fell, OTHER: drying(9.0, 1.0)})

    assert FindingKind.LOST_WATER not in [kind for kind, _ in seen.opened()]


def test_a_tube_that_leaks_away_after_a_fall_from_the_dry_end_took_in_air_though_water_came_then() -> None:
    def own(h: float) -> float:
        after = 3.0 if h < 225.0 else -HEAD_KPA + (3.0 + HEAD_KPA) * math.exp(-(h - 225.0) / 20.0)
        return drying(68.0, 1.0)(h) if h < 200.0 else after

    watered_too = wetted(drying(30.0), 199.0, 9.0)
    seen = farm("north-30", "north-31").run(320, {ONE: own, OTHER: watered_too})

    (found,) = seen.begun(*HYDRAULIC)
    assert found.key.kind is FindingKind.AIR_ENTRY
    assert found.facts[-1].what == "it had fallen from"


@pytest.mark.parametrize(("from_kpa", "kind"), [(70.0, FindingKind.AIR_ENTRY), (66.0, FindingKind.LOST_WATER)])
def test_what_became_empty_slowly_since_it_was_about_at_the_dry_end_let_air_in(
    from_kpa: float, kind: FindingKind
) -> None:
    own = collapsing(lambda _: from_kpa, 200.0, 9.0)
    seen = farm("north-30", "north-31").run(300, {ONE: own, OTHER: drying(30.0)})

    assert seen.opened(*HYDRAULIC) == [(kind, "north-30")]


@pytest.mark.parametrize(
    ("from_kpa", "silent_h", "kind"),
    [
        (74.0, 60, FindingKind.AIR_ENTRY), (64.0, 60, FindingKind.LOST_WATER), (74.0, 320, FindingKind.LOST_WATER),
    ],
)  # fmt: skip
def test_what_is_found_empty_after_a_silence_let_air_in_if_it_had_been_at_the_dry_end(
    from_kpa: float, silent_h: int, kind: FindingKind
) -> None:
    def own(h: float) -> float | None:
        if 100.0 <= h < 100.0 + silent_h:
            return None
        return drying(from_kpa, 0.0)(h) if h < 100.0 else dead(h)

    seen = farm("north-30").run(160 + silent_h, {ONE: own})

    (found,) = seen.begun(*HYDRAULIC)
    assert found.key.kind is kind
    assert ("it had fallen from" in [fact.what for fact in found.facts]) is (kind is FindingKind.AIR_ENTRY)


@pytest.mark.parametrize(("after_kpa", "kind"), [(-1.5, FindingKind.AIR_ENTRY), (1.5, FindingKind.LOST_WATER)])
def test_what_reads_less_than_free_water_ever_since_it_was_silent_at_the_dry_end_let_air_in(
    after_kpa: float, kind: FindingKind
) -> None:
    def own(h: float) -> float | None:
        if 100.0 <= h < 140.0:
            return None
        left = math.exp(-(h - 140.0) / 50.0)
        return drying(74.0, 0.0)(h) if h < 100.0 else -HEAD_KPA + (after_kpa + HEAD_KPA) * left

    (found,) = farm("north-30").run(330, {ONE: own}).begun(*HYDRAULIC)

    assert found.key.kind is kind
    assert (found.start_us == hours_us(140)) is (kind is FindingKind.AIR_ENTRY)


def test_the_fall_from_the_dry_end_to_where_it_is_empty_is_told_once() -> None:
    own = collapsing(drying(68.0, 1.0), 200.0, 0.02, to=lambda _: -HEAD_KPA)
    seen = farm("north-30", "north-31").run(330, {ONE: own, OTHER: wetted(drying(30.0), 199.0, 9.0)})

    (found,) = seen.begun(FindingKind.AIR_ENTRY)
    assert [fact.what for fact in found.facts if fact.what.endswith("from")] == ["fell from"]


def test_soil_that_keeps_still_where_a_tube_whose_level_rose_would_be_empty_has_its_water() -> None:
    def own(h: float) -> float:
        off_kpa = 0.0 if h < 120.0 else -0.5 + 11.5 * math.exp(-max(0.0, h - 170.0) / 8.0)
        return wet(6.0)(h) + off_kpa

    seen = farm("north-30", "north-31").run(320, {ONE: own, OTHER: drying(4.0, 3.0)})

    assert FindingKind.LEVEL_SHIFT in [kind for kind, _ in seen.opened()]
    assert seen.opened(*HYDRAULIC) == []


def test_water_that_seeps_in_evenly_takes_ever_larger_shares_and_is_no_slow_loss() -> None:
    def seeping(h: float) -> float:
        since_h = max(0.0, h - 200.0)
        return drying(44.0, 0.0, 0.1)(h) - 33.0 * math.pow(since_h / 26.0, 0.9)

    seen = farm("north-30", "north-31").run(231, {ONE: seeping, OTHER: drying(40.0, 1.0)})

    assert seen.opened(*HYDRAULIC) == []


def test_one_with_a_broken_wire_and_one_further_down_are_no_neighbours_to_a_slow_loss_in_wet_ground() -> None:
    one = {ONE: collapsing(wet(3.5), 200.0, 40.0, lambda h: -4.5), DEEP: wet(9.0)}

    assert farm("north-30", "north-60", "north-31").run(260, one | {OTHER: wet(3.2)}).opened(*HYDRAULIC)
    broken = {OTHER: lambda h: wet(3.2)(h) if h < 190.0 else Cause.OPEN_CIRCUIT}
    assert not farm("north-30", "north-60", "north-31").run(260, one | broken).opened(*HYDRAULIC)


def test_a_zero_that_drifts_past_where_an_empty_tube_reads_leaves_it_its_water() -> None:
    def soil(h: float) -> float:
        return watered_every_four_days(7.0)(h) + 0.6

    def drifting(h: float) -> float:
        return 0.4 * soil(h) - 1.0 - min(0.25 * max(0.0, h - 240.0) / 24.0, 6.8)

    seen = farm("north-30", "north-31").run(1100, {ONE: drifting, OTHER: soil})

    assert (FindingKind.ZERO_DRIFT, "north-30") in seen.opened()
    assert FindingKind.LOST_WATER not in [kind for kind, _ in seen.opened()]


@pytest.mark.parametrize(("swing_kpa", "empty"), [(0.4, True), (3.0, False)])
def test_one_whose_zero_drifts_and_that_swings_past_where_an_empty_tube_reads_every_day_has_its_water(
    swing_kpa: float, empty: bool
) -> None:
    """Gas in a tube that lost it follows the day by less."""

    def own(h: float) -> float:
        return -HEAD_KPA + swing_kpa * math.cos(2.0 * math.pi * (h - 15.0) / 24.0) if h > 100.0 else 10.0

    seen = farm("north-30", "north-31").run(240, {ONE: lambda _: 10.0, OTHER: drying(12.0, 4.0)})
    key = FindingKey(FindingKind.ZERO_DRIFT, "tensiometer/north-30")
    seen.state.findings[key] = Finding(key, hours_us(0.0), hours_us(230.0), 0.8)

    seen.run(100, {ONE: own, OTHER: drying(12.0, 4.0)})

    assert seen.opened(FindingKind.LOST_WATER) == [(FindingKind.LOST_WATER, "north-30")] * empty


def test_the_end_of_a_fall_that_water_began_is_no_slow_loss() -> None:
    """A zero that has drifted lets it read less than free water; its neighbours were through sooner."""
    one = wetted(drying(20.0, 1.0), 200.0, -5.2, 5.5, 1.0)
    other = wetted(drying(18.0, 1.0), 198.0, 2.5, 1.0, 1.0)

    assert farm("north-30", "north-31").run(230, {ONE: one, OTHER: other}).opened(FindingKind.LOST_WATER) == []


def test_one_that_came_to_read_less_than_free_water_does_not_lose_it_when_soil_becomes_wet() -> None:
    def low(h: float) -> float:
        return 0.2 - 1.2 * max(0.0, h - 176.0) / 24.0

    seen = farm("north-30", "north-60").run(212, {ONE: wetted(low, 200.0, -5.8, 1.0, 0.0), DEEP: drying(10.0, 1.0)})

    assert seen.opened(*HYDRAULIC) == []


def test_water_that_neighbours_had_before_and_that_comes_slowly_at_first_is_no_slow_loss() -> None:
    """A zero that has drifted lets it read less than free water."""

    def wetted_late(h: float) -> float:
        since_h = max(0.0, h - 200.0)
        return wet(9.0)(h) - 12.0 * (1.0 - (1.0 + since_h / 3.0 + since_h**2 / 18.0) * math.exp(-since_h / 3.0))

    other = wetted(drying(18.0, 1.0), 194.0, 2.5, 1.0, 1.0)

    assert farm("north-30", "north-31").run(230, {ONE: wetted_late, OTHER: other}).opened(*HYDRAULIC) == []


@pytest.mark.parametrize(("leapt_kpa", "named"), [(0.0, 1), (-9.0, 0)])
def test_what_leapt_down_before_has_a_level_that_shifted_and_loses_no_water_when_soil_becomes_wet(
    leapt_kpa: float, named: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sinking, "leap_in_doubt_kpa", lambda *_: leapt_kpa)

    seen = farm("north-30", "north-31").run(236, {ONE: collapsing(wet(3.5), 200.0, 20.0), OTHER: wet(3.2)})

    assert len(seen.opened(FindingKind.LOST_WATER)) == named


def test_even_wetting_that_comes_to_rest_after_a_day_is_no_slow_loss_beside_one_dry_neighbour() -> None:
    def seeping(h: float) -> float:
        since_h = min(max(0.0, h - 200.0), 31.0)
        before_kpa = 10.0 + 0.02 * min(h, 200.0) + HEAD_KPA + 0.03 * math.sin(777.0 * h)
        return before_kpa * math.exp(-since_h / 44.0) - HEAD_KPA

    seen = farm("north-30", "north-31").run(280, {ONE: seeping, OTHER: drying(18.0, 1.0)})

    assert seen.opened(*HYDRAULIC) == []


def test_a_ceiling_under_the_daily_swing_of_gas_is_no_lost_water() -> None:
    def swing(h: float) -> float:
        return 4.5 * math.cos(2 * math.pi * (h - 20.0) / 24.0)

    def cracked(h: float) -> float:
        return swing(h) + (25.0 if h < 202.0 else 2.0 + 23.0 * math.exp(-(h - 202.0) / 1.5))

    seen = farm("north-30", "north-31").run(260, {ONE: cracked, OTHER: lambda h: drying(18.0, 1.0)(h)})

    assert (FindingKind.LOST_WATER, "north-30") not in seen.opened(*HYDRAULIC)


@pytest.mark.parametrize(("sees_above", "found"), [(True, [(FindingKind.LOST_WATER, "north-61")]), (False, [])])
def test_one_dry_neighbour_tells_of_a_deep_slow_loss_only_beside_soil_above_that_can_be_seen(
    sees_above: bool, found: list[tuple[FindingKind, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    above = instrument("north-31").subject
    trusts = Look.trusts
    monkeypatch.setattr(
        Look, "trusts", lambda look, n: trusts(look, n) and (sees_above or n.instrument.subject != above)
    )
    deep = collapsing(drying(20.0, 1.0), 200.0, 30.0)
    curves = {DEEP: drying(18.0, 1.0), "bus1/north-61": deep, "bus1/north-31": drying(22.0, 1.0)}
    seen = farm("north-60", "north-61", "north-31").run(236, curves)

    assert seen.opened(FindingKind.LOST_WATER) == found


def test_what_went_on_with_the_soil_after_its_level_sank_passes_by_where_an_empty_tube_reads() -> None:
    def own(h: float) -> float:
        soil_kpa = 4.5 + 0.05 * max(0.0, h - 120.0) if h < 210.0 else 5.2
        return soil_kpa + 0.1 * math.cos(math.pi * h / 12.0) - (10.0 if h >= 120.0 else 0.0)

    def other(h: float) -> float:
        return (
            10.0 + 0.12 * max(0.0, h - 120.0)
            if h < 210.0
            else 10.0 + 11.0 * math.exp((210.0 - h) / 3.0) + (h - 210) / 8.0
        )

    seen = farm("north-30", "north-31").run(320, {ONE: own, OTHER: other})

    assert seen.still_open() == {FindingKind.LEVEL_SHIFT}


def test_gas_that_cools_a_little_more_by_night_is_no_slow_loss() -> None:
    def own(h: float) -> float:
        return 1.2 + (2.1 if h < 204.0 else 3.4) * math.cos(2 * math.pi * (h - 15.0) / 24.0)

    seen = farm("north-30", "north-31").run(225, {ONE: own, OTHER: drying(12.0, 1.0)})

    assert seen.opened(FindingKind.LOST_WATER) == []


def test_gas_that_swings_through_where_an_empty_tube_reads_leaves_it_its_water() -> None:
    def cracked(h: float) -> float:
        swing_kpa = 7.0 if h < 200.0 else 8.0
        return 1.4 + swing_kpa * math.cos(2 * math.pi * (h - 15.0) / 24.0)

    seen = farm("north-30", "north-31").run(300, {ONE: cracked, OTHER: drying(12.0, 1.0)})

    assert seen.opened(FindingKind.LOST_WATER) == []


def test_months_after_water_was_lost_nothing_tells_whether_the_tube_was_filled_up_since() -> None:
    def soil(h: float) -> float:
        return drying(14.0, 0.0, 0.1)(h) + 8.0 * math.cos(2 * math.pi * h / 480.0)

    def own(h: float) -> float:
        return collapsing(soil, 200.0)(h) if h < 400.0 else soil(h)

    seen = farm("north-30", "north-31").run(70 * 24, {ONE: own, OTHER: soil})

    assert FindingKind.LOST_WATER in seen.still_open()
