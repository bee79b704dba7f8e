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
from typing import TYPE_CHECKING, Any, Final, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Matrix: TypeAlias = NDArray[np.float64]

Spread: TypeAlias = Sequence[float] | Sequence[Sequence[float]]

_ROUNDS: Final = 500
_CLOSE: Final = 1e-9


class CannotFit(ValueError):  # noqa: N818 - it names the outcome
    """The points do not determine the lines: too few, all at one x, or no convergence."""


@dataclass(frozen=True, slots=True)
class LinesFit:
    """Offsets and slopes with their joint covariance, in the units of y and x.

    ``covariance`` is ordered offset_0, slope_0, offset_1, slope_1, ... ``residuals`` are y minus
    the line; ``normalised`` the residuals over their own standard deviation (0 where the point
    is met exactly because nothing else holds the line). ``chi_square`` is compared with
    ``degrees_of_freedom``; ``probability`` is the chance of one at least as large, None without
    any freedom.
    """

    offsets: tuple[float, ...]
    slopes: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    residuals: tuple[float, ...]
    normalised: tuple[float, ...]
    chi_square: float
    degrees_of_freedom: int
    probability: float | None

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

    def scaled_by_scatter(self) -> "LinesFit":
        """The same fit with its covariance taken from the scatter about the line.

        For data whose uncertainty is not known beforehand (fit with equal ``u_y``): the
        covariance is multiplied by chi-square over degrees of freedom, as in GUM H.3.
        """
        if self.degrees_of_freedom < 1:
            raise CannotFit("no degree of freedom is left to take a scatter from")
        s2 = self.chi_square / self.degrees_of_freedom
        return LinesFit(
            self.offsets,
            self.slopes,
            tuple(tuple(c * s2 for c in row) for row in self.covariance),
            self.residuals,
            tuple(n / s2**0.5 for n in self.normalised) if s2 else self.normalised,
            self.chi_square,
            self.degrees_of_freedom,
            None,
        )


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
    import numpy as np

    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    which = np.zeros(len(xs), dtype=int) if line is None else np.asarray(line, dtype=int)
    lines = int(which.max()) + 1 if len(xs) else 0
    for number in range(lines):
        if len({float(v) for v in xs[which == number]}) < 2:
            raise CannotFit("a line needs points at two different flows at least")
    if not lines:
        raise CannotFit("no points")
    cov_x, cov_y = _matrix(u_x, len(xs)), _matrix(u_y, len(xs))
    on_line = np.zeros((len(xs), lines))
    on_line[np.arange(len(xs)), which] = 1.0

    params = _start(xs, ys, on_line, cov_y)
    try:
        for _ in range(_ROUNDS):
            step = _step(xs, ys, on_line, cov_x, cov_y, params)
            params = params + step.delta
            if not np.all(np.isfinite(params)):
                raise CannotFit("the fit runs away: the points do not fit any line")
            if np.all(np.abs(step.delta) <= _CLOSE * np.sqrt(np.diag(step.cov)) + 1e-300):
                break
        else:
            if np.any(np.abs(step.delta) > 1e-6 * np.sqrt(np.diag(step.cov))):
                raise CannotFit("the fit does not settle: the uncertainties swamp the points")
        step = _step(xs, ys, on_line, cov_x, cov_y, params)
    except np.linalg.LinAlgError:
        raise CannotFit("a point has no uncertainty at all, or two points are one") from None

    freedom = len(xs) - 2 * lines
    chi = float(step.residual @ np.linalg.solve(step.v, step.residual)) if freedom else 0.0
    left = np.diag(step.v - step.jacobian @ step.cov @ step.jacobian.T)
    floor = 1e-9 * np.diag(step.v)
    normal = np.where(left > floor, step.residual / np.sqrt(np.maximum(left, floor)), 0.0)
    return LinesFit(
        offsets=tuple(float(v) for v in params[0::2]),
        slopes=tuple(float(v) for v in params[1::2]),
        covariance=tuple(tuple(float(c) for c in row) for row in step.cov),
        residuals=tuple(float(v) for v in step.residual),
        normalised=tuple(float(v) for v in normal),
        chi_square=chi,
        degrees_of_freedom=freedom,
        probability=chi_square_tail(chi, freedom) if freedom else None,
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
    delta: "Matrix"
    cov: "Matrix"
    residual: "Matrix"
    v: "Matrix"
    jacobian: "Matrix"


def _step(
    xs: "Matrix",
    ys: "Matrix",
    on_line: "Matrix",
    cov_x: "Matrix",
    cov_y: "Matrix",
    params: "Matrix",
) -> _Step:
    import numpy as np

    slope = on_line @ params[1::2]
    residual = ys - on_line @ params[0::2] - slope * xs
    v = cov_y + slope[:, None] * cov_x * slope[None, :]
    # The best estimate of the true x; with it in the Jacobian the fixed point of this step is
    # the exact minimum, V being a function of the slopes.
    x_true = xs + cov_x @ (slope * np.linalg.solve(v, residual))
    jacobian = np.empty((len(xs), len(params)))
    jacobian[:, 0::2] = on_line
    jacobian[:, 1::2] = on_line * x_true[:, None]
    weighted = np.linalg.solve(v, jacobian)
    cov = np.linalg.inv(jacobian.T @ weighted)
    return _Step(cov @ (weighted.T @ residual), cov, residual, v, jacobian)


def _start(xs: "Matrix", ys: "Matrix", on_line: "Matrix", cov_y: "Matrix") -> "Matrix":
    import numpy as np

    jacobian = np.empty((len(xs), 2 * on_line.shape[1]))
    jacobian[:, 0::2] = on_line
    jacobian[:, 1::2] = on_line * xs[:, None]
    weight = 1.0 / np.sqrt(np.maximum(np.diag(cov_y), 1e-30))
    solution: Any = np.linalg.lstsq(jacobian * weight[:, None], ys * weight, rcond=None)
    start: Matrix = np.asarray(solution[0], dtype=float)
    return start


def _matrix(spread: Spread, size: int) -> "Matrix":
    import numpy as np

    given = np.asarray(spread, dtype=float)
    if given.shape == (size,):
        return np.diag(given**2)
    if given.shape == (size, size):
        return given
    raise ValueError(f"uncertainties of shape {given.shape} do not fit {size} points")
