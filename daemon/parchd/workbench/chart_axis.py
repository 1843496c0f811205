"""Round numbers along an axis."""

import math
from collections.abc import Sequence

from parchd.workbench.chart import Span

_STEPS = (1.0, 2.0, 5.0, 10.0)


def ticks(span: Span, most: int) -> list[float]:
    """Choose round numbers within a span, 1, 2 or 5 times a power of ten apart.

    Args:
        most: so many at most, 2 or more.

    >>> ticks(Span(0.0, 34.0), 6), ticks(Span(-0.3, 0.32), 5)
    ([0.0, 10.0, 20.0, 30.0], [-0.2, 0.0, 0.2])
    """
    step = _step(span.width, most)
    first, last = math.ceil(span.low / step - 1e-9), math.floor(span.high / step + 1e-9)
    return [0.0 + round(number * step, 12) for number in range(first, last + 1)]


def scale(span: Span, most: int) -> tuple[Span, list[float]]:
    """Widen a span to the next round numbers, and give them.

    >>> scale(Span(-0.3, 33.0), 6)
    (Span(low=-10.0, high=40.0), [-10.0, 0.0, 10.0, 20.0, 30.0, 40.0])
    """
    step = _step(span.width, most)
    first = math.floor(span.low / step + 1e-9)
    last = max(math.ceil(span.high / step - 1e-9), first + 1)
    values = [0.0 + round(number * step, 12) for number in range(first, last + 1)]
    return Span(values[0], values[-1]), values


def texts(values: Sequence[float]) -> list[str]:
    """Write numbers of an axis with as many decimals as their distance needs.

    >>> texts([0.0, 10.0, 20.0]), texts([-0.2, 0.0, 0.2]), texts([0.0, 2.5])
    (['0', '10', '20'], ['-0.2', '0.0', '0.2'], ['0.0', '2.5'])
    """
    decimals = next((n for n in range(6) if all(abs(v - round(v, n)) < 1e-9 for v in values)), 6)
    return [f"{value:z.{decimals}f}" for value in values]


def _step(width: float, most: int) -> float:
    least = (width or 1.0) / max(1, most - 1)
    power = 10.0 ** math.floor(math.log10(least))
    return next(factor * power for factor in _STEPS if factor * power >= least * (1.0 - 1e-9))
