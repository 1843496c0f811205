"""What temperature does to zero and span of a transducer."""

from dataclasses import dataclass

from parchd.units import Quantity


@dataclass(frozen=True, slots=True)
class TemperatureEffect:
    """Coefficients of zero and span about the temperature at which the transducer was calibrated.

    Args:
        zero_kpa_per_k: change of the indication at no pressure, kPa per kelvin.
        span_per_k: relative change of the span per kelvin (0.0002 is 0.02 % per kelvin).
        reference_c: temperature of the calibration.

    Raises:
        ValueError: a span that would vanish within 100 K.
    """

    zero_kpa_per_k: float = 0.0
    span_per_k: float = 0.0
    reference_c: float = 20.0

    def __post_init__(self) -> None:
        if not abs(self.span_per_k) < 0.01:
            raise ValueError(f"a span changes by less than 1 % per kelvin, not by {self.span_per_k:g} of itself")

    def at_reference_kpa(
        self, indicated: Quantity, transducer_c: Quantity | float, zero_kpa: Quantity | float = 0.0
    ) -> Quantity:
        """Give what would be indicated at the temperature of the calibration.

        Args:
            indicated: kPa, as the data sheet's line has it.
            transducer_c: temperature of the transducer, not of the soil.
            zero_kpa: indication at no pressure and at the temperature of the calibration: the fit's intercept.

        Source: P = (V - a0 - a1 dT) / (b0 (1 + b1 dT)), written for the part before the calibration.

        >>> TemperatureEffect(zero_kpa_per_k=0.02, span_per_k=0.001).at_reference_kpa(-50.3, 30.0)
        -50.0
        """
        warmer = transducer_c - self.reference_c
        return zero_kpa + (indicated - zero_kpa - self.zero_kpa_per_k * warmer) / (1.0 + self.span_per_k * warmer)
