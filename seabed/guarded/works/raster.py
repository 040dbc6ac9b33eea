"""Rasters by one driver: what the header says, in plain values, and blocks of a band."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from types import SimpleNamespace
from typing import Any, Final

import numpy as np
import rasterio
from rasterio.enums import MaskFlags
from rasterio.errors import NotGeoreferencedWarning
from rasterio.windows import Window

Options = dict[str, Any]
LONGEST: Final = 10_000


def header(path: str, settings: Options, options: Options) -> SimpleNamespace:
    """Shape, place and CRS; and what it says of each band."""
    with opened(path, settings, options) as data:
        masks = data.mask_flag_enums
        return SimpleNamespace(
            driver=data.driver,
            count=data.count,
            shape=(data.height, data.width),
            transform=data.transform,
            wkt=data.crs.to_wkt() if data.crs is not None else "",
            descriptions=[text or "" for text in data.descriptions],
            dtypes=set(data.dtypes),
            units=[text or "" for text in data.units],
            tags=[{**data.tags(), **data.tags(band)} for band in data.indexes],
            voids=data.nodatavals,
            scales=data.scales,
            offsets=data.offsets,
            masked=[MaskFlags.per_dataset in flags for flags in masks],
        )


def read(
    path: str, settings: Options, options: Options, part: tuple[int, ...], masked: bool
) -> Any:
    """Cells as float32: `part` is a band, first row and column, rows, columns."""
    band, row, column, rows, columns = part
    array = np.empty((rows, columns), np.float32)
    window: Any = Window(column, row, columns, rows)
    with opened(path, settings, options) as data:
        data.read(band, window=window, out=array)
        if masked:
            array[data.read_masks(band, window=window) == 0] = np.nan
    return array


@contextmanager
def opened(path: str, settings: Options, options: Options) -> Iterator[Any]:
    """Open it under settings of the library, with options of the driver."""
    with rasterio.Env(**settings):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # we say so ourselves
            data = rasterio.open(path, **options)
        with data:
            yield data
