"""Where to look first: edges, humps and holes ranked for a band of depth."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.schema import Table, documented
from seabed.structure.company import (
    REACH_M,
    ground_about,
    metres_crs,
    nearest,
    of_smallest,
)
from seabed.structure.edges import EDGES
from seabed.structure.highs import FEATURES
from seabed.structure.score import SCORE, scored

RANKING: Final = (
    Table.of(
        "ranking",
        "seabed.structure.rank_structure",
        """
        rank [int] 1, 2, ...
        name [text] ``"R1"``, ...
        kind [text] edge, hump or hole
        feature_id [int] its number in its own table
        score [.0] 0 to 100, a rule of thumb
        shallow_m, deep_m [depth] of top and foot, or crest and saddle
        drop_m [depth] between the two
        slope_deg [.1] mean slope of the edge's face; of hump and hole from crest to half the short
            axis
        length_m [distance .2] of the edge, or long axis
        band_length_m [distance .2 empty] as much of it as is in the band; NaN without a band
        faces_deg [empty] direction in which the bottom deepens; NaN for humps and holes
        part_of [text empty] for an edge, ``hump`` or ``hole`` if its place is on one
        nearest_kind [text empty] the nearest other structure within 150 m that shares no ground
            with it
        nearest_m [depth empty] how far that is; NaN for none
        wave_height_m, wavelength_m [depth empty] of sand waves there; NaN for none
        uncertainty_m [depth empty] of the depths; NaN unknown
        doubtful [bool] the drop is less than that
        hazard, hazard_name [text empty] the nearest charted danger within 500 m
        hazard_m [depth empty] how far it is; NaN for none
        closed [text empty] what a chart prohibits there that keeps a drifting boat out
        geometry [Point] where to look: the middle of the edge's longest stretch in the band, or the
            crest or deepest point
        """,
    )
    + SCORE
)
RANKS: Final = Table.of(
    "ranks",
    "seabed.structure.ranking.with_ranks",
    """
    rank ["Look here" empty] in the ranking; NaN where not ranked
    score ["Score of 100" empty .0] a rule of thumb; NaN where not ranked
    why [text empty "Why"] in words, if the ranking has them
    wave_height_m ["Sand waves there" depth .2 empty] their height; NaN for none
    """,
)

_OF_EDGES: Final = (
    "edge_id", "top_depth_m", "foot_depth_m", "drop_m", "slope_mean_deg", "length_m",
    "band_length_m", "faces_deg", "middle_x", "middle_y", "geometry",
)  # fmt: skip
_OF_FEATURES: Final = (
    "feature_id", "kind", "crest_depth_m", "saddle_depth_m", "height_m", "long_axis_m",
    "short_axis_m", "peak_x", "peak_y", "geometry",
)  # fmt: skip
DANGER_M: Final = 500.0
"""Dangers further off than this are not named."""
ADVISORY: Final = frozenset(
    {
        "fishing ground", "fishery zone", "sand waves", "dredged area", "caution area",
        "precautionary area", "military practice area", "inshore traffic zone", "restricted area",
        "dumping ground", "anchorage",
    }
)  # fmt: skip
"""Kinds that are worth knowing but no danger to a boat that drifts by."""
KEPT_OUT: Final = ("fishing prohibited", "entry prohibited", "stopping prohibited")


@documented(RANKING)
def rank_structure(
    edges: gpd.GeoDataFrame,
    features: gpd.GeoDataFrame,
    *,
    band: tuple[float, float] | None = None,
    others: Sequence[gpd.GeoDataFrame] = (),
    waves: gpd.GeoDataFrame | None = None,
    hazards: gpd.GeoDataFrame | None = None,
) -> gpd.GeoDataFrame:
    """Rank edges, humps and holes, the one to look at first on top.

    Parameters
    ----------
    edges, features : GeoDataFrame
        As `edges` (of the same band), and `humps` and `holes` together, give them; in one CRS.
        The columns of `with_uncertainty` are used where they are there.
    band : (float, float), optional
        Depths of interest, metres.  Without one structure is ranked by its form alone: all of it
        counts as lying in the band.
    others : sequence of GeoDataFrame, optional
        More structure that counts as company: banks and channels, with ``kind``.
    waves : GeoDataFrame, optional
        As `sand_waves` gives them.
    hazards : GeoDataFrame, optional
        As ``seabed.loaders.read_hazards`` gives them.

    Returns
    -------
    GeoDataFrame
        In the CRS of `edges`; best first, ties by kind and number.

        {ranking}

    Notes
    -----
    Distances are from the ground within 150 m of the place, so that an edge of kilometres is judged
    where it is to be fished.

    Examples
    --------
    >>> from seabed import edges, example_grid, humps
    >>> grid, band = example_grid(), (8, 12)
    >>> ranking = rank_structure(edges(grid, band=band), humps(grid), band=band)
    >>> ranking[["name", "kind", "score"]].round(0).head(2).values.tolist()
    [['R1', 'edge', 70.0], ['R2', 'hump', 4.0]]
    """
    EDGES.check(edges, *_OF_EDGES)
    FEATURES.check(features, *_OF_FEATURES)
    shallow, deep = (-np.inf, np.inf) if band is None else sorted(band)
    table = pd.concat(
        [_of_edges(edges, shallow, deep), _of_features(features, shallow, deep)], ignore_index=True
    )
    if not len(table):
        return RANKING.empty(edges.crs)
    crs = metres_crs(edges if len(edges) else features)
    place = gpd.GeoSeries(
        gpd.points_from_xy(table["x"], table["y"]), crs=(edges if len(edges) else features).crs
    )
    places = place.to_crs(crs).to_numpy()
    shapes = np.concatenate([_shapes(edges, crs), _shapes(features, crs)])
    ground = ground_about(shapes, places)
    company = [(one["kind"].to_numpy(object), _shapes(one, crs)) for one in others]
    table = table.assign(
        **_company(table["kind"], shapes, ground, company),
        **_waved(places, waves, crs),
        **_dangers(ground, hazards, crs),
        part_of=_part_of(table["kind"], places, shapes),
    )
    table = table.assign(**scored(table), geometry=place)
    if band is None:
        table["band_length_m"] = np.nan
    order = np.lexsort((table["feature_id"], table["kind"], -table["score"].round(9)))
    table = table.iloc[order].reset_index(drop=True)
    table["rank"] = np.arange(1, len(table) + 1)
    table["name"] = "R" + table["rank"].astype(str)
    return RANKING.frame(table, crs=place.crs)


def with_ranks(features: gpd.GeoDataFrame, ranking: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Give edges, or humps and holes, what the ranking says of them: `RANKS`."""
    RANKING.check(ranking, "kind", "feature_id", "rank", "score")
    edge = "edge_id" in features
    ours = ranking[(ranking["kind"] == "edge") == edge]
    if edge:
        index, wanted = ours["feature_id"], features["edge_id"]
    else:
        index = pd.MultiIndex.from_frame(ours[["kind", "feature_id"]])
        wanted = pd.MultiIndex.from_frame(features[["kind", "feature_id"]])
    names = [name for name in RANKS.names if name in ranking]
    ranks = ours[names].set_axis(pd.Index(index)).reindex(pd.Index(wanted))
    return features.assign(**{name: ranks[name].to_numpy() for name in names})


def _of_edges(edges: gpd.GeoDataFrame, shallow: float, deep: float) -> pd.DataFrame:
    inside = edges["band_length_m"] if np.isfinite(deep) else edges["length_m"]
    return pd.DataFrame(
        {
            "kind": "edge",
            "feature_id": edges["edge_id"].to_numpy(int),
            "shallow_m": edges["top_depth_m"].to_numpy(float),
            "deep_m": edges["foot_depth_m"].to_numpy(float),
            "drop_m": edges["drop_m"].to_numpy(float),
            "slope_deg": edges["slope_mean_deg"].to_numpy(float),
            "length_m": edges["length_m"].to_numpy(float),
            "band_length_m": inside.to_numpy(float),
            "faces_deg": edges["faces_deg"].to_numpy(float),
            "gap_m": np.where(
                inside > 0,
                0.0,
                _gap(edges["top_depth_m"], edges["foot_depth_m"], shallow, deep),
            ),
            "x": edges["middle_x"].to_numpy(float),
            "y": edges["middle_y"].to_numpy(float),
            **_doubt(edges),
        }
    )


def _of_features(features: gpd.GeoDataFrame, shallow: float, deep: float) -> pd.DataFrame:
    ends = features[["crest_depth_m", "saddle_depth_m"]].to_numpy(float)
    top, foot = ends.min(axis=1, initial=np.inf), ends.max(axis=1, initial=-np.inf)
    height = features["height_m"].to_numpy(float)
    inside = np.clip(np.minimum(foot, deep) - np.maximum(top, shallow), 0, None)
    length = features["long_axis_m"].to_numpy(float)
    return pd.DataFrame(
        {
            "kind": features["kind"].to_numpy(object),
            "feature_id": features["feature_id"].to_numpy(int),
            "shallow_m": top,
            "deep_m": foot,
            "drop_m": height,
            "slope_deg": np.degrees(np.arctan(2 * height / features["short_axis_m"])),
            "length_m": length,
            "band_length_m": length * inside / np.maximum(height, 1e-9),
            "faces_deg": np.nan,
            "gap_m": _gap(top, foot, shallow, deep),
            "x": features["peak_x"].to_numpy(float),
            "y": features["peak_y"].to_numpy(float),
            **_doubt(features),
        }
    )


def _doubt(table: gpd.GeoDataFrame) -> dict[str, Any]:
    known = "uncertainty_m" in table
    return {
        "uncertainty_m": table["uncertainty_m"].to_numpy(float) if known else np.nan,
        "doubtful": table["doubtful"].to_numpy(bool) if known else False,
    }


def _gap(top: Any, foot: Any, shallow: float, deep: float) -> Any:
    """Depth between a feature and the band, metres; 0 where they meet."""
    return np.maximum(np.maximum(top - deep, shallow - foot), 0.0)


def _shapes(table: gpd.GeoDataFrame, crs: Any) -> NDArray[np.object_]:
    return np.asarray(table.geometry.to_crs(crs).to_numpy(), object)


def _company(
    kind: pd.Series,
    shapes: NDArray[np.object_],
    ground: NDArray[np.object_],
    others: Sequence[tuple[NDArray[np.object_], NDArray[np.object_]]],
) -> dict[str, Any]:
    kinds = np.concatenate([kind.to_numpy(object), *(name for name, _ in others)])
    every = np.concatenate([shapes, *(shape for _, shape in others)])
    own = range(len(shapes))
    neighbours = nearest(ground, every, within_m=REACH_M, sharing=False, own=own)
    return {
        "nearest_kind": neighbours.of(pd.Series(kinds), none=""),
        "nearest_m": neighbours.away_m,
    }


def _waved(
    places: NDArray[np.object_], waves: gpd.GeoDataFrame | None, crs: Any
) -> dict[str, Floats]:
    """Highest sand waves whose window holds each place."""
    height, length = np.full(len(places), np.nan), np.full(len(places), np.nan)
    if waves is not None and len(waves):
        place, window = shapely.STRtree(_shapes(waves, crs)).query(places, predicate="within")
        tall = waves["height_m"].to_numpy(float)
        order = np.argsort(tall[window], kind="stable")  # the highest is written last
        height[place[order]] = tall[window[order]]
        length[place[order]] = waves["wavelength_m"].to_numpy(float)[window[order]]
    return {"wave_height_m": height, "wavelength_m": length}


def _dangers(
    ground: NDArray[np.object_], hazards: gpd.GeoDataFrame | None, crs: Any
) -> dict[str, Any]:
    if hazards is None or not len(hazards):
        blank = [""] * len(ground)
        return {"hazard": blank, "hazard_name": blank, "hazard_m": np.nan, "closed": blank}
    restriction = hazards["restriction"].fillna("").astype(str)
    out = restriction.map(lambda words: any(word in words for word in KEPT_OUT))
    danger = hazards[~hazards["kind"].isin(ADVISORY)]
    near = nearest(ground, _shapes(danger, crs), within_m=DANGER_M, sharing=True)
    inside = nearest(ground, _shapes(hazards[out], crs), within_m=0.0, sharing=True)
    return {
        "hazard": near.of(danger["kind"], none=""),
        "hazard_name": near.of(danger["name"].fillna(""), none=""),
        "hazard_m": near.away_m,
        "closed": inside.of(restriction[out], none=""),
    }


def _part_of(
    kind: pd.Series, places: NDArray[np.object_], shapes: NDArray[np.object_]
) -> list[str]:
    area = (kind != "edge").to_numpy()
    kinds = kind[area].to_numpy(object)
    holder = of_smallest(places, shapes[area])
    return [
        str(kinds[row]) if row >= 0 and what == "edge" else ""
        for row, what in zip(holder, kind, strict=True)
    ]
