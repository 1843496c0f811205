"""Laws of whole seasons, on short ones of a small farm."""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from parchd.clock import US_PER_S
from parchd.contract import Cause, Unit
from parchd.diagnosis.kinds import FindingKind
from parchd.physics.retention import KPA_PER_CM, SOILS
from parchd.pipeline.columns import ColumnConversion
from parchd.simulator.care import services
from parchd.simulator.chance import stream
from parchd.simulator.climate import CLIMATES
from parchd.simulator.convert import Columns, readings
from parchd.simulator.draw import INTERVALS_S, draw_plan
from parchd.simulator.farm import Farm
from parchd.simulator.field import PAN_CM, PAN_KS_CM_D, THICKNESS_CM
from parchd.simulator.grid import grid_of
from parchd.simulator.plan import FaultPlan, Plan
from parchd.simulator.richards import Richards, ground_of
from parchd.simulator.ripple import STRONG_SHARE
from parchd.simulator.scene import Scene
from parchd.simulator.season import Fault, Season, Service, simulate
from parchd.simulator.weather import weather
from parchd.simulator.wire_faults import sent
from parchd.simulator.wiring import WIRINGS

HOUR_US = 3600 * US_PER_S
DAY_US = 24 * HOUR_US
SMALL = Plan(11, days=40, soils=("loam", "silt loam"), climate="desert", services=0, troubles=0.0, ripple=0.1)
TARGET, SOURCE = "tensiometer/north-1-30", "source/gateway-a"
ONSET_US = SMALL.start_us + 15 * DAY_US


@cache
def season(plan: Plan) -> Season:
    return simulate(plan)


def faulty(kind: FindingKind, target: str = TARGET, *, size: float = 0.5, form: str = "", **changes: Any) -> Plan:
    """The small farm with one fault."""
    fault = FaultPlan(kind, target, ONSET_US, size, None, form)
    return replace(SMALL, faults=(fault,), **changes)


def columns(plan: Plan, name: str = "north-1-30") -> Columns:
    made = season(plan)
    channel = next(one.channel for one in made.setup.tensiometers if one.place.tensiometer == name)
    return readings(made)[channel]


def only_fault(plan: Plan) -> Fault:
    (fault,) = season(plan).faults
    return fault


def after(made: Columns, days: float = 0.0) -> NDArray[np.bool_]:
    later: NDArray[np.bool_] = made.time_us >= ONSET_US + int(days * DAY_US)
    return later


def off(plan: Plan, days: float = 0.0) -> NDArray[np.float64]:
    """How far the faulty reading is off the healthy one from some days after the onset on."""
    made, healthy = columns(plan), columns(replace(plan, faults=()))
    late = after(made, days)
    difference: NDArray[np.float64] = made.tension_kpa[late] - healthy.tension_kpa[late]
    return difference


def test_the_same_plan_gives_the_same_season_bit_for_bit() -> None:
    one, other = simulate(SMALL), simulate(SMALL)
    assert one.faults == other.faults
    assert one.waters == other.waters
    for channel, track in one.tracks.items():
        assert track.value.tobytes() == other.tracks[channel].value.tobytes()
        assert track.time_us.tobytes() == other.tracks[channel].time_us.tobytes()
        assert track.received_us.tobytes() == other.tracks[channel].received_us.tobytes()


def test_another_seed_gives_another_season() -> None:
    one, other = season(SMALL), simulate(replace(SMALL, seed=12))
    assert one.tracks["gateway-a/ch01"].value.tobytes() != other.tracks["gateway-a/ch01"].value.tobytes()


@pytest.mark.parametrize("wiring", WIRINGS)
def test_a_healthy_season_never_touches_a_rail_whatever_the_wiring(wiring: str) -> None:
    for made in readings(season(replace(SMALL, wirings=(wiring,)))).values():
        assert (made.cause == Cause.NONE).all()


@pytest.mark.parametrize("wiring", WIRINGS)
def test_every_wiring_tells_the_same_story(wiring: str) -> None:
    made, usual = columns(replace(SMALL, wirings=(wiring,))), columns(SMALL)
    assert np.abs(made.tension_kpa - usual.tension_kpa).max() < 1.5


def test_a_healthy_reading_is_the_soil_within_what_an_instrument_adds() -> None:
    made = season(SMALL)
    for setup in made.setup.tensiometers:
        got = readings(made)[setup.channel]
        soil = np.interp(got.time_us, made.soil_time_us, made.soil_kpa[setup.place.tensiometer])
        assert np.median(np.abs(got.tension_kpa - soil)) < 1.5
        assert soil.max() < setup.usable_limit_kpa


def test_the_soil_neither_loses_nor_makes_water() -> None:
    assert season(SMALL).water_lost_share < 0.01


@pytest.mark.parametrize("soil", ["silty clay", "clay loam", "loam"])
def test_rain_runs_off_where_the_ground_is_full(soil: str) -> None:
    """Three days of cloudbursts: 25 mm an hour, every other six hours."""
    ground = ground_of([SOILS[soil]], THICKNESS_CM)
    ground.ks_cm_d[:, ground.centre_cm > PAN_CM] = PAN_KS_CM_D
    solver, days = Richards(ground), 1.0 / 96.0 / 4.0
    water = solver.start(np.full((1, len(THICKNESS_CM)), -60.0))
    held, ran_off, net = float((water.content * THICKNESS_CM).sum()), 0.0, 0.0
    above, pond = -np.inf, 0.0
    for step in range(3 * 96 * 4):
        rain = np.full(1, 60.0 if step // 96 % 2 else 0.0)
        done = solver.step(water, days, rain, np.zeros_like(water.content))
        assert done is not None
        water, flows, _ = done
        ran_off += float(flows.ran_off_cm.sum())
        net += float((rain * days - flows.ran_off_cm - flows.drained_cm).sum())
        above = max(above, float((water.height_cm - ground.centre_cm).max()))
        pond = max(pond, float(water.pond_cm.max()))
    kept = float((water.content * THICKNESS_CM).sum() + water.pond_cm.sum())
    assert ran_off > 10.0
    assert 1.0 < pond <= 1.5
    assert above + pond < 3.0
    assert kept - held == pytest.approx(net, abs=0.01 * ran_off)


@pytest.mark.parametrize("seed", range(600, 605))
def test_no_cup_of_a_drawn_season_feels_water_above_the_ground(seed: int) -> None:
    made = season(draw_plan(seed, faults=False, days=60))
    assert made.faults == ()
    for setup in made.setup.tensiometers:
        standing_m = -made.soil_kpa[setup.place.tensiometer].min() / KPA_PER_CM / 100.0
        assert standing_m < setup.place.depth_m + 0.03


def test_the_farmer_waters_dry_zones_and_the_soil_answers() -> None:
    made = season(SMALL)
    given = [water for water in made.waters if water.kind == "irrigation" and water.zone == "north"]
    assert given
    wet = made.soil_kpa["north-1-30"]
    for water in given[:-1]:
        begin = int(np.searchsorted(made.soil_time_us, water.start_us))
        assert wet[begin : begin + 4 * 96].min() < wet[begin]


@pytest.mark.parametrize("interval_s", [600.0, 1800.0, 3600.0])
def test_samples_come_at_their_interval(interval_s: float) -> None:
    made = season(replace(SMALL, interval_s=interval_s))
    for track in made.tracks.values():
        assert (np.diff(track.time_us) == int(interval_s) * US_PER_S).all()
        assert len(track.time_us) == 40 * 86_400 // interval_s
        assert (track.received_us > track.time_us).all()


def test_means_are_smoother_than_single_samples() -> None:
    single, mean = (columns(replace(SMALL, interval_s=3600.0, averaged=averaged)) for averaged in (False, True))
    assert np.abs(np.diff(mean.tension_kpa)).max() <= np.abs(np.diff(single.tension_kpa)).max() + 0.5


def test_a_service_shows_on_the_tubes_it_names_and_passes() -> None:
    made = season(replace(SMALL, services=1))
    (service,) = made.services
    assert made.faults == ()
    for setup in made.setup.tensiometers:
        got = readings(made)[setup.channel]
        during = (got.time_us >= service.begin_us) & (got.time_us <= service.end_us + HOUR_US)
        dipped = got.gauge_kpa[during].max() > -2.5
        assert dipped == (setup.place.tensiometer in service.tensiometers)


def test_a_gateway_with_troubles_loses_some_samples_and_sends_some_late() -> None:
    made = season(replace(SMALL, troubles=6.0))
    tracks = [track for name, track in made.tracks.items() if name.startswith("gateway-a/")]
    assert all(len(track.time_us) < 40 * 96 for track in tracks)
    assert max(int((track.received_us - track.time_us).max()) for track in tracks) > HOUR_US
    assert all((np.diff(track.received_us) >= 0).all() for track in tracks)
    assert all((np.diff(track.time_us) > 0).all() for track in tracks)


def test_a_thermometer_and_a_barometer_send_beside_the_tensiometers() -> None:
    made = season(replace(SMALL, thermometer=True, barometer=True))
    assert made.tracks["gateway-b/top-temperature"].unit is Unit.CELSIUS
    assert made.barometer_channel == "gateway-a/air-pressure"
    assert 900.0 < made.tracks["gateway-a/air-pressure"].value.mean() < 1020.0
    assert all(setup.temperature_channel in made.tracks for setup in made.setup.tensiometers)


@pytest.mark.parametrize("form", ["collapse", "slow"])
def test_lost_water_reads_minus_the_head_from_then_on(form: str) -> None:
    plan = faulty(FindingKind.LOST_WATER, form=form)
    made = columns(plan)
    late = made.gauge_kpa[after(made, 8.0 if form == "slow" else 1.0)]
    assert np.abs(late).max() < 2.0
    assert only_fault(plan).form == form


def test_an_empty_tube_that_is_served_works_again() -> None:
    plans = (replace(faulty(FindingKind.LOST_WATER), services=1, seed=seed) for seed in range(100))
    plan = next(plan for plan in plans if any(map(_mends, services(Farm(plan), 0.0))))
    fault = only_fault(plan)
    assert fault.end_us is not None
    healthy, made = columns(replace(plan, faults=())), columns(plan)
    lost = (made.time_us > ONSET_US + DAY_US) & (made.time_us < fault.end_us)
    assert np.abs(made.gauge_kpa[lost]).max() < 2.0
    late = healthy.time_us > fault.end_us + DAY_US
    assert np.abs(made.tension_kpa[late] - healthy.tension_kpa[late]).max() < 3.0


def _mends(service: Service) -> bool:
    soon, late = ONSET_US + 3 * DAY_US, SMALL.end_us - 5 * DAY_US
    return soon < service.begin_us < late and "north-1-30" in service.tensiometers


def test_air_enters_where_a_station_missed_its_water() -> None:
    plan = faulty(FindingKind.AIR_ENTRY, size=0.2)
    fault, made = only_fault(plan), columns(plan)
    assert fault.start_us > ONSET_US
    limit = season(plan).setup.tensiometers[0].usable_limit_kpa
    before = made.tension_kpa[made.time_us < fault.start_us]
    assert 0.8 * limit < before.max() < 1.05 * limit
    assert made.gauge_kpa[-1] == pytest.approx(0.0, abs=2.0)


def test_a_leak_under_reads_more_and_more() -> None:
    plan = faulty(FindingKind.AIR_LEAK, size=0.8)
    assert off(plan, 14.0).min() < -6.0
    assert off(plan, 0.0)[0] == pytest.approx(0.0, abs=0.5)
    assert off(plan, 0.0)[:48].min() > -3.0


def test_a_cracked_cup_holds_no_more_than_a_few_kilopascals() -> None:
    plan = faulty(FindingKind.CRACKED_CUP)
    made = columns(plan)
    assert made.tension_kpa[after(made, 1.0)].max() < only_fault(plan).size + 2.0


def test_a_slow_cup_is_above_the_soil_after_water_and_below_it_before() -> None:
    plan = faulty(FindingKind.SLOW_RESPONSE, size=0.8)
    assert off(plan, 10.0).max() > 5.0
    assert off(plan, 10.0).min() < -3.0


def test_poor_contact_under_reads_but_is_right_when_wet() -> None:
    plan = faulty(FindingKind.POOR_CONTACT)
    assert off(plan, 2.0).min() < -5.0
    assert np.abs(off(plan, 2.0)).min() < 0.5


def test_a_few_sound_tubes_ripple_much_late_in_the_season() -> None:
    """Strong ones are known by their random numbers; days are parted at midnight UTC, near the least of the ripple."""
    plan = replace(SMALL, days=120, interval_s=1800.0, climate="dry summer")
    strong = stream(plan.seed, "strong ripple").random(8) < STRONG_SHARE
    assert 0 < strong.sum() < 4
    made = season(plan)
    late, early = [], []
    for setup in made.setup.tensiometers:
        got = readings(made)[setup.channel]
        error = got.tension_kpa - np.interp(got.time_us, made.soil_time_us, made.soil_kpa[setup.place.tensiometer])
        daily = np.ptp(error.reshape(120, 48), axis=1)
        early.append(np.median(daily[2:12]))
        late.append(np.median(daily[90:]))
    assert max(np.array(early)[strong]) < 3.0
    assert min(np.array(late)[strong]) > 3.0
    assert max(np.array(late)[strong]) < 9.5
    assert max(np.array(late)[~strong]) < 2.0


def test_a_level_shift_is_a_step_of_its_size() -> None:
    plan = faulty(FindingKind.LEVEL_SHIFT)
    assert off(plan) == pytest.approx(only_fault(plan).size, abs=0.2)
    assert 4.0 <= abs(only_fault(plan).size) <= 15.0


def test_a_drift_grows_by_its_rate() -> None:
    plan = faulty(FindingKind.ZERO_DRIFT, size=1.0)
    assert off(plan)[-1] == pytest.approx(25.0 * only_fault(plan).size, rel=0.1)
    assert off(plan)[0] == pytest.approx(0.0, abs=0.2)


def test_a_stuck_value_is_the_same_for_ever() -> None:
    plan = faulty(FindingKind.STUCK_VALUE)
    made = columns(plan)
    assert len(np.unique(made.value[after(made)])) == 1


def test_a_noisy_supply_shakes_all_channels_of_its_source_together() -> None:
    plan = faulty(FindingKind.NOISY_SUPPLY, SOURCE)
    one, other, far = (columns(plan, name) for name in ("north-1-30", "north-2-60", "creek-1-30"))
    noise = [np.diff(made.tension_kpa[after(made)]) for made in (one, other, far)]
    assert noise[0].std() > 1.0
    assert noise[2].std() < 0.5
    assert np.corrcoef(noise[0], noise[1])[0, 1] > 0.2
    assert len(only_fault(plan).others) == 4


@pytest.mark.parametrize("averaged", [False, True])
def test_drop_outs_hit_all_channels_of_a_source_at_once(averaged: bool) -> None:
    plan = faulty(FindingKind.DROP_OUTS, SOURCE, averaged=averaged)
    hits = []
    for name in ("north-1-30", "north-2-60"):
        made, healthy = columns(plan, name), columns(replace(plan, faults=()), name)
        hits.append(np.abs(made.value - healthy.value) > 5.0)
    assert 25 * 5 < hits[0].sum() < 25 * 60
    assert (hits[0] == hits[1]).mean() > 0.98


@pytest.mark.parametrize("averaged", [False, True])
@pytest.mark.parametrize("interval_s", INTERVALS_S)
def test_drop_outs_spoil_no_more_than_about_a_seventh_of_the_samples(interval_s: float, averaged: bool) -> None:
    plan = faulty(FindingKind.DROP_OUTS, SOURCE, size=1.0, interval_s=interval_s, averaged=averaged)
    share = (np.abs(off(plan)) > 0.5).mean()
    assert 0.08 < share < 0.18


@pytest.mark.parametrize(
    ("kind", "cause"),
    [
        (FindingKind.OPEN_CIRCUIT, Cause.OPEN_CIRCUIT),
        (FindingKind.SHORT_CIRCUIT, Cause.SHORT_CIRCUIT),
        (FindingKind.SATURATED, Cause.SATURATED),
    ],
)
@pytest.mark.parametrize("size", [0.2, 0.9])
@pytest.mark.parametrize("wiring", WIRINGS)
def test_the_chain_names_electrical_faults(kind: FindingKind, cause: Cause, size: float, wiring: str) -> None:
    plan = replace(faulty(kind, size=size), wirings=(wiring,))
    farm, grid = Farm(plan), grid_of(plan)
    scene = Scene(farm, grid, weather(1, CLIMATES["desert"], 100, plan.days, 0.0, 100.0))
    numbers = sent(scene, np.full((grid.intervals, len(farm.names)), -20.0))[:, 0]
    wired = WIRINGS[wiring]
    if not (wired.has_rails if kind is FindingKind.SATURATED else wired.tells_open):
        assert scene.faults == []
        return
    found = ColumnConversion(farm.setup.tensiometers[0])(numbers, wired.unit, grid.sample_us).cause
    late = grid.sample_us >= ONSET_US
    share = (found[late] == cause).mean()
    assert share == 1.0 if size > 0.4 else 0.05 < share < 0.95
    assert (found[~late] == Cause.NONE).all()


def test_a_silent_channel_says_nothing_while_others_go_on() -> None:
    plan = faulty(FindingKind.SILENT_CHANNEL)
    assert columns(plan).time_us[-1] < ONSET_US
    assert columns(plan, "north-1-60").time_us[-1] > ONSET_US + 20 * DAY_US


def test_a_silent_source_takes_all_its_channels_with_it() -> None:
    plan = faulty(FindingKind.SILENT_SOURCE, SOURCE)
    for channel, track in season(plan).tracks.items():
        assert (track.time_us[-1] < ONSET_US) == channel.startswith("gateway-a/")


def test_frost_is_told_with_its_temperature_and_ice_spoils_readings() -> None:
    plan = faulty(FindingKind.FROZEN, SOURCE, thermometer=True)
    made = season(plan)
    kinds = {(fault.kind, fault.subject) for fault in made.faults}
    names = [one.place.tensiometer for one in made.setup.tensiometers if one.channel.startswith("gateway-a/")]
    frost = (FindingKind.FROZEN, FindingKind.FROST_RISK)
    assert kinds == {(kind, f"tensiometer/{name}") for kind in frost for name in names}
    top = made.tracks["gateway-a/top-temperature"]
    frozen = next(fault for fault in made.faults if fault.kind is FindingKind.FROZEN)
    inside = (top.time_us > frozen.start_us) & (top.time_us < (frozen.end_us or made.end_us))
    assert top.value[inside].max() <= 0.1
    assert top.value.min() < -1.0
    assert np.abs(off(plan, 6.0)).max() < 2.0


@pytest.mark.parametrize("size", [0.1, 0.5, 1.0])
def test_a_tube_that_has_thawed_reads_the_soil_again(size: float) -> None:
    plan = faulty(FindingKind.FROZEN, SOURCE, size=size, thermometer=True)
    for fault in (one for one in season(plan).faults if one.kind is FindingKind.FROZEN):
        name = fault.subject.removeprefix("tensiometer/")
        made, healthy = columns(plan, name), columns(replace(plan, faults=()), name)
        assert fault.end_us is not None
        thawed = made.time_us > fault.end_us + 3 * HOUR_US
        assert np.abs(made.tension_kpa - healthy.tension_kpa)[thawed].max() < 0.1


def test_a_risk_of_frost_freezes_nothing() -> None:
    plan = faulty(FindingKind.FROST_RISK, SOURCE, thermometer=True)
    assert {fault.kind for fault in season(plan).faults} == {FindingKind.FROST_RISK}
    assert np.abs(off(plan)).max() < 0.1


def test_a_season_without_planned_frost_stays_mild() -> None:
    made = season(replace(SMALL, climate="cold spring", thermometer=True))
    assert made.tracks["gateway-a/top-temperature"].value.min() >= 3.4


def test_swapped_tensiometers_tell_each_others_vacuum() -> None:
    plan = faulty(FindingKind.SWAPPED)
    shallow, deep = columns(plan), columns(replace(plan, faults=()), "north-1-60")
    assert shallow.gauge_kpa[after(shallow)] == pytest.approx(deep.gauge_kpa[after(deep)], abs=1e-9)
    assert only_fault(plan).others == ("north-1-60",)


def test_a_blocked_vent_adds_what_the_barometer_lost() -> None:
    plan = faulty(FindingKind.BLOCKED_VENT, barometer=True)
    air_kpa = season(plan).tracks["gateway-a/air-pressure"].value / 10.0
    late = air_kpa[after(columns(plan))]
    assert off(plan) == pytest.approx(late[0] - late, abs=0.1)


@pytest.mark.parametrize(
    ("wiring", "size"), [("vacuum in kPa", 0.2), ("vacuum in kPa", 0.8), ("0.5 to 4.5 V in volts", 0.2)]
)
def test_floats_in_the_wrong_order_are_absurd(wiring: str, size: float) -> None:
    made = columns(replace(faulty(FindingKind.BYTE_ORDER, size=size), wirings=(wiring,)))
    wrong = made.value[after(made)]
    known = wrong[~np.isnan(wrong)]
    assert ((np.abs(known) < 1e-3) | (np.abs(known) > 1e3)).mean() > 0.9


def test_codes_with_swapped_bytes_jump_about() -> None:
    made = columns(replace(faulty(FindingKind.BYTE_ORDER), wirings=("ratiometric 5 V, 16 bits",)))
    assert np.abs(np.diff(made.value[after(made)])).mean() > 20.0 * np.abs(np.diff(made.value[~after(made)])).mean()


def test_a_wrong_unit_is_a_factor() -> None:
    plan = replace(faulty(FindingKind.WRONG_UNIT), wirings=("vacuum in kPa",))
    made, healthy = columns(plan), columns(replace(plan, faults=()))
    late = after(made)
    assert made.value[late] == pytest.approx(healthy.value[late] * only_fault(plan).size)


@pytest.mark.parametrize("form", ["hours", "1970"])
def test_a_wrong_clock_shifts_times_but_not_arrivals(form: str) -> None:
    plan = faulty(FindingKind.WRONG_CLOCK, SOURCE, form=form)
    wrong, right = (season(one).tracks["gateway-a/ch01"] for one in (plan, replace(plan, faults=())))
    assert (wrong.received_us == right.received_us).all()
    shift_us = wrong.time_us - right.time_us
    assert (shift_us[right.time_us < ONSET_US] == 0).all()
    assert (shift_us[right.time_us >= ONSET_US] == round(only_fault(plan).size * HOUR_US)).all()
    assert shift_us[-1] != 0


@pytest.mark.parametrize("kind", FindingKind)
def test_every_kind_can_be_injected_and_is_told(kind: FindingKind) -> None:
    shared = {
        FindingKind.NOISY_SUPPLY, FindingKind.DROP_OUTS, FindingKind.SILENT_SOURCE, FindingKind.WRONG_CLOCK,
        FindingKind.FROZEN, FindingKind.FROST_RISK,
    }  # fmt: skip
    plan = faulty(kind, SOURCE if kind in shared else TARGET, thermometer=True, barometer=True)
    assert kind in {fault.kind for fault in season(plan).faults}


def test_a_fault_that_passes_ends_when_its_plan_says() -> None:
    fault = FaultPlan(FindingKind.STUCK_VALUE, TARGET, ONSET_US, 0.5, 2 * 86_400.0)
    plan = replace(SMALL, faults=(fault,))
    assert only_fault(plan).end_us == ONSET_US + 2 * DAY_US
    assert np.abs(off(plan, 2.0)).max() < 0.01


def test_the_truth_tells_how_much_a_fault_shows() -> None:
    shift, lost, stuck = (
        only_fault(faulty(kind)) for kind in (FindingKind.LEVEL_SHIFT, FindingKind.LOST_WATER, FindingKind.STUCK_VALUE)
    )
    assert shift.effect_kpa == pytest.approx(abs(shift.size))
    assert lost.effect_kpa == pytest.approx(np.quantile(np.abs(off(faulty(FindingKind.LOST_WATER))), 0.98), abs=1.5)
    assert np.isnan(stuck.effect_kpa)
