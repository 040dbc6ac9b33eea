"""Scores: drifts gathered into lines, rates on effort, an order that luck does not win."""

from layers.scoring.dispersion import Dispersion, bunching_likelihood, dispersion
from layers.scoring.likeness import apart_m
from layers.scoring.lines import gather_lines, medoids
from layers.scoring.ranking import LINE_COLUMNS, rank_lines
from layers.scoring.rates import (
    CAUTION,
    KeptRates,
    Prior,
    Rates,
    fit_prior,
    kept_rates,
    poisson_limits,
    rates_of,
)

__all__ = [
    "CAUTION",
    "LINE_COLUMNS",
    "Dispersion",
    "KeptRates",
    "Prior",
    "Rates",
    "apart_m",
    "bunching_likelihood",
    "dispersion",
    "fit_prior",
    "gather_lines",
    "kept_rates",
    "medoids",
    "poisson_limits",
    "rank_lines",
    "rates_of",
]
