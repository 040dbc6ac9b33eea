"""The structure of a whole coast."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from seabed.coasts.bands import joined_band
from seabed.coasts.isobaths import joined_contours
from seabed.coasts.overview import joined_overview
from seabed.coasts.peaks import KINDS, joined_peaks
from seabed.coasts.plan import CHUNK, Blocks, Wanted, frame_of, planned
from seabed.coasts.running import Done, check_cluster, run_chunks
from seabed.coasts.scarps import joined_edges
from seabed.coasts.store import Store, fingerprint
from seabed.errors import GridError

__all__ = ["Coast", "scout_coast"]


@dataclass(frozen=True, slots=True)
class Coast:
    """What the bottom of a large grid holds.

    Attributes
    ----------
    overview : depth grid
        Means over squares of the cells; attribute ``reduced`` says how many cells a side.
    depth_range_m : (float, float)
        Least and greatest depth of the grid itself.
    band, edges, features : GeoDataFrame
        As `seabed.structure` gives them; `features` are humps and holes.
    contours : callable
        Gives the contours in tables, one after the other, by depth: all together may not fit into
        memory.
    store : Store
        Finished chunks; remove it once all is written.
    """

    overview: xr.DataArray
    depth_range_m: tuple[float, float]
    band: gpd.GeoDataFrame
    edges: gpd.GeoDataFrame
    features: gpd.GeoDataFrame
    contours: Callable[[], Iterator[gpd.GeoDataFrame]]
    store: Store


def scout_coast(
    blocks: Blocks,
    wanted: Wanted,
    *,
    folder: Path,
    source: str = "",
    told: str = "",
    chunk: int = CHUNK,
    jobs: int | None = None,
    scheduler: str | None = None,
    done: Done = lambda finished, whole: None,
) -> Coast:
    """Find the structure of a grid that does not fit into memory.

    Parameters
    ----------
    blocks : Blocks
        Such as `seabed.loaders.open_stored` gives.
    wanted : Wanted
    folder : Path
        For the results of finished chunks.  A run that was broken off goes on from them.
    source, told : str
        What tells this grid from another: see `seabed.coasts.store.fingerprint`.
    chunk : int
        Rows and columns worked on at a time.
    jobs, scheduler, done
        As `run_chunks`.

    Returns
    -------
    Coast
        What `seabed.structure` finds on the whole grid: features that cross borders of chunks
        are whole and come once.  Numbers of edges differ from those of a grid in memory by
        rounding (the smoothing works about another depth); all others are equal to the last few
        bits of a float64.

    Raises
    ------
    SeabedError
        If the grid can't be read, holds no water, the options can't be right, or the work was
        ended from outside.
    """
    wanted = _in_order(wanted)
    plan = planned(blocks, wanted, chunk=chunk)
    if scheduler is not None:
        check_cluster(scheduler)
    store = Store(folder, fingerprint(source, plan, told))
    run_chunks(blocks, plan, store, jobs=jobs, scheduler=scheduler, done=done)
    frame = frame_of(blocks)
    overview, depths = joined_overview(store.results("overview", plan.chunks), plan, frame)
    if np.isnan(depths[0]):
        store.remove()
        raise GridError("there is no water in the grid", file=source or None)
    highs = [
        joined_peaks(store.results(kind, plan.chunks).held(), plan, blocks, frame, kind)
        for kind in KINDS
    ]
    filled = [table for table in highs if len(table)] or highs[:1]
    features = gpd.GeoDataFrame(pd.concat(filled, ignore_index=True), crs=highs[0].crs)
    lines = store.results("contours", plan.chunks)
    return Coast(
        overview,
        depths,
        joined_band(store.results("band", plan.chunks).held(), plan, frame),
        joined_edges(store.results("edges", plan.chunks).held(), plan, blocks, frame),
        features,
        lambda: joined_contours(lines, frame, wanted.contours_m),
        store,
    )


def _in_order(wanted: Wanted) -> Wanted:
    return replace(wanted, contours_m=tuple(sorted({float(depth) for depth in wanted.contours_m})))
