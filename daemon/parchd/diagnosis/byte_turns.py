"""Numbers whose bytes were put together in the wrong order, and codes at the end of a converter."""

import math
import struct
from collections.abc import Callable, Iterable, Mapping

from parchd.words import noted

TINY, HUGE = 1e-6, 1e8
"""No transducer sends such numbers (in V, mV, mA, kPa or codes of up to 24 bits), and no converter has such steps."""
LARGEST_FLOAT = 3.4e38
LEAST_CODES, NEAR = 3, 0.1
"""So many codes that lie by so much nearer to each other once they are turned."""

Turn = Callable[[float], float]


def _code(raw: float) -> int | None:
    return int(raw) & 0xFFFF if raw == raw and raw.is_integer() and -0x8000 <= raw <= 0xFFFF else None


def _unsigned(raw: float) -> float:
    code = _code(raw)
    return math.nan if code is None else float((code & 0xFF) << 8 | code >> 8)


def _signed(raw: float) -> float:
    turned = _unsigned(raw)
    return turned - 65536.0 if turned >= 32768.0 else turned


def _of_float(order: tuple[int, int, int, int]) -> Turn:
    def turn(raw: float) -> float:
        if not -LARGEST_FLOAT < raw < LARGEST_FLOAT:
            return math.nan
        given = struct.pack(">f", raw)
        turned: float = struct.unpack(">f", bytes(given[place] for place in order))[0]
        return turned

    return turn


TURNS: Mapping[str, Turn] = {
    noted("two bytes exchanged"): _unsigned,
    noted("two bytes exchanged, signed"): _signed,
    noted("four bytes reversed"): _of_float((3, 2, 1, 0)),
    noted("two words exchanged"): _of_float((2, 3, 0, 1)),
    noted("bytes exchanged within two words"): _of_float((1, 0, 3, 2)),
}
"""Ways to put the bytes of a number right, by name."""


def is_senseless(raw: float) -> bool:
    """Tell whether a number is one that nothing measures: tiny without being zero, or huge.

    >>> [is_senseless(x) for x in (0.0, 1e-5, 2.5, -40000.0, 3e-41, -1e20)]
    [False, False, False, False, True, True]
    """
    size = abs(raw)
    return 0.0 < size < TINY or size > HUGE


def are_turned(numbers: Iterable[float]) -> bool:
    """Tell whether codes leap about that lie side by side once their two bytes are exchanged: no line sends such.

    >>> are_turned([5635.0, 4099.0, 4355.0]), are_turned([765.0, 790.0, 778.0]), are_turned([0.0, 4095.0, 1500.0])
    (True, False, False)
    """
    turned = {raw: right for raw in numbers if (right := _unsigned(raw)) == right}
    if len(turned) < LEAST_CODES:
        return False
    apart, near = (max(some) - min(some) for some in (turned, turned.values()))
    return near < NEAR * apart


def is_rail(raw: float) -> bool:
    """Tell whether a code may be the end of a converter: zero, or next to a power of two.

    >>> [is_rail(code) for code in (0, 1023, 4094.6, 32767, -32768, 65535, 14081, 40950)]
    [True, True, True, True, True, True, False, False]
    """
    size = abs(raw)
    if size <= 1.0:
        return True
    nearest = 2.0 ** round(math.log2(size + 1.0)) if math.isfinite(size) else 0.0
    return size >= 127.0 and -2.0 <= size - nearest <= 1.0
