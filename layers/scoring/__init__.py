"""Scores: drifts gathered into lines, rates on effort, an order that luck does not win."""

from layers.scoring.circles import Patch, scan_ground
from layers.scoring.clusters import medoids
from layers.scoring.day_rates import Dispersion, bunching_likelihood, dispersion
from layers.scoring.factors import BY_FACTOR, FACTORS, by_factor, by_what, by_year, with_factors
from layers.scoring.ground import response_over
from layers.scoring.likeness import apart_m, thin_lines
from layers.scoring.lines import gather_lines
from layers.scoring.naming import KNOWN, name_lines
from layers.scoring.patches import PATCHES, hot_patch
from layers.scoring.ranking import LINES, rank_lines
from layers.scoring.rates import (
    CAUTION,
    KeptRates,
    Prior,
    fit_prior,
    kept_rates,
    poisson_limits,
)
from layers.scoring.response import RESPONSE_FACTORS, Response, fit_response
from layers.scoring.samples import SAMPLES, sample_drifts
from layers.scoring.scan import Stretch, chance_to_see, scan_stretch
from layers.scoring.scores import Ground, Scores, score_season
from layers.scoring.stretches import STRETCHES, hot_stretches
from layers.scoring.terms import Term
from layers.scoring.within.depletion import Depletion, fit_depletion
from layers.scoring.within.tackle import BY_TACKLE, compare_tackle, tackle_sentences
from layers.scoring.witnesses import fit_poisson

__all__ = [
    "BY_FACTOR",
    "BY_TACKLE",
    "CAUTION",
    "FACTORS",
    "KNOWN",
    "LINES",
    "PATCHES",
    "RESPONSE_FACTORS",
    "SAMPLES",
    "STRETCHES",
    "Depletion",
    "Dispersion",
    "Ground",
    "KeptRates",
    "Patch",
    "Prior",
    "Response",
    "Scores",
    "Stretch",
    "Term",
    "apart_m",
    "bunching_likelihood",
    "by_factor",
    "by_what",
    "by_year",
    "chance_to_see",
    "compare_tackle",
    "dispersion",
    "fit_depletion",
    "fit_poisson",
    "fit_prior",
    "fit_response",
    "gather_lines",
    "hot_patch",
    "hot_stretches",
    "kept_rates",
    "medoids",
    "name_lines",
    "poisson_limits",
    "rank_lines",
    "response_over",
    "sample_drifts",
    "scan_ground",
    "scan_stretch",
    "score_season",
    "tackle_sentences",
    "thin_lines",
    "with_factors",
]
