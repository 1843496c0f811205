"""From checked tables to what the pipeline and the alarms work with."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from parchd.alarms.faults import FAULT_KINDS
from parchd.alarms.kinds import KindSettings
from parchd.alarms.polls import Poll
from parchd.alarms.rules import FAULT_DELAYS, AlarmSetup, DecisionWindow, Delays, DiskLimits, FaultRule, IrrigationRule
from parchd.config.alarm_kinds import compile_kinds, health_rules
from parchd.config.draft import Draft
from parchd.config.errors import Placing, sources_of
from parchd.config.ground import ZoneTable
from parchd.config.limits import deadband_kpa, fresh_s, levels_of, window_of
from parchd.config.own_rules import compile_rules, mornings
from parchd.config.tensiometers import Tensiometer
from parchd.contract import Place
from parchd.physics.atmosphere import station_pressure_kpa
from parchd.physics.calibration import Calibration
from parchd.pipeline.setup import PipelineSetup, SiteSetup, TensiometerSetup

FRESH_S = 26 * 3600.0
"""A vote of one morning holds until after the next."""


def compile_pipeline_setup(draft: Draft, calibrations: Mapping[str, tuple[Calibration, ...]]) -> PipelineSetup:
    """Compile all tensiometers of a draft without problems."""
    site = draft.settings.site
    return PipelineSetup(
        SiteSetup(site.name, site.time_zone, site.altitude_m),
        tuple(_tensiometer(draft, t, calibrations.get(t.name, ())) for t in draft.tensiometers.values()),
    )


def compile_alarm_setup(draft: Draft) -> AlarmSetup:
    """Compile the rules of zones, of tensiometers with limits of their own, and of faults."""
    kinds, store = compile_kinds(draft.settings.alarms), draft.settings.store
    by_kind = {kind: delays for kind in FAULT_KINDS if (delays := _fault_delays(kinds[kind])) != FAULT_DELAYS}
    return AlarmSetup(
        irrigation=(*_zone_rules(draft), *_own_rules(draft)),
        faults=tuple(
            FaultRule(t.name, t.channel, t.interval_s, t.silent_intervals, by_kind=by_kind)
            for t in draft.tensiometers.values()
        ),
        rules=compile_rules(draft, kinds),
        mornings=mornings(draft),
        health=health_rules(draft.settings, kinds),
        disk=DiskLimits(store.least_free_percent / 100.0, round(store.least_free_mb * 1e6)),
        kinds=kinds,
    )


def _fault_delays(kind: KindSettings) -> Delays:
    return replace(FAULT_DELAYS, on_s=kind.on_s, off_s=kind.off_s)


def _tensiometer(draft: Draft, tensiometer: Tensiometer, calibrations: tuple[Calibration, ...]) -> TensiometerSetup:
    wiring, reach = draft.wirings[tensiometer.transducer], draft.ranges[tensiometer.name]
    supply_channel = tensiometer.supply_channel or wiring.supply_channel
    site = draft.settings.site
    return TensiometerSetup(
        place=Place(site.name, tensiometer.zone, tensiometer.station, tensiometer.name, tensiometer.depth_m),
        channel=tensiometer.channel,
        transducer=wiring.transducer,
        height_m=tensiometer.column.height_m,
        usable_limit_kpa=reach.usable_kpa,
        lowest_kpa=reach.lowest_kpa,
        highest_kpa=reach.highest_kpa,
        interval_s=tensiometer.interval_s,
        adc=wiring.adc,
        supply_channel=supply_channel if wiring.transducer.needs_supply else None,
        temperature_channel=tensiometer.temperature_channel,
        water_c=site.water_c,
        calibrations=calibrations,
        barometer_channel=site.barometer_channel,
        air_kpa=station_pressure_kpa(site.altitude_m),
        sealed_at_kpa=wiring.sealed_at_kpa,
        errors=sources_of(wiring.accuracy, wiring.transducer, wiring.adc, _placing(tensiometer, calibrations), site),
        fastest_drying_kpa_per_h=tensiometer.fastest_drying_kpa_per_h,
    )


def assumed_keys(draft: Draft, tensiometer: Tensiometer) -> frozenset[str]:
    """Keys that nobody wrote, of those that say how uncertain a tension is."""
    placing, site = _placing(tensiometer), draft.settings.site
    own = {
        "height_half_cm": placing.height_half_m,
        "water_half_c": placing.water_half_c,
        "barometer_u_kpa": site.barometer_u_kpa,
        "barometer_channel": site.barometer_channel,
    }
    return draft.wirings[tensiometer.transducer].accuracy.assumed | {key for key, value in own.items() if value is None}


def _placing(tensiometer: Tensiometer, calibrations: tuple[Calibration, ...] = ()) -> Placing:
    has_thermometer = tensiometer.temperature_channel is not None
    return Placing(
        height_m=tensiometer.column.height_m,
        height_half_m=tensiometer.height_half_m,
        water_half_c=tensiometer.water_half_c,
        has_thermometer=has_thermometer,
        is_corrected=has_thermometer and any(one.temperature is not None for one in calibrations),
    )


def _zone_rules(draft: Draft) -> Iterator[IrrigationRule]:
    for name, zone in draft.settings.zones.items():
        members = draft.deciding.get(name, ())
        if members and levels_of(zone.plan_kpa, zone.now_kpa):
            yield _rule(draft, f"zone/{name}", zone, members, zone.plan_kpa, zone.now_kpa, zone.min_trusted)


def _own_rules(draft: Draft) -> Iterator[IrrigationRule]:
    for t in draft.tensiometers.values():
        if levels_of(t.plan_kpa, t.now_kpa):
            zone = draft.settings.zones[t.zone]
            yield _rule(draft, f"tensiometer/{t.name}", zone, (t,), t.plan_kpa, t.now_kpa, 1)


def _rule(
    draft: Draft,
    subject: str,
    zone: ZoneTable,
    members: tuple[Tensiometer, ...],
    plan_kpa: float | None,
    now_kpa: float | None,
    min_trusted: int,
) -> IrrigationRule:
    window = window_of(zone)
    interval_s = max(tensiometer.interval_s for tensiometer in members)
    return IrrigationRule(
        subject=subject,
        tensiometers=tuple(tensiometer.name for tensiometer in members),
        plan_kpa=plan_kpa,
        now_kpa=now_kpa,
        deadband_kpa=deadband_kpa(zone.deadband_kpa, levels_of(plan_kpa, now_kpa)),
        delays=Delays(on_s=zone.on_delay_min * 60.0, off_s=zone.off_delay_min * 60.0),
        window=None if window is None else DecisionWindow(*window, draft.settings.site.time_zone),
        fresh_s=fresh_s(interval_s) if window is None else max(FRESH_S, 3.0 * interval_s),
        min_trusted=min_trusted,
        way=zone.vote if isinstance(zone.vote, int) else Poll(zone.vote),
        stations={tensiometer.name: tensiometer.station for tensiometer in members},
    )
