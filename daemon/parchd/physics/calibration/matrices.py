"""Two by two and three by three: too small for a library."""

from collections.abc import Sequence

Vector = tuple[float, ...]
Matrix = tuple[Vector, ...]


def dot(left: Sequence[float], right: Sequence[float]) -> float:
    """
    >>> dot((1.0, 2.0), (3.0, 4.0))
    11.0
    """
    return sum(a * b for a, b in zip(left, right, strict=True))


def product(left: Matrix, right: Matrix) -> Matrix:
    """
    >>> product(((1.0, 2.0), (0.0, 1.0)), ((1.0, 0.0), (3.0, 1.0)))
    ((7.0, 2.0), (3.0, 1.0))
    """
    columns = transposed(right)
    return tuple(tuple(dot(row, column) for column in columns) for row in left)


def transposed(matrix: Matrix) -> Matrix:
    """
    >>> transposed(((1.0, 2.0), (3.0, 4.0)))
    ((1.0, 3.0), (2.0, 4.0))
    """
    return tuple(zip(*matrix, strict=True))


def carried(jacobian: Matrix, covariance: Matrix) -> Matrix:
    """Carry a covariance through a linear map: J C J'.

    >>> carried(((1.0, 1.0), (0.0, 1.0)), ((1.0, 0.0), (0.0, 4.0)))
    ((5.0, 4.0), (4.0, 4.0))
    """
    return product(product(jacobian, covariance), transposed(jacobian))


def total(left: Matrix, right: Matrix, factor: float = 1.0) -> Matrix:
    """Add a multiple of the right matrix to the left one.

    >>> total(((1.0,),), ((2.0,),), 0.5)
    ((2.0,),)
    """
    return tuple(
        tuple(a + factor * b for a, b in zip(row, other, strict=True)) for row, other in zip(left, right, strict=True)
    )


def outer(left: Sequence[float], right: Sequence[float]) -> Matrix:
    """
    >>> outer((1.0, 2.0), (3.0, 4.0))
    ((3.0, 4.0), (6.0, 8.0))
    """
    return tuple(tuple(a * b for b in right) for a in left)


def identity(size: int) -> Matrix:
    """
    >>> identity(2)
    ((1.0, 0.0), (0.0, 1.0))
    """
    return tuple(tuple(float(row == column) for column in range(size)) for row in range(size))


def inverse(matrix: Matrix) -> Matrix:
    """Invert a symmetric positive definite matrix by elimination; such a one needs no exchange of rows.

    >>> inverse(((2.0, 0.0), (0.0, 4.0)))
    ((0.5, 0.0), (0.0, 0.25))
    """
    size = len(matrix)
    rows = [[*row, *unit] for row, unit in zip(matrix, identity(size), strict=True)]
    for pivot in range(size):
        rows[pivot] = [value / rows[pivot][pivot] for value in rows[pivot]]
        for other in range(size):
            if other != pivot:
                factor = rows[other][pivot]
                rows[other] = [value - factor * above for value, above in zip(rows[other], rows[pivot], strict=True)]
    return tuple(tuple(row[size:]) for row in rows)
