"""Scores: drifts gathered into lines, rates on effort, an order that luck does not win."""

from layers.scoring.likeness import apart_m
from layers.scoring.lines import gather_lines, medoids
from layers.scoring.ranking import LINE_COLUMNS, rank_lines
from layers.scoring.rates import (
    Prior,
    Rates,
    chance_best,
    fit_prior,
    poisson_limits,
    rates_of,
)

__all__ = [
    "LINE_COLUMNS",
    "Prior",
    "Rates",
    "apart_m",
    "chance_best",
    "fit_prior",
    "gather_lines",
    "medoids",
    "poisson_limits",
    "rank_lines",
    "rates_of",
]
