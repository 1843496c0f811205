"""Transducers and converters: built from their tables, and judged for sense."""

from dataclasses import dataclass, field

from parchd.config.electrics import CurrentLoopTable, LinearTable, PressureTable, RatiometricTable, TransducerTable
from parchd.config.model import Settings
from parchd.config.origins import Origins
from parchd.config.toml_lines import Loc
from parchd.contract import Problem
from parchd.physics.adc import Adc
from parchd.physics.transducers import Transducer


@dataclass(frozen=True, slots=True)
class Wiring:
    """What tensiometers of one type have in common.

    Args:
        supply_v: nominal supply; any number where the transducer needs none.
        supply_channel: channel that measures it, unless a tensiometer names another.
    """

    transducer: Transducer
    adc: Adc | None
    supply_v: float
    supply_channel: str | None


@dataclass(slots=True)
class Wirings:
    """All types by name, and what is wrong or odd about them."""

    by_name: dict[str, Wiring] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)


def build_wirings(settings: Settings, origins: Origins) -> Wirings:
    """Build each ``[transducers.NAME]``."""
    wirings = Wirings()
    for name, table in settings.transducers.items():
        loc = ("transducers", name)
        try:
            transducer, adc = (
                table.build(),
                None if isinstance(table, PressureTable) or not table.adc else table.adc.build(),
            )
        except ValueError as error:
            wirings.problems.append(origins.problem(loc, expected=str(error)))
            continue
        supply_v, supply_channel = _supply(table)
        wirings.by_name[name] = Wiring(transducer, adc, supply_v, supply_channel)
        _check_pressures(wirings, table, loc, origins)
        _check_converter(wirings, table, loc, origins)
    return wirings


def _supply(table: TransducerTable) -> tuple[float, str | None]:
    return (table.supply_v, table.supply_channel) if isinstance(table, RatiometricTable) else (5.0, None)


def _check_pressures(wirings: Wirings, table: TransducerTable, loc: Loc, origins: Origins) -> None:
    pressures = table.pressures_kpa
    if pressures is not None and min(pressures) >= 0.0:
        key = "kpa2" if isinstance(table, LinearTable) else "high_kpa"
        wirings.problems.append(
            origins.problem(
                (*loc, key),
                found=f"a range of {pressures[0]:g} to {pressures[1]:g} kPa",
                expected="one that reaches into vacuum, which is negative",
                hint="a gauge for 0 to 100 kPa of vacuum is written 0 and -100",
            )
        )


def _check_converter(wirings: Wirings, table: TransducerTable, loc: Loc, origins: Origins) -> None:
    if isinstance(table, PressureTable) or table.adc is None:
        return
    if isinstance(table, CurrentLoopTable) and table.shunt_ohm is None:
        wirings.problems.append(
            origins.problem((*loc, "adc"), found="a converter without shunt_ohm", expected="the shunt it reads over")
        )
        return
    highest_v, reach_v = _highest_v(table), table.adc.full_scale_v / table.adc.gain
    if highest_v > reach_v * 1.0001:
        wirings.warnings.append(
            origins.problem(
                (*loc, "adc"),
                found=f"a converter that ends at {reach_v:.3g} V",
                expected=f"one that reaches the {highest_v:.3g} V of the transducer",
                hint="a voltage divider ahead of it is written as gain below 1",
            )
        )


def _highest_v(table: RatiometricTable | CurrentLoopTable | LinearTable) -> float:
    if isinstance(table, RatiometricTable):
        return table.high_fraction * table.supply_v
    if isinstance(table, CurrentLoopTable):
        return 0.020 * (table.shunt_ohm or 0.0)
    return max(table.v1, table.v2)
