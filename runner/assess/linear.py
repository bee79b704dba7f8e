"""Small dense linear algebra in plain Python: a Cholesky factor and linear least squares.

What decides must come out alike on every processor, so no library of tuned kernels is asked. Sums
are exact (``math.fsum``): they depend neither on an order nor on the version of Python. Meant for
a few dozen points and a handful of parameters.

Cholesky and the modified Gram-Schmidt process with the right-hand side as a last column, as in
A. Bjoerck, Numerical Methods for Least Squares Problems (1996), sections 2.2 and 2.4: as accurate
as an orthogonal reduction.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

Vector: TypeAlias = Sequence[float]
Matrix: TypeAlias = Sequence[Sequence[float]]

_DEPENDENT: Final = 1e-13
"""A column counts as a sum of the others when less than this share of it is left: some hundred
roundings (design choice)."""

_NOTHING: Final = 1e-290
"""A column whose squares add up to less is one of noughts: its reciprocal would run over."""


class Singular(ArithmeticError):  # noqa: N818 - it names the outcome
    """A matrix that is not positive definite, or columns that depend on each other."""


def dot(a: Vector, b: Vector) -> float:
    """The sum of products, rounded once after the products."""
    return math.fsum(x * y for x, y in zip(a, b, strict=True))


@dataclass(frozen=True, slots=True)
class Solved:
    """Least squares: the coefficients, their cofactors (inverse of A'A), and what is left."""

    coefficients: tuple[float, ...]
    cofactors: tuple[tuple[float, ...], ...]
    residuals: tuple[float, ...]


def cholesky(matrix: Matrix) -> list[list[float]]:
    """The lower triangle L with L L' = ``matrix``. Raises ``Singular`` unless it is positive."""
    lower: list[list[float]] = []
    for i, row in enumerate(matrix):
        mine: list[float] = []
        for j in range(i):
            mine.append((row[j] - dot(mine, lower[j][:j])) / lower[j][j])
        left = row[i] - dot(mine, mine)
        if not 0.0 < left < math.inf:
            raise Singular("the matrix is not positive definite")
        lower.append([*mine, math.sqrt(left)])
    return lower


def forward(lower: Matrix, right: Vector) -> list[float]:
    """x with ``lower`` x = ``right``."""
    out: list[float] = []
    for row, value in zip(lower, right, strict=True):
        out.append((value - dot(row[: len(out)], out)) / row[len(out)])
    return out


def backward(lower: Matrix, right: Vector) -> list[float]:
    """x with ``lower``' x = ``right``."""
    size = len(right)
    out = [0.0] * size
    for i in reversed(range(size)):
        below = math.fsum(lower[k][i] * out[k] for k in range(i + 1, size))
        out[i] = (right[i] - below) / lower[i][i]
    return out


def least_squares(columns: Sequence[Vector], right: Vector) -> Solved:
    """The coefficients of ``columns`` whose sum comes closest to ``right``.

    Raises ``Singular`` when a column is, to rounding, a sum of the others.
    """
    size = len(columns)
    left = [list(column) for column in columns]
    rest = list(right)
    upper = [[0.0] * size for _ in range(size)]
    along: list[float] = []
    weights: list[float] = []
    for j, column in enumerate(left):
        whole, part = dot(columns[j], columns[j]), dot(column, column)
        if not max(_DEPENDENT**2 * whole, _NOTHING) < part < math.inf:
            raise Singular("the columns depend on each other")
        weights.append(1.0 / part)
        upper[j][j] = 1.0
        for k in range(j + 1, size):
            upper[j][k] = dot(column, left[k]) / part
            left[k] = [a - upper[j][k] * b for a, b in zip(left[k], column, strict=True)]
        along.append(dot(column, rest) / part)
        rest = [a - along[j] * b for a, b in zip(rest, column, strict=True)]
    inverse = _inverse_of_unit_upper(upper)
    cofactors = tuple(
        tuple(
            math.fsum(inverse[i][k] * weights[k] * inverse[j][k] for k in range(size))
            for j in range(size)
        )
        for i in range(size)
    )
    return Solved(tuple(dot(row, along) for row in inverse), cofactors, tuple(rest))


def _inverse_of_unit_upper(upper: Matrix) -> list[list[float]]:
    size = len(upper)
    out = [[float(i == j) for j in range(size)] for i in range(size)]
    for j in range(size):
        for i in reversed(range(j)):
            out[i][j] = -math.fsum(upper[i][k] * out[k][j] for k in range(i + 1, j + 1))
    return out
