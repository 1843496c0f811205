"""Which tubes come out of which length of pipe."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from math import ceil

from parchd.workbench.errors import SheetError
from parchd.workbench.lengths import both_text

_SLACK_MM = 0.01
"""Lengths that people write in fractions of an inch are not exact in millimetres."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One tube to cut; ``name`` says which."""

    length_mm: float
    name: str


@dataclass(frozen=True, slots=True)
class Stick:
    """One length of pipe as it is bought, and what is cut from it, in this order.

    >>> stick = Stick(1000.0, 3.0, (Piece(450.0, "lower"), Piece(450.0, "lower")))
    >>> stick.offcut_mm, stick.cuts, stick.sawdust_mm
    (94.0, 2, 6.0)
    """

    stock_mm: float
    kerf_mm: float
    pieces: tuple[Piece, ...]

    @property
    def used_mm(self) -> float:
        return sum(piece.length_mm for piece in self.pieces)

    @property
    def cuts(self) -> int:
        """A cut behind each piece, but none where the pipe ends with the last."""
        left_mm = self.stock_mm - self.used_mm - (len(self.pieces) - 1) * self.kerf_mm
        return len(self.pieces) - (left_mm <= _SLACK_MM)

    @property
    def offcut_mm(self) -> float:
        """What is left over; nothing when the saw takes it."""
        return max(0.0, self.stock_mm - self.used_mm - len(self.pieces) * self.kerf_mm)

    @property
    def sawdust_mm(self) -> float:
        return self.stock_mm - self.used_mm - self.offcut_mm

    def takes(self, piece: Piece) -> bool:
        """Tell whether one more piece can be cut from it."""
        return self.used_mm + len(self.pieces) * self.kerf_mm + piece.length_mm <= self.stock_mm + _SLACK_MM

    def holding(self, piece: Piece) -> "Stick":
        return Stick(self.stock_mm, self.kerf_mm, (*self.pieces, piece))


@dataclass(frozen=True, slots=True)
class CuttingPlan:
    """All lengths of pipe to buy."""

    sticks: tuple[Stick, ...]

    @property
    def bought_mm(self) -> float:
        return sum(stick.stock_mm for stick in self.sticks)

    @property
    def used_mm(self) -> float:
        return sum(stick.used_mm for stick in self.sticks)

    @property
    def sawdust_mm(self) -> float:
        return sum(stick.sawdust_mm for stick in self.sticks)

    @property
    def offcuts_mm(self) -> tuple[float, ...]:
        """The longest first; what the saw took is none."""
        return tuple(sorted((s.offcut_mm for s in self.sticks if s.offcut_mm > _SLACK_MM), reverse=True))

    @property
    def least_sticks(self) -> int:
        """No plan needs fewer lengths than this: all pieces and cuts end to end."""
        if not self.sticks:
            return 0
        stock_mm, kerf_mm = self.sticks[0].stock_mm, self.sticks[0].kerf_mm
        pieces = sum(len(stick.pieces) for stick in self.sticks)
        return ceil((self.used_mm + pieces * kerf_mm - _SLACK_MM) / (stock_mm + kerf_mm))

    def grouped(self) -> list[tuple[int, Stick]]:
        """Lengths that are cut alike, with how many there are."""
        return [(len(list(alike)), stick) for stick, alike in groupby(self.sticks)]


def cut(pieces: Iterable[Piece], stock_mm: float, kerf_mm: float) -> CuttingPlan:
    """Plan cuts: the longest piece first, each from the first length of pipe that still has room for it.

    This first-fit-decreasing rule needs at most 11/9 of the lengths that the best plan needs, and 6/9 of one more
    (Dosa 2007, "The tight bound of first fit decreasing bin-packing algorithm").

    Args:
        stock_mm: length of the pipe as it is sold.
        kerf_mm: what the saw takes at each cut.

    Raises:
        SheetError: a piece is longer than the pipe, or a number makes no sense.

    >>> plan = cut([Piece(100.0, "top")] * 2 + [Piece(450.0, "lower")] * 4, stock_mm=1000.0, kerf_mm=3.0)
    >>> [[piece.length_mm for piece in stick.pieces] for stick in plan.sticks]
    [[450.0, 450.0], [450.0, 450.0], [100.0, 100.0]]
    """
    if not 0.0 <= kerf_mm <= 50.0:
        raise SheetError(f"a saw takes 0 to 50 mm at a cut, not {kerf_mm:g} mm")
    sticks: list[Stick] = []
    for piece in sorted(pieces, key=lambda piece: -piece.length_mm):
        _check_fits(piece, stock_mm)
        at = next((index for index, stick in enumerate(sticks) if stick.takes(piece)), None)
        if at is None:
            sticks.append(Stick(stock_mm, kerf_mm, (piece,)))
        else:
            sticks[at] = sticks[at].holding(piece)
    return CuttingPlan(tuple(sorted(sticks, key=lambda stick: [-piece.length_mm for piece in stick.pieces])))


def _check_fits(piece: Piece, stock_mm: float) -> None:
    if piece.length_mm > stock_mm + _SLACK_MM:
        raise SheetError(
            f"a {piece.name} of {both_text(piece.length_mm)} does not come out of a pipe of {both_text(stock_mm)}: "
            "give --stock-length as the pipe is sold, or choose a smaller depth"
        )
