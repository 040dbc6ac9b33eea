"""Points of Arrow batches into a layer: run by its path, in a process of its own.

The library that writes layers holds python's lock meanwhile, so that a thread would stop all
others.
"""

from __future__ import annotations

import signal
import sys
from pathlib import Path
from typing import Any

import pyogrio
from nanoarrow.ipc import InputStream


def write_points(batches: Any, path: str | Path, *, layer: str, about: str) -> None:
    """Write points as a FlatGeobuf, whose name ends in .fgb.

    batches: stream of Arrow record batches; with a column ``geometry`` of well-known binary,
        degrees of WGS 84.
    layer, about: its name, and what it says of itself.
    """
    pyogrio.write_arrow(
        batches,
        path,
        layer=layer,
        driver="FlatGeobuf",
        geometry_type="Point",
        geometry_name="geometry",
        crs="EPSG:4326",
        layer_options={"DESCRIPTION": about, "SPATIAL_INDEX": "NO"},
    )


def _main(source: str, target: str, layer: str, about: str) -> int:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever began it stops it
    try:
        with InputStream.from_path(source) as batches:
            write_points(batches, target, layer=layer, about=about)
    except (OSError, pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as error:
        sys.stderr.write(str(error))
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(_main(*sys.argv[1:]))
