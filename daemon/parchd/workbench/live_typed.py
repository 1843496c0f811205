"""Values that a person reads from a display and types in."""

import re

from parchd.contract import ParchdError, Unit
from parchd.physics.head import head_kpa
from parchd.pipeline.setup import TensiometerSetup
from parchd.pipeline.signal import signal_paths
from parchd.units import KPA_PER, to_kpa
from parchd.workbench.live import LiveSample

_NUMBER = re.compile(r"\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*([^\d\s].*?)?\s*", re.DOTALL)
_DURATION_S = {"s": 1.0, "sec": 1.0, "min": 60.0, "m": 60.0, "h": 3600.0}
_SPELLINGS = {name.lower(): name for name in KPA_PER} | {"cb": "cbar", "cmh20": "cmH2O", '"hg': "inHg"}


class TypedError(ParchdError, ValueError):
    """What was typed cannot be understood; the text says what would be."""


def parse_number(text: str) -> tuple[float, str]:
    """Read a number, with a point or a comma, and what stands behind it.

    >>> parse_number("20,5 inHg"), parse_number("-3"), parse_number(".5V")
    ((20.5, 'inHg'), (-3.0, ''), (0.5, 'V'))

    Raises:
        TypedError: it does not begin with a number.
    """
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise TypedError(f"{text.strip()!r} is no number")
    return float(match[1].replace(",", ".")), match[2] or ""


def pressure_unit(text: str) -> str:
    """Find a unit of pressure by its name, however its letters are written.

    >>> pressure_unit("inhg"), pressure_unit("KPA"), pressure_unit("cb")
    ('inHg', 'kPa', 'cbar')

    Raises:
        TypedError: there is none of that name.
    """
    unit = _SPELLINGS.get(text.strip().lower())
    if unit is None:
        raise TypedError(f"{text.strip()!r} is no unit of pressure; known are {', '.join(KPA_PER)}")
    return unit


def parse_vacuum_kpa(text: str, unit: str = "kPa") -> float:
    """Read a vacuum; a minus sign in front of it is one more way to say so.

    Args:
        unit: that of a number without one.

    >>> parse_vacuum_kpa("-20"), round(parse_vacuum_kpa("20 inHg"), 2)
    (20.0, 67.73)
    """
    number, said = parse_number(text)
    return abs(to_kpa(number, pressure_unit(said) if said else unit))


def parse_duration_s(text: str) -> float:
    """Read a time: minutes, unless it says otherwise.

    >>> parse_duration_s("30"), parse_duration_s("90s"), parse_duration_s("1.5h")
    (1800.0, 90.0, 5400.0)

    Raises:
        TypedError: it is none, or not above 0.
    """
    number, unit = parse_number(text)
    factor = _DURATION_S.get(unit.lower(), 0.0) if unit else 60.0
    if not number * factor > 0.0:
        raise TypedError(f"{text!r} is no time: write 30min, 90s or 1h")
    return number * factor


def parse_signal(text: str, setup: TensiometerSetup) -> float:
    """Read a transducer's signal; V, mV, mA or counts may stand behind the number.

    Raises:
        TypedError: no number, or a unit that the transducer does not have.
    """
    number, said = parse_number(text)
    paths = {unit.value.lower(): path for unit, path in signal_paths(setup).items()}
    path = paths.get((said or setup.transducer.unit.value).lower())
    if path is None:
        fitting = ", ".join(unit.value for unit in signal_paths(setup))
        raise TypedError(f"{said!r} does not fit the transducer: it gives {fitting}")
    if path.adc is not None and path.adc.at_rail(number):
        raise TypedError(f"{text.strip()}: the converter stands at its end there, that is no measurement")
    return float(path.scale(number))


def typed_vacuum(text: str, setup: TensiometerSetup, now_us: int) -> LiveSample:
    """Make a sample of a vacuum that was read from a gauge or display just now.

    Raises:
        TypedError: it is none.
    """
    vacuum_kpa = parse_vacuum_kpa(text)
    tension_kpa = vacuum_kpa - head_kpa(setup.height_m, setup.water_c)
    return LiveSample(now_us, vacuum_kpa, Unit.KPA, None, 0.0, None, vacuum_kpa, tension_kpa, "", setup.air_kpa)
