"""Straight lines through points that are uncertain in both directions, one or several at once.

y = offset_l + slope_l x for the points of line l. All lines are fitted together, so that an
error which several points share (the scale of one air-flow meter, the gain of one pressure
sensor) is carried into the covariance between the lines, where it cancels in their ratio.

The estimate is the maximum-likelihood one for Gaussian errors with any covariance in x and in
y: minimise r' V^-1 r with r = y - offset - slope x and V = U_y + B U_x B, B = diag(slope of each
point's line). With independent errors it is the line of D. York et al., "Unified equations for
the slope, intercept, and standard errors of the best straight line", Am. J. Phys. 72 (2004)
367, and the one of ISO/TS 28037:2010, clauses 6 to 9; with errors in y alone it is weighted
least squares.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

from .linear import (
    Matrix,
    Singular,
    Vector,
    backward,
    cholesky,
    dot,
    forward,
    least_squares,
)

Spread: TypeAlias = Sequence[float] | Sequence[Sequence[float]]

_ROUNDS: Final = 500
_CLOSE: Final = 1e-9
_SETTLED: Final = 1e-6
"""A step of a parameter, as a share of its standard uncertainty, at which a fit has settled."""


class CannotFit(ValueError):  # noqa: N818 - it names the outcome
    """The points do not determine the lines: too few, all at one x, or no convergence.

    Its text is an id of ``runner.assess.words.NO_FIT``.
    """


@dataclass(frozen=True, slots=True)
class LinesFit:
    """Offsets and slopes with their joint covariance, in the units of y and x.

    ``covariance`` is ordered offset_0, slope_0, offset_1, slope_1, ... ``residuals`` are y minus
    the line; ``normalised`` the residuals over their own standard deviation (0 where the point
    is met exactly because nothing else holds the line). ``chi_square`` is compared with
    ``degrees_of_freedom``; ``probability`` is the chance of one at least as large, None without
    any freedom. ``pull`` says by how much each parameter moves when the residual of a point does:
    the sensitivities of the GUM (5.1.3), from which the covariance follows.
    """

    offsets: tuple[float, ...]
    slopes: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    residuals: tuple[float, ...]
    normalised: tuple[float, ...]
    chi_square: float
    degrees_of_freedom: int
    probability: float | None
    pull: tuple[tuple[float, ...], ...]

    def u_offset(self, line: int = 0) -> float:
        """Standard uncertainty of the offset of one line."""
        return float(self.covariance[2 * line][2 * line] ** 0.5)

    def u_slope(self, line: int = 0) -> float:
        """Standard uncertainty of the slope of one line."""
        return float(self.covariance[2 * line + 1][2 * line + 1] ** 0.5)

    def cov_offset_slope(self, line: int = 0) -> float:
        """Covariance of offset and slope of one line."""
        return self.covariance[2 * line][2 * line + 1]

    def u_log_ratio(self, over: int, under: int) -> float:
        """Standard uncertainty of ln(slope_over / slope_under), to first order (GUM, eq. 13)."""
        a, b = 2 * over + 1, 2 * under + 1
        sa, sb = self.slopes[over], self.slopes[under]
        variance = (
            self.covariance[a][a] / sa**2
            + self.covariance[b][b] / sb**2
            - 2 * self.covariance[a][b] / (sa * sb)
        )
        return float(max(variance, 0.0) ** 0.5)


def fit_lines(
    x: Sequence[float],
    y: Sequence[float],
    u_x: Spread,
    u_y: Spread,
    line: Sequence[int] | None = None,
) -> LinesFit:
    """Fit one straight line per number in ``line`` (all points on line 0 when None).

    ``u_x`` and ``u_y`` are standard uncertainties, one a point, or whole covariance matrices.
    Raises ``CannotFit`` when a line has fewer than two distinct x, when ``u_y`` and ``u_x`` leave
    a point without any uncertainty, or when the iteration does not settle.
    """
    xs, ys = [float(v) for v in x], [float(v) for v in y]
    which = [0] * len(xs) if line is None else [int(n) for n in line]
    if not xs:
        raise CannotFit("no_points")
    lines = max(which) + 1
    for number in range(lines):
        if len({v for v, n in zip(xs, which, strict=True) if n == number}) < 2:
            raise CannotFit("one_flow")
    cov_x, cov_y = _matrix(u_x, len(xs)), _matrix(u_y, len(xs))
    try:
        params = _start(xs, ys, which, cov_y)
        step = _step(xs, ys, which, cov_x, cov_y, params)
    except Singular:
        raise CannotFit("no_uncertainty") from None
    try:
        for _ in range(_ROUNDS):
            params = [p + d for p, d in zip(params, step.delta, strict=True)]
            moved = step.longest()
            step = _step(xs, ys, which, cov_x, cov_y, params)
            if moved <= _CLOSE:
                break
    except (Singular, OverflowError):
        moved = math.inf
    # How a fit that runs away ends (too large, singular, to and fro) hangs on the last digits:
    # one name for all of it.
    if not moved <= _SETTLED:
        raise CannotFit("unsettled")

    freedom = len(xs) - 2 * lines
    chi = dot(step.whitened, step.whitened) if freedom else 0.0
    return LinesFit(
        offsets=tuple(params[0::2]),
        slopes=tuple(params[1::2]),
        covariance=step.cov,
        residuals=tuple(step.residual),
        normalised=tuple(_normalised(step, i) for i in range(len(xs))),
        chi_square=chi,
        degrees_of_freedom=freedom,
        probability=chi_square_tail(chi, freedom) if freedom else None,
        pull=step.pull(),
    )


def chi_square_tail(chi_square: float, freedom: int) -> float:
    """Probability that chi-square with ``freedom`` degrees is at least ``chi_square``.

    The finite sums for whole degrees of freedom of M. Abramowitz, I. A. Stegun, Handbook of
    Mathematical Functions (1964), 26.4.4 and 26.4.5, each term by its logarithm so that none
    runs over. Raises ValueError for less than one degree or a negative chi-square.
    """
    if freedom < 1 or not chi_square >= 0.0:
        raise ValueError(f"no tail for chi-square {chi_square} with {freedom} degrees of freedom")
    half = chi_square / 2
    if half in (0.0, math.inf):
        return 1.0 if half == 0.0 else 0.0
    first = 0.5 if freedom % 2 else 0.0
    powers = (first + k for k in range((freedom - freedom % 2) // 2))
    terms = [math.exp(a * math.log(half) - half - math.lgamma(a + 1)) for a in powers]
    return min(math.fsum([math.erfc(math.sqrt(half)) if freedom % 2 else 0.0, *terms]), 1.0)


@dataclass(frozen=True, slots=True)
class _Step:
    """One step of the fit. ``whitened`` are the residuals in independent units of one."""

    delta: tuple[float, ...]
    cov: tuple[tuple[float, ...], ...]
    residual: list[float]
    whitened: list[float]
    variances: list[float]
    rows: list[list[float]]
    lower: list[list[float]]
    columns: list[list[float]]

    def pull(self) -> tuple[tuple[float, ...], ...]:
        """By how much each parameter moves with each residual: cov A' V^-1."""
        size = range(len(self.residual))
        along = ([dot(row, [c[i] for c in self.columns]) for i in size] for row in self.cov)
        return tuple(tuple(backward(self.lower, one)) for one in along)

    def longest(self) -> float:
        """The largest move of a parameter, as a share of its standard uncertainty."""
        return max(
            abs(d) / math.sqrt(row[i]) if row[i] > 0.0 else 0.0
            for i, (d, row) in enumerate(zip(self.delta, self.cov, strict=True))
        )


def _step(
    xs: Vector, ys: Vector, which: Sequence[int], cov_x: Matrix, cov_y: Matrix, params: Vector
) -> _Step:
    size = range(len(xs))
    slope = [params[2 * n + 1] for n in which]
    residual = [ys[i] - params[2 * which[i]] - slope[i] * xs[i] for i in size]
    v = [[cov_y[i][j] + slope[i] * cov_x[i][j] * slope[j] for j in size] for i in size]
    lower = cholesky(v)
    whitened = forward(lower, residual)
    # The best estimate of the true x; with it in the Jacobian the fixed point of this step is
    # the exact minimum, V being a function of the slopes.
    pulled = [s * w for s, w in zip(slope, backward(lower, whitened), strict=True)]
    x_true = [xs[i] + dot(cov_x[i], pulled) for i in size]
    rows = _rows(x_true, which)
    columns = [forward(lower, column) for column in zip(*rows, strict=True)]
    solved = least_squares(columns, whitened)
    variances = [v[i][i] for i in size]
    return _Step(
        solved.coefficients, solved.cofactors, residual, whitened, variances, rows, lower, columns
    )


def _normalised(step: _Step, i: int) -> float:
    """A residual over its own standard deviation, 0 where nothing else holds the line."""
    row, whole = step.rows[i], step.variances[i]
    left = whole - dot(row, [dot(cov, row) for cov in step.cov])
    return step.residual[i] / math.sqrt(left) if left > 1e-9 * whole else 0.0


def _start(xs: Vector, ys: Vector, which: Sequence[int], cov_y: Matrix) -> list[float]:
    """Weighted least squares in y alone."""
    weight = [1.0 / math.sqrt(max(cov_y[i][i], 1e-30)) for i in range(len(xs))]
    rows = [[w * c for c in row] for w, row in zip(weight, _rows(xs, which), strict=True)]
    columns = list(zip(*rows, strict=True))
    right = [w * y for w, y in zip(weight, ys, strict=True)]
    return list(least_squares(columns, right).coefficients)


def _rows(xs: Vector, which: Sequence[int]) -> list[list[float]]:
    """What the parameters are multiplied by at each point: 1 and x of its own line."""
    rows = []
    for x, n in zip(xs, which, strict=True):
        row = [0.0] * (2 * max(which) + 2)
        row[2 * n : 2 * n + 2] = [1.0, x]
        rows.append(row)
    return rows


def _matrix(spread: Spread, size: int) -> list[list[float]]:
    """A covariance matrix from standard uncertainties, or as given. Raises ValueError."""
    if len(spread) == size and all(isinstance(row, Sequence) for row in spread):
        given = [[float(c) for c in row] for row in spread]  # type: ignore[union-attr]
        if all(len(row) == size for row in given):
            return given
    elif len(spread) == size:
        alone = [float(u) for u in spread]  # type: ignore[arg-type]
        return [[alone[i] ** 2 if i == j else 0.0 for j in range(size)] for i in range(size)]
    raise ValueError(f"uncertainties of shape {len(spread)} do not fit {size} points")
