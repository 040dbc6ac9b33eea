"""All kinds of structure of a grid at once, in memory or worked through in chunks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import xarray as xr

from seabed.errors import GridError
from seabed.grid import crs_of
from seabed.grid.arrays import as_grid
from seabed.schema import joined_tables
from seabed.structure.band import BAND, Band
from seabed.structure.blocks.kind import Kinds, found
from seabed.structure.blocks.running import Done, check_cluster, run_chunks
from seabed.structure.blocks.store import Store, fingerprint
from seabed.structure.blocks.whole import CHUNK, Blocks, Whole
from seabed.structure.calm.noise import AUTO, NoiseSettings
from seabed.structure.channels import Axes
from seabed.structure.contours import ContourLines, round_levels
from seabed.structure.doubtful import DoubtfulSoundings
from seabed.structure.edges import Edges
from seabed.structure.highs import Highs
from seabed.structure.overview import Overview
from seabed.structure.sandwaves import SandWaves


@dataclass(frozen=True, slots=True)
class Search:
    """What is sought; names and meanings as in `seabed.structure`.

    Attributes
    ----------
    contours_m : tuple of float, optional
        None is a dozen round steps over the grid's own depths.
    contour_unit_m : float
        What these steps are round in, metres.
    band_m : (float, float), optional
    edge_scale_m, edge_min_length_m : float, optional
        None, or a scale finer than the cells, follows the cells.
    edge_min_drop_m, edge_min_slope_deg : float
    hump_min_height_m : float
    noise : NoiseSettings
    """

    contours_m: tuple[float, ...] | None = ()
    contour_unit_m: float = 1.0
    band_m: tuple[float, float] | None = None
    edge_scale_m: float | None = None
    edge_min_length_m: float | None = None
    edge_min_drop_m: float = 1.0
    edge_min_slope_deg: float = 1.0
    hump_min_height_m: float = 1.0
    noise: NoiseSettings = AUTO

    def edges(self, whole: Whole) -> Edges:
        """Give the edges that are sought; a scale finer than the cells does not count."""
        scale_m = self.edge_scale_m
        if scale_m is not None and 0 < scale_m < whole.size.typical:
            scale_m = None
        return Edges(
            scale_m,
            self.edge_min_length_m,
            self.edge_min_drop_m,
            self.edge_min_slope_deg,
            self.band_m,
        )

    def levels(self, whole: Whole) -> tuple[float, ...]:
        """Give the depths of contours, rising."""
        if self.contours_m is None:
            return round_levels(*whole.sampled_range_m, unit_m=self.contour_unit_m)
        return tuple(sorted({float(depth) for depth in self.contours_m}))

    def kinds(self, whole: Whole) -> Kinds:
        """Give the kinds of structure with their options."""
        band = {} if self.band_m is None else {"band": Band(*self.band_m)}
        return {
            **band,
            "contours": ContourLines(self.levels(whole)),
            "edges": self.edges(whole),
            "humps": Highs("hump", self.hump_min_height_m),
            "holes": Highs("hole", self.hump_min_height_m),
            "axes": Axes(),
            "doubtful": DoubtfulSoundings(),
            "waves": SandWaves(),
            "overview": Overview(),
        }


@dataclass(frozen=True)
class Bottom:
    """What the bottom of a grid holds; each kind is joined when it is first asked for.

    Attributes
    ----------
    whole : Whole
    kinds : mapping of str to Kind
    store : Store or None
        Finished chunks, where the grid was worked through in chunks; remove it once all is written.
    """

    whole: Whole
    kinds: Kinds
    store: Store | None = None

    def joined(self, name: str) -> Any:
        """Join what all chunks hold of a kind; a grid in memory is searched now."""
        kind = self.kinds[name]
        if self.store is None:
            return found(kind, self.whole)
        results: Any = self.store.results(name, self.whole.chunks)
        return kind.join(results if name == "contours" else [*map(dict, results)], self.whole)

    def contours(self) -> Iterator[gpd.GeoDataFrame]:
        """Give the contours in tables, by depth: all together may not fit into memory."""
        tables: Iterator[gpd.GeoDataFrame] = self.joined("contours")
        return tables

    @cached_property
    def band(self) -> gpd.GeoDataFrame:
        """As `seabed.structure.depth_band`; without rows where no band is sought."""
        return self.joined("band") if "band" in self.kinds else BAND.empty(crs_of(self.whole.frame))

    @cached_property
    def edges(self) -> gpd.GeoDataFrame:
        """As `seabed.structure.edges`."""
        return self.joined("edges")

    @cached_property
    def features(self) -> gpd.GeoDataFrame:
        """As `seabed.structure.humps` and `holes`, together."""
        return joined_tables([self.joined("humps"), self.joined("holes")])

    @cached_property
    def axes(self) -> gpd.GeoDataFrame:
        """As `seabed.structure.banks_and_channels`."""
        return joined_tables(self.joined("axes"))

    @cached_property
    def doubtful(self) -> gpd.GeoDataFrame:
        """As `seabed.structure.doubtful.doubtful_soundings`."""
        return self.joined("doubtful")

    @cached_property
    def waves(self) -> gpd.GeoDataFrame:
        """As `seabed.structure.sand_waves`."""
        return self.joined("waves")

    @cached_property
    def _seen(self) -> tuple[xr.DataArray, tuple[float, float]]:
        seen: tuple[xr.DataArray, tuple[float, float]] = self.joined("overview")
        return seen

    @property
    def overview(self) -> xr.DataArray:
        """Means over squares of the cells; attribute ``reduced`` says how many cells a side."""
        return self._seen[0]

    @property
    def depth_range_m(self) -> tuple[float, float]:
        """Least and greatest depth of the grid itself; NaN where there is no water."""
        return self._seen[1]


def find_bottom(
    blocks: Blocks | xr.DataArray,
    search: Search,
    *,
    folder: Path | None = None,
    source: str = "",
    reading: str = "",
    chunk: int = CHUNK,
    jobs: int | None = None,
    scheduler: str | None = None,
    done: Done = lambda finished, whole: None,
) -> Bottom:
    """Find the structure of a grid.

    Parameters
    ----------
    blocks : depth grid, or Blocks such as `seabed.loaders.open_stored` gives
        A grid in memory is one chunk.
    search : Search
    folder : Path, optional
        For the results of finished chunks; needed for blocks.  A run that was broken off goes on
        from them.
    source, reading : str
        What tells this grid from another: see `seabed.structure.blocks.store.fingerprint`.
    chunk : int
        Rows and columns worked on at a time.
    jobs, scheduler, done
        As `run_chunks`.

    Returns
    -------
    Bottom
        Features that cross borders of chunks are whole and come once: the same as on a grid in
        memory, to the last bit but for sand waves, whose spectra round otherwise.

    Raises
    ------
    SeabedError
        If the grid can't be read, holds no water, the options can't be right, or the work was
        ended from outside.

    Examples
    --------
    >>> from seabed import example_grid
    >>> bottom = find_bottom(example_grid(), Search(band_m=(8, 12), contours_m=(8, 12)))
    >>> len(bottom.edges)
    3
    """
    if isinstance(blocks, xr.DataArray):
        whole = Whole.of(as_grid(blocks), search.noise)
        kinds = _checked(search, whole)
        return Bottom(whole, kinds)
    if folder is None:
        raise GridError("blocks need a folder for what is found in them", file=source or None)
    whole = Whole(blocks, chunk, search.noise)
    whole.check()
    kinds = _checked(search, whole)
    if scheduler is not None:
        check_cluster(scheduler)
    store = Store(folder, fingerprint(source, whole, kinds, reading))
    run_chunks(whole, kinds, store, jobs=jobs, scheduler=scheduler, done=done)
    bottom = Bottom(whole, kinds, store=store)
    if np.isnan(bottom.depth_range_m[0]):
        store.remove()
        raise GridError("there is no water in the grid", file=source or None)
    return bottom


def _checked(search: Search, whole: Whole) -> Kinds:
    kinds = search.kinds(whole)
    for kind in kinds.values():
        kind.check(whole)
    return kinds
