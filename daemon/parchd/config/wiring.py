"""Transducers and converters: built from their tables or taken from the generic ones."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

from parchd.config.electrics import BY_KIND, AnyKind
from parchd.config.errors import Accuracy, accuracy_of
from parchd.config.generic import keys_of
from parchd.config.model import Settings
from parchd.config.origins import Origins
from parchd.config.soundness import check_wiring
from parchd.config.toml_lines import Loc
from parchd.contract import Problem
from parchd.physics.adc import Adc
from parchd.physics.reference import SEALED_AT_KPA
from parchd.physics.transducers import GENERIC, Transducer


@dataclass(frozen=True, slots=True)
class Wiring:
    """What tensiometers of one type have in common.

    Args:
        name: of the type.
        supply_channel: channel that measures the supply, unless a tensiometer names another.
        sealed_at_kpa: pressure of the air sealed into it.
        ends_kpa: pressures at the ends of its range, against its own reference; ``None``: not known.
        accuracy: what is known, or taken, for its errors.
    """

    name: str
    transducer: Transducer
    adc: Adc | None
    supply_channel: str | None
    sealed_at_kpa: float
    ends_kpa: tuple[float, float] | None
    accuracy: Accuracy

    @property
    def supply_v(self) -> float:
        """Nominal supply or excitation; any number where none is needed."""
        return self.transducer.nominal_supply_v


@dataclass(slots=True)
class Wirings:
    """All types by name, and what is wrong or odd about them."""

    by_name: dict[str, Wiring] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)


def build_wirings(settings: Settings, origins: Origins) -> Wirings:
    """Build each ``[transducers.NAME]``; a generic name that no table has stands for itself."""
    wirings = Wirings()
    for name, table in settings.transducers.items():
        loc: Loc = ("transducers", name)
        try:
            wirings.by_name[name] = _built(name, table)
        except ValueError as error:
            wirings.problems.append(origins.problem(loc, expected=str(error)))
            continue
        check_wiring(wirings.problems, wirings.warnings, table, loc, origins)
    wirings.by_name.update((name, wiring) for name, wiring in _generic().items() if name not in settings.transducers)
    return wirings


@cache
def _generic() -> Mapping[str, Wiring]:
    """Those that need no table."""
    tables = {name: keys_of(transducer) for name, transducer in GENERIC.items()}
    return {name: _built(name, BY_KIND[keys["kind"]].model_validate(keys)) for name, keys in tables.items()}


def _built(name: str, table: AnyKind) -> Wiring:
    transducer, converter = table.build(), table.converter
    return Wiring(
        name=name,
        transducer=transducer,
        adc=None if converter is None else converter.build(),
        supply_channel=table.measured_supply,
        sealed_at_kpa=SEALED_AT_KPA if table.sealed_at_kpa is None else table.sealed_at_kpa,
        ends_kpa=table.ends_kpa,
        accuracy=accuracy_of(table),
    )
