"""Parts of a configuration in words."""

import re
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, SecretBytes, SecretStr

from parchd.config.loaded import AdapterEntry, NotifierPolicy
from parchd.physics.adc import Adc
from parchd.physics.calibration import Calibration, fit
from parchd.physics.transducers import CurrentLoop, DirectPressure, LinearVoltage, Ratiometric, Transducer
from parchd.pipeline.setup import TensiometerSetup

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
        case DirectPressure():
            return "kPa of vacuum" if transducer.vacuum_positive else "kPa, vacuum negative"
    return type(transducer).__name__


def signal_words(setup: TensiometerSetup) -> str:
    """Transducer, converter and supply of one tensiometer."""
    parts = [transducer_words(setup.transducer)]
    if setup.adc is not None:
        parts.append(_adc_words(setup.adc))
    if setup.supply_channel is not None:
        parts.append(f"supply on {setup.supply_channel}")
    if setup.temperature_channel is not None:
        parts.append(f"temperature on {setup.temperature_channel}")
    return "; ".join(parts)


def calibration_words(calibration: Calibration | None) -> str:
    """Date, number of points, slope and offset.

    >>> calibration_words(Calibration(0, "2026-03-01", ((-0.25, 0.0), (-80.25, -80.0))))
    'calibrated 2026-03-01: 2 points, slope 1.000, offset -0.25 kPa'
    >>> calibration_words(None)
    'not calibrated: the line of the data sheet'
    """
    if calibration is None:
        return "not calibrated: the line of the data sheet"
    line = fit(calibration.points)
    points = f"{line.n} point{'s' * (line.n != 1)}"
    return f"calibrated {calibration.label}: {points}, slope {line.slope:.3f}, offset {line.intercept_kpa:+.2f} kPa"


def adapter_words(entry: AdapterEntry[object]) -> str:
    """The options that somebody set, and of secrets whether they are set and from where."""
    parts = [f"{key} {_shown(getattr(entry.options, key))}" for key in sorted(entry.options.model_fields_set)
             if not isinstance(getattr(entry.options, key), SecretStr | SecretBytes)]  # fmt: skip
    parts += [f"{secret.key} {f'set ({secret.origin})' if secret.origin else 'not set'}" for secret in entry.secrets]
    return "; ".join(parts)


def policy_words(policy: NotifierPolicy) -> str:
    """
    >>> policy_words(NotifierPolicy())
    'alarms from low priority up; at most 6 messages an hour; daily digest'
    """
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
