"""The chain of one tensiometer for columns of readings: the same bits as `convert` gives one by one, much faster."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from parchd.contract import Cause, Flag, Unit
from parchd.physics.causes import flag_of
from parchd.physics.head import head_kpa, tension_under_head_kpa
from parchd.physics.reference import to_gauge_kpa
from parchd.pipeline.chain import Stretch, stretches
from parchd.pipeline.convert import needs
from parchd.pipeline.setup import TensiometerSetup
from parchd.pipeline.signal import SignalPath, signal_paths

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

FAILS = np.array([flag_of(cause) is Flag.FAIL for cause in sorted(Cause)], dtype=np.bool_)
"""Whether a cause leaves no pressure, by its number."""
CHUNK = 16_384
"""So many readings at a time stay in the processor's cache."""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What is known beside the samples, a number for each; NaN: not measured, or too long ago. ``None``: never."""

    supply_v: Floats | None = None
    water_c: Floats | None = None
    air_kpa: Floats | None = None
    height_m: Floats | None = None

    def part(self, chosen: slice | NDArray[np.intp]) -> Circumstances:
        """The circumstances of some of the readings."""
        given = (getattr(self, one.name) for one in fields(self))
        return Circumstances(*(None if column is None else column[chosen] for column in given))


@dataclass(frozen=True, slots=True)
class ConvertedColumns:
    """What the chain made of a column; NaN where there is no pressure.

    Args:
        gauge_kpa, tension_kpa, uncertainty_kpa: see `parchd.contract.Reading`.
        cause: numbers of `Cause`.
        stretch: position in ``labels``.
        labels: dates of calibrations.
    """

    gauge_kpa: Floats
    tension_kpa: Floats
    uncertainty_kpa: Floats
    cause: NDArray[np.uint8]
    stretch: NDArray[np.intp]
    labels: tuple[str, ...]


class ColumnConversion:
    """Converts columns of one tensiometer's samples, all in one unit."""

    def __init__(self, setup: TensiometerSetup) -> None:
        self._setup = setup
        self._paths = signal_paths(setup)
        self._stretches = stretches(setup)
        self._begins_us = np.array([stretch.begin_us for stretch in self._stretches[1:]], dtype=np.int64)
        self._usual_head_kpa = head_kpa(setup.height_m, setup.water_c)
        self._supply_needed, self._air_needed = needs(setup)

    def __call__(
        self, value: Floats, unit: Unit, time_us: NDArray[np.int64], known: Circumstances | None = None
    ) -> ConvertedColumns:
        """Convert samples in any order of time.

        Args:
            value: the numbers; NaN: the device had none.
            unit: of all of them.
            time_us: when they were measured.
            known: columns as long as ``value``.
        """
        known = known or Circumstances()
        size = len(value)
        out = ConvertedColumns(
            np.full(size, np.nan), np.full(size, np.nan), np.full(size, np.nan), np.zeros(size, dtype=np.uint8),
            np.searchsorted(self._begins_us, time_us, side="right"), tuple(s.label for s in self._stretches),
        )  # fmt: skip
        for begin in range(0, size, CHUNK):
            part = slice(begin, begin + CHUNK)
            self._convert(value[part], unit, time_us[part], known.part(part), _views(out, part))
        return out

    def _convert(
        self, value: Floats, unit: Unit, time_us: NDArray[np.int64], known: Circumstances, out: ConvertedColumns
    ) -> None:
        path = self._paths.get(unit)
        if path is None:
            out.cause[:] = np.where(np.isnan(value), np.uint8(Cause.NO_VALUE), np.uint8(Cause.UNIT))
            return
        signal, volts = self._signal(value, path, known, out.cause)
        first = int(out.stretch[0])
        if (out.stretch == first).all():
            self._finish(self._stretches[first], signal, volts, time_us, known, out)
            return
        for number in np.unique(out.stretch):
            chosen = np.flatnonzero(out.stretch == number)
            self._finish_some(int(number), chosen, signal, volts, time_us, known, out)

    def _signal(
        self, value: Floats, path: SignalPath, known: Circumstances, cause: NDArray[np.uint8]
    ) -> tuple[Floats, Floats | float]:
        """Give signals and supply; write down what makes a value none, the last cause first."""
        nominal_v = self._setup.transducer.nominal_supply_v
        signal = path.scale(value)
        volts: Floats | float = nominal_v
        if known.supply_v is not None:
            volts = np.where(np.isnan(known.supply_v), nominal_v, known.supply_v)
        cause[:] = self._setup.transducer.faults(signal, volts)
        if path.adc is not None:
            cause[path.adc.at_rails(value)] = Cause.SATURATED
        if self._air_needed:
            cause[_missing(known.air_kpa, value)] = Cause.NO_BAROMETER
        if self._supply_needed:
            cause[_missing(known.supply_v, value)] = Cause.NO_SUPPLY
        cause[np.isnan(value)] = Cause.NO_VALUE
        return signal, volts

    def _finish_some(
        self,
        number: int,
        chosen: NDArray[np.intp],
        signal: Floats,
        volts: Floats | float,
        time_us: NDArray[np.int64],
        known: Circumstances,
        out: ConvertedColumns,
    ) -> None:
        """Finish the readings of one calibration among those of several."""
        some = ConvertedColumns(
            out.gauge_kpa[chosen], out.tension_kpa[chosen], out.uncertainty_kpa[chosen], out.cause[chosen],
            out.stretch[chosen], out.labels,
        )  # fmt: skip
        their_volts = volts[chosen] if isinstance(volts, np.ndarray) else volts
        self._finish(self._stretches[number], signal[chosen], their_volts, time_us[chosen], known.part(chosen), some)
        for name in ("gauge_kpa", "tension_kpa", "uncertainty_kpa", "cause"):
            getattr(out, name)[chosen] = getattr(some, name)

    def _finish(
        self,
        stretch: Stretch,
        signal: Floats,
        volts: Floats | float,
        time_us: NDArray[np.int64],
        known: Circumstances,
        out: ConvertedColumns,
    ) -> None:
        setup = self._setup
        transducer_c = known.water_c
        indicated = setup.transducer.indicated_kpa(signal, volts)
        air = _filled(known.air_kpa, setup.air_kpa)
        pressure = _corrected(stretch, indicated, time_us, transducer_c, "pressure_kpa")
        uncertainty = _corrected(stretch, indicated, time_us, transducer_c, "expanded_kpa")
        gauge = to_gauge_kpa(pressure, setup.transducer.reference, air, setup.sealed_at_kpa)
        tension = tension_under_head_kpa(gauge, self._head(known))
        self._judge(tension, air, out.cause)
        none = FAILS[out.cause] & ~_out_of_range(out.cause) | (out.cause == Cause.NO_VALUE)
        for name, column in (("gauge_kpa", gauge), ("tension_kpa", tension), ("uncertainty_kpa", uncertainty)):
            target: Floats = getattr(out, name)
            target[:] = column
            target[none] = np.nan

    def _head(self, known: Circumstances) -> Floats | float:
        if known.water_c is None and known.height_m is None:
            return self._usual_head_kpa
        height = _filled(known.height_m, self._setup.height_m)
        water = _filled(known.water_c, self._setup.water_c)
        head: Floats | float = head_kpa(height, water)
        return head

    def _judge(self, tension: Floats, air: Floats | float, cause: NDArray[np.uint8]) -> None:
        """Put gross range in the place of lesser causes; see `parchd.quality.gross.gross_range`."""
        setup = self._setup
        weather = air - setup.air_kpa
        open_to_it = ~FAILS[cause] & (cause != Cause.NO_VALUE)
        cause[open_to_it & (tension > setup.usable_limit_kpa + weather)] = Cause.ABOVE_LIMIT
        cause[open_to_it & (tension > setup.usable_limit_kpa + weather) & (tension > setup.highest_kpa + weather)] = (
            Cause.ABOVE_PHYSICAL
        )
        cause[open_to_it & (tension < setup.lowest_kpa)] = Cause.BELOW_PHYSICAL


def _corrected(
    stretch: Stretch, indicated: Floats, time_us: NDArray[np.int64], transducer_c: Floats | None, what: str
) -> Floats:
    """Correct with the temperature where it is known, and without it where it is not."""
    correct = getattr(stretch, what)
    plain: Floats = correct(indicated, time_us, None)
    if transducer_c is None or stretch.temperature is None:
        return plain
    warm: Floats = correct(indicated, time_us, transducer_c)
    return np.where(np.isnan(transducer_c), plain, warm)


def _views(out: ConvertedColumns, part: slice) -> ConvertedColumns:
    return ConvertedColumns(
        out.gauge_kpa[part], out.tension_kpa[part], out.uncertainty_kpa[part], out.cause[part], out.stretch[part],
        out.labels,
    )  # fmt: skip


def _missing(column: Floats | None, value: Floats) -> NDArray[np.bool_]:
    return np.ones(value.shape, dtype=np.bool_) if column is None else np.isnan(column)


def _filled(column: Floats | None, otherwise: float) -> Floats | float:
    return otherwise if column is None else np.where(np.isnan(column), otherwise, column)


def _out_of_range(cause: NDArray[np.uint8]) -> NDArray[np.bool_]:
    found: NDArray[np.bool_] = (cause == Cause.ABOVE_PHYSICAL) | (cause == Cause.BELOW_PHYSICAL)
    return found
