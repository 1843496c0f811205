"""What floats and arrays do differently: one spelling for both, and the same bits."""

import math

from parchd.units import Quantity


def sqrt(value: Quantity) -> Quantity:
    """Give the square root; both roads round correctly, so that a column gives what each number gives.

    A negative number, which only rounding can bring here, counts as zero. NaN gives NaN.

    >>> sqrt(9.0), sqrt(-1e-30)
    (3.0, 0.0)
    """
    if isinstance(value, float | int):
        return math.sqrt(max(value, 0.0))
    import numpy as np

    root: Quantity = np.sqrt(value.clip(0.0))
    return root


def clamped(value: Quantity, low: float, high: float) -> Quantity:
    """Give the nearest number between two ends. NaN gives NaN.

    >>> clamped(45.0, 0.0, 40.0)
    40.0
    """
    if isinstance(value, float | int):
        return min(max(value, low), high)
    return value.clip(low, high)


def smaller(one: Quantity, other: Quantity | float) -> Quantity:
    """Give the smaller of two numbers, or of each pair.

    >>> smaller(0.6, 0.5)
    0.5
    """
    if isinstance(one, float | int) and isinstance(other, float | int):
        return min(one, other)
    import numpy as np

    least: Quantity = np.minimum(one, other)
    return least
