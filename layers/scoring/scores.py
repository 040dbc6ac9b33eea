"""Everything that is scored of a season, or of many, in one call."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import geopandas as gpd
import pandas as pd

from layers.catches.tying import rounding_s
from layers.scoring.clusters import medoids
from layers.scoring.factors import Ground, by_what, with_factors
from layers.scoring.likeness import thin_lines
from layers.scoring.lines import gather_lines
from layers.scoring.patches import hot_patch
from layers.scoring.ranking import check_season, rank_lines
from layers.scoring.response import Response, fit_response
from layers.scoring.samples import count_fish, sample_drifts
from layers.scoring.stretches import hot_stretches
from layers.scoring.within.tackle import compare_tackle
from seabed.array_types import Floats
from seabed.notebook import NotebookTable
from seabed.units import Say, in_metres


@dataclass(frozen=True, slots=True)
class Scores(NotebookTable):
    """Scores of a season.

    Attributes
    ----------
    drifts : GeoDataFrame
        With their ``line`` (`gather_lines`).
    lines : GeoDataFrame
        `rank_lines` of all fish.
    by_species : dict of str to GeoDataFrame
        `rank_lines` of each species that the log names.
    stretches, patch : GeoDataFrame
        `STRETCHES`: the hottest of each line; `PATCHES`: the hottest circle of ground.
    samples : DataFrame
        Drifts in pieces of half a minute, with effort, fish, and what is known of ground and water.
    factors, tackle : DataFrame
        `BY_FACTOR`, `BY_TACKLE`.
    response : Response or None
        Fish a rod-hour by depth, slope and water; None where nothing predicts better than the plain
        rate.
    """

    drifts: gpd.GeoDataFrame
    lines: gpd.GeoDataFrame
    by_species: dict[str, gpd.GeoDataFrame]
    stretches: gpd.GeoDataFrame
    patch: gpd.GeoDataFrame
    samples: pd.DataFrame
    factors: pd.DataFrame
    tackle: pd.DataFrame
    response: Response | None


def score_season(
    drifts: gpd.GeoDataFrame,
    catches: gpd.GeoDataFrame,
    fixes: pd.DataFrame | None = None,
    *,
    depth: Floats | None = None,
    samples: pd.DataFrame | None = None,
    ground: Ground | None = None,
    corridor_m: float = 40.0,
    known: gpd.GeoDataFrame | None = None,
    regroup: bool = False,
    timezone: str = "UTC",
    seed: int = 0,
    say: Say = in_metres,
) -> Scores:
    """Gather, rank, scan and fit.

    Parameters
    ----------
    drifts, catches : from `layers.tracks.drifts_of` and `layers.catches.tie`, or a logbook
    fixes, depth : optional
        As in `sample_drifts`.
    samples : from `sample_drifts`, optional
        Of the whole drifts, where those given are thinned (`thin_lines`); their fish are counted
        again.
    ground : Ground, optional
    corridor_m, known, regroup
        As in `gather_lines`.
    timezone : str
        Of the hours of the day.
    seed : int
        For the chances that are drawn; the same seed gives the same scores.
    say : callable
        Writes lengths in reasons.

    Returns
    -------
    Scores
        No drifts give tables without rows, and no response.

    Examples
    --------
    >>> from layers import clean, cut, drifts, example_trip, gather, tie
    >>> fixes, catches = example_trip()
    >>> fixes, _ = clean(fixes)
    >>> own = gather(drifts(cut(fixes), fixes))
    >>> scores = score_season(own, tie(catches, own, fixes), fixes)
    >>> scores.lines["line"].tolist(), list(scores.by_species)
    (['N1', 'N2'], ['flatfish'])
    """
    check_season(drifts, catches, "species")
    thin = gather_lines(thin_lines(drifts), corridor_m=corridor_m, known=known, regroup=regroup)
    gathered = drifts.assign(line=thin["line"].to_numpy())
    middles = medoids(thin)
    rank = partial(rank_lines, gathered, catches, seed=seed, middles=middles)
    lines = rank()
    species = sorted({str(name).lower() for name in catches["species"].dropna() if name})
    alone = len(species) == 1 and catches["species"].str.lower().eq(species[0]).all()
    if samples is None:
        pieces = sample_drifts(gathered, catches, fixes, depth=depth)
    else:
        line_of = gathered.set_index("drift_id")["line"]
        pieces = count_fish(samples.assign(line=samples["drift_id"].map(line_of)), catches)
    samples = with_factors(pieces, ground or Ground(), timezone=timezone)
    return Scores(
        drifts=gathered,
        lines=lines,
        by_species={name: lines if alone else rank(species=name) for name in species},
        stretches=hot_stretches(
            lines, thin, samples, rounded_s=rounding_s(catches["time"]), seed=seed, say=say
        ),
        patch=hot_patch(samples, seed=seed),
        samples=samples,
        factors=by_what(samples),
        tackle=compare_tackle(gathered, catches, lines),
        response=fit_response(samples, seed=seed),
    )
