"""A grid of own soundings: depth, how sure it is, and how many soundings it rests on."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from seabed.loaders import Surface
from seabed.loaders.writing import write_bands
from seabed.notebook import NotebookTable
from seabed.soundings.surface._roughness import Roughness


@dataclass(frozen=True, slots=True)
class OwnGrid(NotebookTable):
    """A grid of own soundings.

    Attributes
    ----------
    depth : xarray.DataArray
        A depth grid (see ``seabed.grid``); NaN further than `reach_m` from any sounding.
    uncertainty : xarray.DataArray
        One standard deviation of `depth`, metres, on the same cells.
    common_m : xarray.DataArray
        The part of it that cells share: tide and offset.
    count : xarray.DataArray of int32
        Soundings in each cell.
    reach_m : float
        Distance from a sounding beyond which the grid is blank.
    roughness : Roughness
        The variogram that tells what is between soundings.
    levels : DataFrame
        One row an outing: ``start``, ``end`` (UTC, NaT if not known), ``soundings``, ``offset_m``
        (taken off its depths), ``offset_sigma_m`` (of what is left), ``compared`` (pairs of
        neighbouring blocks of other outings).
    notes : tuple of str
        How cells, reach and noise were chosen, in sentences.
    """

    depth: xr.DataArray
    uncertainty: xr.DataArray
    common_m: xr.DataArray
    count: xr.DataArray
    reach_m: float
    roughness: Roughness
    levels: pd.DataFrame
    notes: tuple[str, ...]

    @property
    def surface(self) -> Surface:
        """Depth with its uncertainty, as the loaders give it."""
        return Surface(self.depth, self.uncertainty)


def write_own(path: str | Path, own: OwnGrid, *, caution: str) -> None:
    """Write depth, uncertainty and count as bands of a GeoTIFF, with the notes and a caution."""
    bands = {"depth": own.depth, "uncertainty": own.uncertainty, "count": own.count}
    write_bands(path, bands, tags={"caution": caution, "notes": " ".join(own.notes)})


def layer(
    grid: xr.DataArray, values: NDArray[Any], name: str, about: str, *, unit: str = "m"
) -> xr.DataArray:
    """Put other values on the cells of a grid."""
    other = grid.copy(data=values).rename(name)
    other.attrs = {"long_name": about, "units": unit}
    return other
