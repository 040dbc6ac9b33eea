"""Scores: drifts gathered into lines, rates on effort, an order that luck does not win."""

from layers.scoring.factors import BY_FACTOR as BY_FACTOR
from layers.scoring.factors import Ground as Ground
from layers.scoring.lines import gather_lines as gather_lines
from layers.scoring.patches import PATCHES as PATCHES
from layers.scoring.ranking import LINES as LINES
from layers.scoring.ranking import rank_lines as rank_lines
from layers.scoring.response import Response as Response
from layers.scoring.scores import Scores as Scores
from layers.scoring.scores import score_season as score_season
from layers.scoring.stretches import STRETCHES as STRETCHES
from layers.scoring.within.tackle import BY_TACKLE as BY_TACKLE
