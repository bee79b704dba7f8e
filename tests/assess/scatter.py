"""The fit of data whose uncertainty is not known beforehand, as published examples give it."""

from dataclasses import replace

from steplatch.runner.assess.line_fit import CannotFit, LinesFit


def scaled_by_scatter(fit: LinesFit) -> LinesFit:
    """The same fit, its covariance multiplied by chi-square over degrees of freedom (GUM, H.3)."""
    if fit.degrees_of_freedom < 1:
        raise CannotFit("no_freedom")
    s2 = fit.chi_square / fit.degrees_of_freedom
    return replace(fit, covariance=tuple(tuple(c * s2 for c in row) for row in fit.covariance))
