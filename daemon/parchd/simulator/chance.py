"""Random numbers that hang on a seed and on what they are for, not on the order in which they are asked for; shares."""

from zlib import crc32

import numpy as np
from numpy.typing import NDArray


def stream(seed: int, *purpose: str) -> np.random.Generator:
    """Give the random numbers of one purpose.

    >>> stream(7, "rain").random() == stream(7, "rain").random()
    True
    >>> stream(7, "rain").random() == stream(7, "wind").random()
    False
    """
    return np.random.default_rng([seed, crc32("/".join(purpose).encode())])


def shown(error_kpa: NDArray[np.float64]) -> float:
    """Give how large an error is when it shows most; 0 where there is no sample."""
    return float(np.quantile(np.abs(error_kpa), 0.98)) if error_kpa.size else 0.0


def between(low: float, high: float, size: float) -> float:
    """Give what lies a share of the way from one number to another.

    >>> between(10.0, 20.0, 0.25)
    12.5
    """
    return low + (high - low) * size
