"""Parts of a configuration in words."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import BaseModel, SecretBytes, SecretStr

from parchd.alarms.terms import UNITS, Presence, Term
from parchd.config.ground import SiteTable
from parchd.config.loaded import AdapterEntry, NotifierPolicy, WebSettings
from parchd.physics.adc import Adc
from parchd.physics.atmosphere import station_pressure_kpa
from parchd.physics.barometer import WEATHER_KPA
from parchd.physics.calibration import Calibration, CalibrationKind, epochs
from parchd.physics.limit import RATIO, ratio_limit_kpa, usable_limit_kpa
from parchd.physics.reference import Reference
from parchd.physics.transducers import (
    Bridge,
    CurrentLoop,
    DigitalScale,
    DirectPressure,
    LinearVoltage,
    Ratiometric,
    Transducer,
)
from parchd.pipeline.budgets import TensionBudget
from parchd.pipeline.setup import TensiometerSetup

SEALEVEL_M = 150.0
"""Below it nobody can tell a pressure that is reduced to sea level from one that is not."""

_ADDRESS = re.compile(r"([a-zA-Z][a-zA-Z0-9+.-]*://)(?:[^/@\s]*@)?([^/?#\s]*)(.*)")


def transducer_words(transducer: Transducer) -> str:
    """
    >>> transducer_words(CurrentLoop(0.0, -100.0, 150.0))
    '4 to 20 mA for 0 to -100 kPa, over 150 ohm'
    """
    match transducer:
        case Ratiometric():
            low, high = transducer.low_fraction * 100, transducer.high_fraction * 100
            span = f"{transducer.low_kpa:g} to {transducer.high_kpa:g} kPa"
            return f"{low:g} to {high:g} % of {transducer.supply_v:g} V for {span}"
        case CurrentLoop():
            shunt = f", over {transducer.shunt_ohm:g} ohm" if transducer.shunt_ohm else ""
            return f"4 to 20 mA for {transducer.low_kpa:g} to {transducer.high_kpa:g} kPa{shunt}"
        case LinearVoltage():
            span = f"{transducer.kpa1:g} to {transducer.kpa2:g} kPa"
            return f"{transducer.v1:g} to {transducer.v2:g} V for {span}"
        case Bridge():
            zero = f", {transducer.zero_mv_per_v:g} mV/V at rest" if transducer.zero_mv_per_v else ""
            way = ", rising with vacuum" if transducer.vacuum_positive else ""
            span = f"{transducer.sensitivity_mv_per_v:g} mV/V for {transducer.full_scale_kpa:g} kPa"
            return f"bridge on {transducer.excitation_v:g} V, {span}{zero}{way}"
        case DigitalScale():
            share = f"{transducer.low_percent:g} to {transducer.high_percent:g} % of {transducer.bits} bit"
            return f"{share} for {transducer.low_kpa:g} to {transducer.high_kpa:g} kPa"
        case DirectPressure():
            if transducer.reference is Reference.ABSOLUTE:
                return "kPa"
            return "kPa of vacuum" if transducer.vacuum_positive else "kPa, vacuum negative"
    return type(transducer).__name__


def term_words(term: Term) -> str:
    """One condition of a rule.

    >>> from parchd.alarms.terms import Level, Quantity
    >>> term_words(Level(Quantity.TENSION, "ne-60", 2.0, above=False, deadband=3.0))
    'tension of ne-60 is 2 kPa or below (left at 5)'
    """
    if isinstance(term, Presence):
        return f"{term.name} is {'not ' * term.absent}{term.what}" if term.what == "silent" else (
            f"there is {'no ' if term.absent else ''}{term.what} of {term.name}"
        )  # fmt: skip
    left = term.limit - term.deadband if term.above else term.limit + term.deadband
    unit = f" {UNITS[term.quantity]}" if UNITS[term.quantity] else ""
    what = term.quantity.value.replace("zone_", "")
    return f"{what} of {term.name} is {term.limit:g}{unit} or {'above' if term.above else 'below'} (left at {left:.4g})"


def signal_words(setup: TensiometerSetup) -> str:
    """Transducer, converter and supply of one tensiometer."""
    parts = [transducer_words(setup.transducer), *_reference_words(setup)]
    if setup.adc is not None:
        parts.append(_adc_words(setup.adc))
    if setup.supply_channel is not None:
        parts.append(f"supply on {setup.supply_channel}")
    if setup.temperature_channel is not None:
        parts.append(f"temperature on {setup.temperature_channel}")
    return "; ".join(parts)


def barometer_words(site: SiteTable) -> str:
    """Which barometer there is, and what it should read.

    >>> barometer_words(SiteTable(name="Bench", time_zone="UTC", altitude_m=1000))
    'none, the air is taken from the altitude'
    """
    if site.barometer_channel is None:
        return "none, the air is taken from the altitude"
    around_kpa = station_pressure_kpa(site.altitude_m)
    trap = "" if site.altitude_m < SEALEVEL_M else ", and not the 101 kPa that a weather service reports"
    return f"{site.barometer_channel}; it should read about {around_kpa:.0f} kPa{trap}"


def limit_words(site: SiteTable) -> str:
    """Up to which tension a tensiometer can be believed, before its head comes off, and by which model.

    >>> limit_words(SiteTable(name="Bench", time_zone="UTC", altitude_m=0)).partition(";")[0]
    '85.0 kPa less the head (offset model: air less vapour and 14 kPa for gas'
    """
    air_kpa = station_pressure_kpa(site.altitude_m)
    usable_kpa = usable_limit_kpa(air_kpa, site.water_c, 0.0, site.gas_margin_kpa)
    return (
        f"{usable_kpa:.1f} kPa less the head (offset model: air less vapour and {site.gas_margin_kpa:g} kPa for gas; "
        f"the ratio model, {RATIO * 100:g} % of the air, gives {ratio_limit_kpa(air_kpa, site.water_c, 0.0):.1f})"
    )


def _reference_words(setup: TensiometerSetup) -> Iterator[str]:
    """What it measures against, unless that is the air around it."""
    reference = setup.transducer.reference
    if not reference.needs_air:
        return
    yield f"sealed at {setup.sealed_at_kpa:g} kPa" if reference is Reference.SEALED else "absolute"
    if setup.barometer_channel is None:
        yield f"air taken from the altitude, +/-{WEATHER_KPA:g} kPa with the weather"
    else:
        yield f"air on {setup.barometer_channel}"


def calibration_words(calibrations: Sequence[Calibration], time_us: int) -> str:
    """Date, number of points, slope and offset of what holds at a time.

    >>> spring = Calibration(0, "2026-03-01", ((-0.25, 0.0), (-80.25, -80.0)))
    >>> calibration_words([spring], 0)
    'calibrated 2026-03-01: 2 points, slope 1.000, offset -0.25 kPa'
    >>> calibration_words([spring, Calibration(9, "2026-07-01", ((0.5, 0.0),), kind=CalibrationKind.ZERO)], 9)
    'zero checked 2026-07-01: 1 point, slope 1.000, offset +0.50 kPa'
    >>> calibration_words([], 0)
    'not calibrated: the line of the data sheet'
    """
    dated = [epoch for epoch in epochs(calibrations) if epoch.calibration.valid_from_us <= time_us]
    if not dated:
        return "not calibrated: the line of the data sheet"
    calibration, fit = dated[-1].calibration, dated[-1].fit
    done = "calibrated" if calibration.kind is CalibrationKind.FULL else f"{calibration.kind} checked"
    used = len(calibration.points) - len(calibration.left_out)
    points = f"{used} point{'s' * (used != 1)}"
    return f"{done} {calibration.label}: {points}, slope {fit.slope:.3f}, offset {fit.intercept_kpa:+.2f} kPa"


def budget_words(made: TensionBudget, tension_kpa: float) -> str:
    """Expanded uncertainty at a tension, and what it comes from most.

    >>> from parchd.physics.uncertainty import Sources, budget
    >>> from parchd.pipeline.budgets import InForce
    >>> budget_words(TensionBudget(InForce(Sources()), budget(Sources(), -30.0), beyond_span=False), 30.0)
    'U 2.9 kPa at 30 kPa (data sheet, 100 %)'
    """
    largest = made.budget.largest
    parts = [] if largest is None else [f"{largest.name}, {made.budget.share(largest) * 100:.0f} %"]
    if made.in_force.label and made.in_force.sources.reference_u_kpa == 0.0:
        parts.append("nothing is known of its reference")
    return f"U {made.budget.expanded_kpa:.1f} kPa at {tension_kpa:g} kPa" + f" ({'; '.join(parts)})" * bool(parts)


def adapter_words(entry: AdapterEntry[object]) -> str:
    """The options that somebody set, and of secrets whether they are set and from where."""
    parts = [f"{key} {_shown(getattr(entry.options, key))}" for key in sorted(entry.options.model_fields_set)
             if not isinstance(getattr(entry.options, key), SecretStr | SecretBytes)]  # fmt: skip
    parts += [f"{secret.key} {f'set ({secret.origin})' if secret.origin else 'not set'}" for secret in entry.secrets]
    return "; ".join(parts)


def policy_words(policy: NotifierPolicy, *, own: bool = True) -> str:
    """
    Args:
        own: it has recipients that are no persons; else its policy is only how much an address gets.

    >>> policy_words(NotifierPolicy())
    'alarms from low priority up; at most 6 messages an hour; daily digest'
    """
    if policy.transitions:
        return f"every step in the life of alarms; at most {policy.max_per_hour} messages an hour"
    if not own:
        return f"to people only; at most {policy.max_per_hour} messages an hour"
    parts = [
        f"alarms from {policy.lowest_priority.word} priority up",
        f"at most {policy.max_per_hour} messages an hour",
    ]
    if policy.quiet is not None:
        start, end = policy.quiet
        passing = f"but {policy.quiet_lets_pass.word} priority" if policy.quiet_lets_pass else "without exception"
        parts.append(f"quiet {start:%H:%M} to {end:%H:%M} {passing}")
    parts.append("daily digest" if policy.digest else "no digest")
    return "; ".join(parts)


def _adc_words(adc: Adc) -> str:
    gain = "" if adc.gain == 1.0 else f", gain {adc.gain:g}"
    return f"{adc.bits} bit{', signed' if adc.signed else ''}, {adc.full_scale_v:g} V{gain}"


def _shown(value: Any) -> str:
    """Show one option; of tables and of longer lists only how much there is."""
    if isinstance(value, Mapping):
        return f"({', '.join(map(str, value))})"
    if isinstance(value, list | tuple):
        plain = len(value) <= 3 and all(isinstance(item, str | int | float) for item in value)
        return ", ".join(_shown(item) for item in value) if plain else f"({len(value)} of them)"
    if isinstance(value, BaseModel):
        return "(set)"
    if isinstance(value, str) and (match := _ADDRESS.fullmatch(value)):
        return f"{match[1]}{match[2]}{'/...' if match[3].strip('/') else ''}"
    text = str(value).lower() if isinstance(value, bool) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def web_words(web: WebSettings) -> str:
    """Say where pages are served, and to whom."""
    host = f"[{web.host}]" if ":" in web.host else web.host
    links = (
        f"links to {web.public_url} for {web.link_days} days" if web.public_url else "no links, for want of public_url"
    )
    programs = ", ".join(web.tokens) or "none"
    return f"on {host}:{web.port}; {links}; programs that may ask: {programs}"
