"""The table of ground that changed: how much, by what volume, and what came or went with it."""

from __future__ import annotations

from typing import Final, TypeAlias

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from numpy.typing import NDArray
from rasterio.features import shapes
from scipy import ndimage

from seabed.array_types import Depths, Floats, Ints
from seabed.change._common import blurred
from seabed.change._matching import Matched
from seabed.change._patches import Marked
from seabed.grid import cell_size, crs_of, transform_of
from seabed.schema import Table

Closed: TypeAlias = gpd.GeoDataFrame
"""Humps and holes."""

CHANGES: Final = Table.of(
    "changes",
    "seabed.changes_since",
    """
    change_id [int "Number"] 0, 1, ...
    kind [text "Kind"] ``"filled"`` where the newer survey is shallower, ``"scoured"`` where deeper
    about [text empty "What"] hump or hole that came or went with it, in words
    change_m ["Mean change" depth .2] deeper above 0, with the surveys matched
    most_m ["Greatest change" depth .2] of single cells smoothed by one
    as_surveyed_m ["Mean change, unmatched" depth .2] by the two files as they lie, neither level
        nor place matched
    depth_m ["Depth now"] mean of the newer survey
    area_m2 ["Area"] over the ground
    volume_m3 ["Volume"] of water gained; below 0 where ground was
    volume_error_m3 standard error of it, by noise and by the level
    sure ["Times the limit" .1] how many times the limit its clearest place is: 1 is just beyond
        noise
    geometry [Polygon] the cells of it
    """,
)
_OF_PATCH: Final = 0.2
"""Share of a patch in the footprint of what came or went with it."""


def patch_table(
    frame: xr.DataArray,
    pair: Matched,
    raw: Depths,
    *,
    patches: Marked,
    sigma: Depths,
    closed: tuple[Closed, Closed],
) -> gpd.GeoDataFrame:
    """Measure each patch, the greatest volume first."""
    size, number = cell_size(frame), patches.number
    cell_m2 = np.broadcast_to((size.easting * size.northing)[:, None], number.shape)
    every = np.arange(1, patches.count + 1)

    def total(values: Floats) -> Floats:
        return np.asarray(ndimage.sum(np.nan_to_num(values), number, every), float)

    difference = pair.difference.astype(float)
    area, count = total(cell_m2), np.maximum(total(np.ones(number.shape)), 1)
    volume = total(difference * cell_m2)
    level_error = np.nan_to_num(pair.alignment.deeper_error_m)
    error = np.hypot(patches.shared * np.sqrt(total((sigma * cell_m2) ** 2)), level_error * area)
    smooth = np.nan_to_num(blurred(pair.difference, 1.0))
    ends = [
        np.asarray(one(smooth, number, every) if patches.count else area, float)
        for one in (ndimage.maximum, ndimage.minimum)
    ]
    outlines = _outlines(patches, frame)
    table = CHANGES.frame(
        {
            "change_id": every - 1,
            "kind": np.where(volume > 0, "scoured", "filled").astype(object),
            "about": _about(frame, patches.number, volume, outlines, closed),
            "change_m": volume / np.maximum(area, 1e-9),
            "most_m": np.where(volume > 0, *ends),
            "as_surveyed_m": total(frame.values - raw) / count,
            "depth_m": total(frame.values) / count,
            "area_m2": area,
            "volume_m3": volume,
            "volume_error_m3": error,
            "sure": patches.sure,
            "geometry": outlines,
        },
        crs=crs_of(frame),
    )
    order = np.argsort(-np.abs(volume), kind="stable")
    return table.iloc[order].reset_index(drop=True).assign(change_id=every - 1)


def _outlines(patches: Marked, frame: xr.DataArray) -> NDArray[np.object_]:
    outlines, number = np.full(patches.count, None, object), patches.number
    for shape, n in shapes(number.astype(np.int32), number > 0, 4, transform_of(frame)):
        outlines[int(n) - 1] = shapely.geometry.shape(shape)
    return outlines


def _about(
    frame: xr.DataArray,
    number: Ints,
    volume: Floats,
    outlines: NDArray[np.object_],
    closed: tuple[Closed, Closed],
) -> NDArray[np.object_]:
    """Say of each patch which hump or hole came or went with it."""
    words = np.full(len(volume), "", object)
    for came in (False, True):
        here, there = closed if not came else closed[::-1]
        for row, patch in zip(here.itertuples(), _under(frame, here, number) - 1, strict=True):
            if patch < 0 or words[patch] or (volume[patch] > 0) != ((row.kind == "hole") == came):
                continue
            shared = outlines[patch].intersection(row.geometry.buffer(0)).area
            if shared >= _OF_PATCH * outlines[patch].area:
                crest = shapely.Point(row.peak_x, row.peak_y)
                left = (there["kind"] == row.kind) & there.intersects(crest)
                words[patch] = _words(row.kind, came, bool(left.any()))
    return words


def _words(kind: str, came: bool, left: bool) -> str:
    if left:
        return f"a {kind} that grew" if came else f"a {kind} that shrank"
    return f"a new {kind}" if came else f"a {kind} that is gone"


def _under(frame: xr.DataArray, closed: Closed, number: Ints) -> Ints:
    """Patch under the crest or floor of each."""
    column, row = ~transform_of(frame) @ (closed["peak_x"].values, closed["peak_y"].values)
    return np.asarray(number[row.astype(int), column.astype(int)], np.int64)
