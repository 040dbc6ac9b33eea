"""The demo area on a grid of fewer cells, on which every job takes less time."""

from __future__ import annotations

import shutil
from functools import cache
from hashlib import sha256
from pathlib import Path

import rasterio
from cache_folder import cache_folder
from filelock import FileLock
from rasterio.enums import Resampling

DEMO = Path(__file__).parents[1] / "demo_area"


@cache
def coarse_demo(coarser: int = 2) -> Path:
    """Give the folder with the area file, tables, chart, tracks and catches; none may change it.

    coarser: cells of the demo's own grid on a side of one of this.
    """
    files = [path for path in sorted(DEMO.iterdir()) if path.is_file() and path.suffix != ".py"]
    digest = sha256(b"".join([Path(__file__).read_bytes(), *(one.read_bytes() for one in files)]))
    folder = cache_folder() / f"coarse-demo-{coarser}-{digest.hexdigest()[:12]}"
    folder.parent.mkdir(parents=True, exist_ok=True)
    with FileLock(f"{folder}.lock"):
        if not folder.exists():
            part = folder.with_suffix(".part")
            shutil.rmtree(part, ignore_errors=True)
            part.mkdir()
            for file in files:
                shutil.copy(file, part)
            _write_coarse(DEMO / "sound.tif", part / "sound.tif", coarser)
            part.rename(folder)
    return folder


def _write_coarse(fine_file: Path, coarse_file: Path, coarser: int) -> None:
    """Write the mean depth of each square of cells."""
    with rasterio.open(fine_file) as fine:
        shape = (fine.height // coarser, fine.width // coarser)
        profile = fine.profile | {"height": shape[0], "width": shape[1]}
        profile["transform"] = fine.transform @ fine.transform.scale(coarser)
        with rasterio.open(coarse_file, "w", **profile) as coarse:
            coarse.write(fine.read(1, out_shape=shape, resampling=Resampling.average), 1)
            coarse.update_tags(**fine.tags())
            coarse.update_tags(1, **fine.tags(1))
