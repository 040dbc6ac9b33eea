"""Layers of vector files, read in a process that has one driver and no network."""

from __future__ import annotations

import atexit
import os
import pickle
import subprocess
import sys
from functools import cache
from pathlib import Path
from threading import Lock, Timer
from typing import Any, Final, Literal

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

from seabed.grid import Bounds
from seabed.loaders import vector_process
from seabed.loaders.offline import OFFLINE

__all__ = ["Driver", "LayerError", "layers_in", "read_layer"]

Driver = Literal["S57", "GPKG"]

PLAIN_S: Final = 60.0
BYTES_A_SECOND: Final = 500_000
"""A reader that takes longer than a minute, and a second for so many bytes, is stopped."""


class LayerError(Exception):
    """A vector file that can't be read; who asked says what to do."""


def layers_in(path: str | Path, driver: Driver) -> dict[str, int]:
    """Name the layers of a file, with how many objects each has.

    Raises
    ------
    LayerError
        If `driver` does not read it.
    """
    counts: dict[str, int] = _reader(driver).ask("layers", path)
    return counts


def read_layer(
    path: str | Path,
    layer: str,
    driver: Driver,
    *,
    box: Bounds | None = None,
    options: dict[str, str] | None = None,
) -> gpd.GeoDataFrame:
    """Read a layer.

    Parameters
    ----------
    path : str or Path
    layer : str
    driver : {"S57", "GPKG"}
        The only kind that the file may be.
    box : Bounds, optional
        Only objects that touch it; in the layer's own CRS.
    options : dict, optional
        Open options of the driver.

    Returns
    -------
    GeoDataFrame
        In the layer's CRS, if it says one; fields of time in UTC.  A layer without geometry has
        None in each row.

    Raises
    ------
    LayerError
        If `driver` does not read it, or a geometry is damaged.
    """
    around = None if box is None else (box.west, box.south, box.east, box.north)
    crs, names, kinds, columns, binary = _reader(driver).ask(
        "read", path, layer, around, options or {}
    )
    table = pd.DataFrame(
        {
            name: pd.to_datetime(pd.Series(values), utc=True, format="ISO8601", errors="coerce")
            if kind == "OFTDateTime"
            else values
            for name, kind, values in zip(names, kinds, columns, strict=True)
        }
    )
    if binary is None:
        return gpd.GeoDataFrame(table, geometry=gpd.GeoSeries([None] * len(table)), crs=crs)
    shapes = shapely.from_wkb(binary, on_invalid="fix")
    lost = sum(one is None and of is not None for one, of in zip(shapes, binary, strict=True))
    if lost:
        raise LayerError(f"{lost} of the geometries in {layer} are damaged")
    return gpd.GeoDataFrame(table, geometry=np.asarray(shapes, dtype=object), crs=crs)


class _Reader:
    """The process that reads files of one driver; begun when first asked, and kept."""

    def __init__(self, driver: str) -> None:
        self._driver = driver
        self._lock = Lock()
        self._process: subprocess.Popen[bytes] | None = None

    def ask(self, work: str, path: str | Path, *rest: Any) -> Any:
        """Have a file read; what comes back is as `vector_process` gives it."""
        whole = os.path.abspath(path)  # noqa: PTH100  (no name of a file is an address)
        limit_s = PLAIN_S + Path(whole).stat().st_size / BYTES_A_SECOND
        with self._lock:
            process = self._begun()
            late = Timer(limit_s, process.kill)
            late.start()
            try:
                pickle.dump((work, whole, *rest), process.stdin)
                process.stdin.flush()
                how, answer = pickle.load(process.stdout)  # noqa: S301  (from our own process)
            except (OSError, EOFError, pickle.UnpicklingError) as error:
                self._process = None
                process.kill()
                process.wait()
                raise LayerError("reading it failed, or took too long") from error
            finally:
                late.cancel()
        if how == "failed":
            raise LayerError(answer)
        return answer

    def _begun(self) -> Any:
        if self._process is None or self._process.poll() is not None:
            others = [name for name in pyogrio.list_drivers() if name != self._driver]
            settings = [f"{name}={value}" for name, value in OFFLINE.items()]
            self._process = subprocess.Popen(  # noqa: S603  (this python, and a file of ours)
                [sys.executable, "-P", vector_process.__file__, self._driver, *settings],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                env={**os.environ, "GDAL_SKIP": ",".join(others), "GDAL_DRIVER_PATH": "disable"},
            )
            atexit.register(self._process.kill)
        return self._process


@cache
def _reader(driver: str) -> _Reader:
    return _Reader(driver)
