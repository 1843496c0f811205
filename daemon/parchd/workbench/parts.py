"""Generic parts of a tensiometer, and how many of each an order takes."""

from dataclasses import dataclass
from enum import StrEnum
from math import ceil

from parchd.workbench.errors import SheetError


class Readout(StrEnum):
    """What shows the vacuum."""

    TRANSDUCER = "transducer"
    GAUGE = "gauge"


class Closure(StrEnum):
    """What closes the top piece."""

    CAP = "cap"
    STOPPER = "stopper"


class Measure(StrEnum):
    """What a part is counted in."""

    PIECE = "piece"
    STOCK = "length"
    INPUT = "input"
    PACK = "pack"

    def counted(self, count: int) -> str:
        """
        >>> Measure.PIECE.counted(1), Measure.STOCK.counted(3)
        ('1 piece', '3 lengths')
        """
        return f"{count} {self.value}{'s' * (count != 1)}"


@dataclass(frozen=True, slots=True)
class Part:
    """A part as it is asked for in a shop.

    Args:
        key: its name in a file of prices.
        title: what people call it.
        measure: what it is counted in. Only pieces have spares; a pack lasts for all unless its price says otherwise.
        note: what to look for when buying; may be empty.
        goes_with: the readout or closure that needs it; ``None``: all do.
    """

    key: str
    title: str
    measure: Measure
    note: str = ""
    goes_with: Readout | Closure | None = None


PARTS = (
    Part("cup", "porous cup", Measure.PIECE, "ceramic, air entry 100 kPa (1 bar), outside fits the pipe"),
    Part("pipe", "plastic pipe, rigid", Measure.STOCK, "pressure pipe that the cup fits; opaque, or painted"),
    Part("tee", "tee", Measure.PIECE, "two sockets for the pipe, branch with a thread"),
    Part("cap", "cap, airtight, to be opened", Measure.PIECE, "screw cap with a seal", Closure.CAP),
    Part("stopper", "rubber stopper", Measure.PIECE, "fits tightly into the top piece", Closure.STOPPER),
    Part("transducer", "pressure transducer", Measure.PIECE, "gauge type, to -100 kPa, wetted by water",
         Readout.TRANSDUCER),
    Part("gauge", "vacuum gauge", Measure.PIECE, "0 to -100 kPa", Readout.GAUGE),
    Part("fitting", "thread fitting", Measure.PIECE, "from the branch of the tee to the readout"),
    Part("boot", "rubber boot or hood", Measure.PIECE, "keeps sun and rain off the readout"),
    Part("cable", "cable with connector", Measure.PIECE, "for outdoors, from transducer to board", Readout.TRANSDUCER),
    Part("input", "analogue input of a board", Measure.INPUT, "converter and box; a supply for the transducer",
         Readout.TRANSDUCER),
    Part("epoxy", "two-part epoxy", Measure.PACK, "for cup and tube, waterproof when hard"),
    Part("cement", "solvent cement (and primer)", Measure.PACK, "made for the plastic of the pipe"),
    Part("tape", "thread seal tape", Measure.PACK),
    Part("abrasive", "abrasive paper", Measure.PACK, "medium, to roughen what is glued"),
)  # fmt: skip
"""In the order of building."""


@dataclass(frozen=True, slots=True)
class Need:
    """How much of a part an order takes: ``used`` goes into instruments, ``spare`` beside."""

    part: Part
    used: int
    spare: int = 0

    @property
    def total(self) -> int:
        return self.used + self.spare

    @property
    def text(self) -> str:
        return self.part.measure.counted(self.total)


def needs_of(
    instruments: int, sticks: int, *, readout: Readout, closure: Closure, spares_percent: float
) -> tuple[Need, ...]:
    """Count the parts of an order.

    Args:
        instruments: how many are built.
        sticks: lengths of pipe, as the cutting plan has it.
        spares_percent: 0 to 100; of each part that is counted in pieces, rounded up.

    Raises:
        SheetError: the percentage is outside its range.

    >>> needs = needs_of(6, 3, readout=Readout.GAUGE, closure=Closure.CAP, spares_percent=10)
    >>> [(need.part.key, need.text) for need in needs][:3]
    [('cup', '7 pieces'), ('pipe', '3 lengths'), ('tee', '7 pieces')]
    """
    if not 0.0 <= spares_percent <= 100.0:
        raise SheetError(f"spares are 0 to 100 %, not {spares_percent:g}")
    spare = ceil(instruments * spares_percent / 100.0 - 1e-9)
    return tuple(
        _need(part, instruments, sticks, spare) for part in PARTS if part.goes_with in (None, readout, closure)
    )


def _need(part: Part, instruments: int, sticks: int, spare: int) -> Need:
    match part.measure:
        case Measure.PIECE:
            return Need(part, instruments, spare)
        case Measure.STOCK:
            return Need(part, sticks)
        case Measure.INPUT:
            return Need(part, instruments)
        case Measure.PACK:
            return Need(part, 1)
