"""Rows of numbers in a note, one after the other in one list: that takes the least room."""

from collections.abc import Iterable

from parchd.contract import JsonValue


def rows(kept: JsonValue, width: int) -> list[list[float]]:
    """Read them back, the oldest first; what is not whole is left out.

    >>> rows([1, 2.5, 3, 4.5, 5], 2), rows(None, 2)
    ([[1, 2.5], [3, 4.5]], [])
    """
    numbers = [one for one in kept if isinstance(one, int | float)] if isinstance(kept, list) else []
    return [numbers[at : at + width] for at in range(0, len(numbers) - width + 1, width)]


def flat(kept: Iterable[Iterable[float]]) -> list[JsonValue]:
    """Lay them out.

    >>> flat([(1, 2.5), (3, 4.5)])
    [1, 2.5, 3, 4.5]
    """
    return [number for row in kept for number in row]
