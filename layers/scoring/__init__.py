"""Scores: drifts gathered into lines, rates on effort, an order that luck does not win."""

from layers.scoring.likeness import apart_m
from layers.scoring.lines import gather_lines, medoids
from layers.scoring.ranking import LINE_COLUMNS, rank_lines
from layers.scoring.rates import (
    KeptRates,
    Prior,
    Rates,
    fit_prior,
    kept_rates,
    poisson_limits,
    rates_of,
)

__all__ = [
    "LINE_COLUMNS",
    "KeptRates",
    "Prior",
    "Rates",
    "apart_m",
    "fit_prior",
    "gather_lines",
    "kept_rates",
    "medoids",
    "poisson_limits",
    "rank_lines",
    "rates_of",
]
