"""What a transducer is calibrated against: a hanging column of water, or a vacuum gauge."""

import math
from dataclasses import dataclass

from parchd.physics.head import head_kpa
from parchd.units import from_kpa, to_kpa
from parchd.workbench.errors import SheetError
from parchd.workbench.lengths import Ruler
from parchd.workbench.live_typed import TypedError, parse_number, pressure_unit

MOST_VACUUM_KPA = 101.0
MOST_HALF_KPA = 10.0
COLUMN_HALF_MM = 3.0
"""How well people read the length of a hanging column, to either side; an assumption."""
_INCHES = ("in", "inch", "inches", '"')


@dataclass(frozen=True, slots=True)
class Reference:
    """A reference and the unit it is read in.

    Args:
        unit: ``cm`` or ``in`` of a hanging water column, else a unit of pressure.
        water_c: temperature of that water.
        half_kpa: how far the reference may be off, to either side.

    >>> column, gauge = Reference("cm", 20.0), Reference("inHg")
    >>> round(column.kpa(100.0), 3), round(gauge.kpa(10.0), 3)
    (9.789, 33.864)
    """

    unit: str
    water_c: float = 20.0
    half_kpa: float = 0.0

    @property
    def is_column(self) -> bool:
        return self.unit in (Ruler.CM.value, Ruler.INCH.value)

    @property
    def u_kpa(self) -> float:
        """Standard uncertainty: anywhere between two limits is as likely (GUM 4.3.7)."""
        return self.half_kpa / math.sqrt(3.0)

    def kpa(self, number: float) -> float:
        """Give the vacuum that a number in its unit stands for."""
        if self.is_column:
            return head_kpa(number * (0.01 if self.unit == Ruler.CM.value else 0.0254), self.water_c)
        return to_kpa(number, self.unit)

    def text(self, kpa: float) -> str:
        """Write a vacuum in its unit.

        >>> Reference("inHg").text(33.864), Reference("cm").text(9.7891)
        ('10.00 inHg', '100.0 cm')
        """
        if self.is_column:
            return f"{kpa / self.kpa(1.0):.1f} {self.unit}"
        return f"{from_kpa(kpa, self.unit):.2f} {self.unit}"

    def parse_kpa(self, text: str) -> float:
        """Read a vacuum in its unit, or with a unit behind it; a minus sign is one more way to say vacuum.

        >>> Reference("inHg").parse_kpa("20 kPa"), round(Reference("cm").parse_kpa("2m"), 3)
        (20.0, 19.578)

        Raises:
            TypedError: it is none, or more than there is.
        """
        kpa = self.read_kpa(text)
        if not kpa <= MOST_VACUUM_KPA:
            raise TypedError(f"{text.strip()} would be {kpa:.0f} kPa of vacuum: more than the air has to give")
        return kpa

    def read_kpa(self, text: str) -> float:
        """Read a pressure likewise, however large.

        Raises:
            TypedError: it is none.
        """
        return abs(self._column_kpa(text) if self.is_column else self._gauge_kpa(text))

    def _column_kpa(self, text: str) -> float:
        try:
            return head_kpa(Ruler(self.unit).parse_mm(text) / 1000.0, self.water_c)
        except SheetError as error:
            raise TypedError(str(error)) from error

    def _gauge_kpa(self, text: str) -> float:
        number, said = parse_number(text)
        return to_kpa(number, pressure_unit(said) if said else self.unit)

    def words(self) -> str:
        """
        >>> Reference("inHg", half_kpa=0.5).words(), Reference("cm", 18.0, 0.03).words()
        ('gauge in inHg, +/-0.5 kPa', 'hanging water column at 18 C, +/-0.03 kPa')
        """
        what = f"hanging water column at {self.water_c:g} C" if self.is_column else f"gauge in {self.unit}"
        return f"{what}, +/-{self.half_kpa:.2g} kPa"


def parse_reference_unit(text: str) -> str:
    """Find the unit of a reference: a length for a hanging column, a pressure for a gauge.

    >>> [parse_reference_unit(text) for text in ("", "CM", "inches", "inhg", "mbar")]
    ['kPa', 'cm', 'in', 'inHg', 'mbar']

    Raises:
        TypedError: it is neither.
    """
    word = text.strip().lower()
    if word in _INCHES:
        return Ruler.INCH.value
    return word if word == Ruler.CM.value else pressure_unit(word or "kPa")


def parse_half_kpa(text: str, reference: Reference) -> float:
    """Read how far a reference may be off: a pressure, or a percentage of the gauge's full scale.

    >>> gauge = Reference("inHg")
    >>> parse_half_kpa("0.5 kPa", gauge), round(parse_half_kpa("1.6% of 30", gauge), 3)
    (0.5, 1.625)
    >>> round(parse_half_kpa("3mm", Reference("cm")), 4)
    0.0294

    Raises:
        TypedError: it is neither, or too much.
    """
    share, percent, full = text.partition("%")
    if not percent:
        half_kpa = reference.parse_kpa(text)
    elif not full.strip():
        raise TypedError(f"percent of what full scale? Write {text.strip()} of 100")
    else:
        half_kpa = parse_number(share)[0] / 100.0 * reference.read_kpa(full.strip().removeprefix("of"))
    if not 0.0 <= half_kpa <= MOST_HALF_KPA:
        raise TypedError(f"a reference that may be off by {half_kpa:.3g} kPa is of no use; up to {MOST_HALF_KPA:g} is")
    return half_kpa
