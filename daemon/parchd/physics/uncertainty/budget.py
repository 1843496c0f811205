"""The budget of one tension, and the same sum for columns of readings."""

import math
from dataclasses import dataclass

from parchd.physics.calibration import Blend, Fit
from parchd.physics.elementwise import sqrt
from parchd.physics.uncertainty import parts
from parchd.physics.uncertainty.contribution import COVERAGE, Budget, Contribution, inflation, rectangular
from parchd.physics.uncertainty.sources import Sources
from parchd.units import Quantity


def budget(sources: Sources, indicated_kpa: float, age_years: float = 0.0) -> Budget:
    """Make the uncertainty budget of one reading, after GUM (JCGM 100:2008).

    Args:
        sources: what is known of the errors.
        indicated_kpa: the reading, before calibration.
        age_years: since the zero was last checked, 0 or more.

    Returns:
        all contributions but those of nothing; the calibration, or the data sheet, comes first.

    >>> made = budget(Sources(accuracy_kpa=1.0, height_m=0.6), -30.0)
    >>> [(one.name, round(one.u_kpa, 4)) for one in made.contributions]
    [('data sheet', 0.5774), ('height of water', 0.0565), ('temperature of water', 0.0087)]
    >>> round(made.expanded_kpa, 2), made.largest.name
    (1.16, 'data sheet')
    """
    rest = (*_fixed(sources), parts.zero_drift(sources, age_years))
    first = parts.calibration(sources, indicated_kpa)
    return Budget((first, *(one for one in rest if one.u_kpa > 0.0)))


@dataclass(frozen=True, slots=True)
class Expanded:
    """The expanded uncertainty of any reading of one tensiometer: all that does not change is worked out once.

    Args:
        fixed: sum of the squares of what never changes, kPa^2.
        curve: the calibration; ``None``: its part is in ``fixed``.
        t: Student's factor of the calibration.
        readings: averaged into one sample.
        drift_kpa_per_year: what the zero adds to the expanded uncertainty with each year.
    """

    fixed: float
    curve: Fit | Blend | None
    t: float
    readings: int
    drift_kpa_per_year: float

    def kpa(self, indicated_kpa: Quantity, age_years: Quantity | float = 0.0) -> Quantity:
        """Give U (k = 2) of readings; the same as that of their budgets.

        Args:
            indicated_kpa: before calibration. NaN gives NaN.
            age_years: since the zero was last checked, of each reading or of all.
        """
        drift = self.drift_kpa_per_year * age_years
        rest: Quantity = 0.0 * indicated_kpa + self.fixed + drift * drift
        if self.curve is None:
            return sqrt(rest)
        scatter = self.t * self.curve.u_kpa(indicated_kpa, self.readings)
        return sqrt(rest + scatter * scatter)


def compile_expanded(sources: Sources) -> Expanded:
    """Work out once what the expanded uncertainty of every reading has in common.

    >>> sources = Sources(accuracy_kpa=1.0, height_m=0.6)
    >>> round(compile_expanded(sources).kpa(-30.0), 2)
    1.16
    """
    curve = sources.known_curve
    fixed = _fixed(sources) if curve is not None else (parts.calibration(sources, 0.0), *_fixed(sources))
    return Expanded(
        fixed=math.fsum(one.expanded_kpa**2 for one in fixed),
        curve=curve,
        t=COVERAGE * inflation(curve.dof) if curve is not None else COVERAGE,
        readings=sources.readings,
        drift_kpa_per_year=COVERAGE * rectangular(sources.drift_kpa_per_year),
    )


def _fixed(sources: Sources) -> tuple[Contribution, ...]:
    return (
        parts.reference(sources),
        parts.converter(sources),
        parts.head(sources),
        parts.water_temperature(sources),
        parts.air(sources),
        parts.transducer_temperature(sources),
    )
