"""What one tensiometer measures from top to bottom.

From above: closure, top piece, tee with the transducer on its branch, lower tube, porous cup.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from parchd.workbench.errors import SheetError
from parchd.workbench.lengths import Ruler, both_text

TEE_STOP_MM = 10.0
"""From the end of a tube inside the tee to the middle of its branch; tees differ by some millimetres."""

ABOVE_RANGE_MM = {Ruler.CM: (130.0, 150.0), Ruler.INCH: (127.0, 152.4)}
"""Above-ground allowance that is common practice (no published source): 13 to 15 cm, 5 to 6 in."""

_MOST_DEPTH_MM = 10_000.0


@dataclass(frozen=True, slots=True)
class Pattern:
    """Dimensions that all tensiometers of a sheet share, millimetres.

    Args:
        above_mm: allowance for the part above the ground, added to the depth.
        top_mm: length of the top piece.
        cup_mm: length of the porous cup that stays outside of the tube.

    Raises:
        SheetError: one of them cannot be built.
    """

    above_mm: float = 150.0
    top_mm: float = 100.0
    cup_mm: float = 60.0

    def __post_init__(self) -> None:
        for what, value, least, most in (
            ("the part above the ground", self.above_mm, 10.0, 1000.0),
            ("the top piece", self.top_mm, 20.0, 1000.0),
            ("the porous cup", self.cup_mm, 5.0, 500.0),
        ):
            if not least <= value <= most:
                raise SheetError(f"{what} is {least / 10:g} to {most / 10:g} cm long, not {both_text(value)}")


USUAL: Mapping[Ruler, Pattern] = MappingProxyType(
    {Ruler.CM: Pattern(), Ruler.INCH: Pattern(above_mm=152.4, top_mm=101.6, cup_mm=63.5)}
)
"""Allowance and top piece are common practice (no published source); cups differ: measure yours."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """All tensiometers of one depth.

    Args:
        depth_mm: of the cup's middle below the surface of the soil.
        count: how many are built.
        pattern: the dimensions they share with the others.

    Raises:
        SheetError: the cup would not be in the ground, or nothing is built.

    >>> at_60 = Instrument(600.0, 3)
    >>> at_60.lower_mm, at_60.ground_mark_mm, at_60.stands_mm, at_60.height_mm
    (750.0, 570.0, 180.0, 790.0)
    """

    depth_mm: float
    count: int
    pattern: Pattern = USUAL[Ruler.CM]

    def __post_init__(self) -> None:
        if not self.depth_mm > 0.0:
            raise SheetError(f"a depth is more than 0: {both_text(self.depth_mm)} is not in the ground")
        if not self.depth_mm > self.pattern.cup_mm / 2:
            raise SheetError(
                f"at a depth of {both_text(self.depth_mm)} a cup of {both_text(self.pattern.cup_mm)} would look out of "
                "the ground: depths count to the middle of the cup"
            )
        if self.depth_mm > _MOST_DEPTH_MM:
            raise SheetError(
                f"a depth of {both_text(self.depth_mm)} is more than any water column can bridge; "
                "depths are in centimetres, or inches with --unit in"
            )
        if self.count < 1:
            raise SheetError(f"at least 1 tensiometer is built, not {self.count}")

    @property
    def lower_mm(self) -> float:
        """The lower tube: the depth and the allowance.

        The cup is not taken off: its lower half comes below the tube, and what of it comes above the depth lifts the
        tee further out of the ground. So a tube is never too short, whatever the cup.
        """
        return self.depth_mm + self.pattern.above_mm

    @property
    def ground_mark_mm(self) -> float:
        """From the lower end of the lower tube to the line that comes level with the soil."""
        return self.depth_mm - self.pattern.cup_mm / 2

    @property
    def stands_mm(self) -> float:
        """How much of the lower tube stands above the ground."""
        return self.lower_mm - self.ground_mark_mm

    @property
    def height_mm(self) -> float:
        """From the middle of the cup to the transducer on the branch: the column of water it is corrected for."""
        return self.pattern.cup_mm / 2 + self.lower_mm + TEE_STOP_MM

    @property
    def length_mm(self) -> float:
        """From the tip of the cup to the top of the top piece."""
        return self.pattern.cup_mm + self.lower_mm + 2 * TEE_STOP_MM + self.pattern.top_mm


def instruments_of(depths_mm: Mapping[float, int], pattern: Pattern) -> tuple[Instrument, ...]:
    """Gather instruments by depth, the shallowest first.

    Args:
        depths_mm: how many are built of each depth.
    """
    return tuple(Instrument(depth, count, pattern) for depth, count in sorted(depths_mm.items()))
