"""Grids as cloud-optimised GeoTIFF, whole or not at all, that the loaders read again."""

from __future__ import annotations

import errno
import os
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Final

import numpy as np
import rasterio
import rasterio.shutil
import xarray as xr
from rasterio._err import CPLE_BaseError  # what copying raises, which is none of rasterio.errors
from rasterio.errors import RasterioError
from rasterio.windows import Window

from seabed.errors import GridError, OutputError
from seabed.files import MAKER, replacing, what_changed
from seabed.grid import check_grid, crs_of, transform_of

BLOCK: Final = 512
CACHE: Final = 8_000_000
"""Bytes of blocks that GDAL keeps: else a twentieth of the machine's memory."""

MANY_CELLS: Final = 4_000_000  # fewer are packed by one thread: several take 40 MB


def write_bands(
    path: str | Path,
    bands: Mapping[str, xr.DataArray],
    *,
    tags: Mapping[str, str] | None = None,
) -> None:
    """Write arrays on the same cells as the bands of one cloud-optimised GeoTIFF.

    The first gives the cells and the CRS.  Bands named "depth" and "uncertainty" are found again by
    ``open_surface``.  An attribute ``long_name`` or ``units`` is kept with its band; ``positive``,
    ``vertical_datum`` and ``source`` of the first, and `tags`, are kept with the file.
    """
    first = next(iter(bands.values()))
    check_grid(first.astype(np.float32))
    for name, values in bands.items():
        if values.shape != first.shape:
            raise GridError(f"band {name} has not the cells of the first: {values.shape}")
    about = {
        name.upper(): str(first.attrs[name])
        for name in ("positive", "vertical_datum", "source")
        if first.attrs.get(name)
    }
    about["TIFFTAG_SOFTWARE"] = MAKER
    with replacing(path) as partial, rasterio.Env(GDAL_CACHEMAX=CACHE):
        plain = partial.with_name("plain.tif")
        try:
            _write_plain(plain, bands, {**about, **(tags or {})})
            _hold_whole(plain)
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
                rasterio.shutil.copy(
                    plain, partial, driver="COG", compress="DEFLATE", level="4", predictor="YES",
                    blocksize=BLOCK, overview_resampling="NEAREST", overviews="AUTO",
                    num_threads="ALL_CPUS" if first.size > MANY_CELLS else "1",
                )  # fmt: skip
            _hold_whole(partial)
        except (RasterioError, CPLE_BaseError) as error:
            raise OutputError(
                f"can't write: {error.__cause__ or error}",
                file=path,
                do=f"Make room, or choose another place; {what_changed()}.",
            ) from error
        plain.unlink()


def _hold_whole(path: Path) -> None:
    """Refuse a file that lacks blocks: GDAL is silent about a disk that is full at its close."""
    size = path.stat().st_size
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
        with rasterio.open(path) as file:
            for band in file.indexes:
                for (row, column), _ in file.block_windows(band):
                    start, length = (
                        int(
                            file.get_tag_item(f"BLOCK_{word}_{column}_{row}", "TIFF", bidx=band)
                            or 0
                        )
                        for word in ("OFFSET", "SIZE")
                    )
                    if not start or start + length > size:
                        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def _write_plain(path: Path, bands: Mapping[str, xr.DataArray], tags: Mapping[str, str]) -> None:
    first = next(iter(bands.values()))
    rows, columns = first.shape
    with rasterio.open(
        path, "w", driver="GTiff", width=columns, height=rows, count=len(bands), dtype="float32",
        crs=crs_of(first), transform=transform_of(first), nodata=np.nan, tiled=True,
    ) as file:  # fmt: skip
        file.update_tags(**tags)
        arrays = [values.to_numpy() for values in bands.values()]
        for top in range(0, rows, BLOCK):  # blocks hold all bands
            part = np.stack([values[top : top + BLOCK] for values in arrays])
            window = Window(0, top, columns, part.shape[1])
            file.write(part.astype(np.float32, copy=False), window=window)
        for number, (name, values) in enumerate(bands.items(), 1):
            file.set_band_description(number, name)
            if values.attrs.get("units"):
                file.set_band_unit(number, str(values.attrs["units"]))
            if values.attrs.get("long_name"):
                file.update_tags(number, long_name=str(values.attrs["long_name"]))
