"""What a transducer measures its pressure against, and the way from there to gauge pressure."""

from enum import StrEnum

from parchd.units import Quantity

SEALED_AT_KPA = 101.325
"""Pressure sealed into a gauge whose data sheet states none: one standard atmosphere."""


class Reference(StrEnum):
    """What the other side of a transducer's membrane feels, as the configuration writes it."""

    GAUGE = "gauge"
    """The air around it, through a vent or an open port: what a tensiometer wants."""
    ABSOLUTE = "absolute"
    """A vacuum: the air's pressure must be known too, and its error comes 1:1 into the tension."""
    SEALED = "sealed"
    """Air sealed in at the works: it behaves as an absolute one that is off by what was sealed in."""

    @property
    def needs_air(self) -> bool:
        """Whether the pressure of the air at the site must be known.

        >>> Reference.GAUGE.needs_air, Reference.SEALED.needs_air
        (False, True)
        """
        return self is not Reference.GAUGE


def gauge_from_absolute_kpa(absolute_kpa: Quantity, air_kpa: Quantity | float) -> Quantity:
    """Give the pressure relative to the air, negative for vacuum.

    Args:
        absolute_kpa: pressure against a vacuum.
        air_kpa: station pressure at the same time, not reduced to sea level.

    >>> gauge_from_absolute_kpa(61.0, 101.0)
    -40.0
    """
    return absolute_kpa - air_kpa


def gauge_from_sealed_kpa(
    indicated_kpa: Quantity, air_kpa: Quantity | float, sealed_at_kpa: float = SEALED_AT_KPA
) -> Quantity:
    """Give the pressure relative to the air from one relative to sealed-in air.

    Args:
        indicated_kpa: pressure against what is sealed in.
        air_kpa: see `gauge_from_absolute_kpa`.
        sealed_at_kpa: absolute pressure of what is sealed in.

    >>> gauge_from_sealed_kpa(-51.325, 90.0)
    -40.0
    """
    return gauge_from_absolute_kpa(indicated_kpa + sealed_at_kpa, air_kpa)


def to_gauge_kpa(
    indicated_kpa: Quantity, reference: Reference, air_kpa: Quantity | float, sealed_at_kpa: float = SEALED_AT_KPA
) -> Quantity:
    """Give the gauge pressure for any reference; ``air_kpa`` is looked at only where it is needed.

    >>> to_gauge_kpa(-40.0, Reference.GAUGE, 90.0), to_gauge_kpa(50.0, Reference.ABSOLUTE, 90.0)
    (-40.0, -40.0)
    """
    if reference is Reference.ABSOLUTE:
        return gauge_from_absolute_kpa(indicated_kpa, air_kpa)
    if reference is Reference.SEALED:
        return gauge_from_sealed_kpa(indicated_kpa, air_kpa, sealed_at_kpa)
    return indicated_kpa


def from_gauge_kpa(
    gauge_kpa: Quantity, reference: Reference, air_kpa: Quantity | float, sealed_at_kpa: float = SEALED_AT_KPA
) -> Quantity:
    """Give what a faultless transducer indicates at a gauge pressure: the inverse of `to_gauge_kpa`.

    Calibration points of an absolute or sealed transducer need it: their reference is a gauge pressure, and the air's
    pressure of that day belongs to it.

    >>> from_gauge_kpa(-40.0, Reference.ABSOLUTE, 90.0)
    50.0
    """
    if reference is Reference.ABSOLUTE:
        return gauge_kpa + air_kpa
    if reference is Reference.SEALED:
        return gauge_kpa + air_kpa - sealed_at_kpa
    return gauge_kpa
