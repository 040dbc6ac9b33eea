"""Grids of own soundings as files that open again like any other grid."""

from __future__ import annotations

from pathlib import Path

from seabed.loaders import write_bands
from seabed.soundings.surface._merging import PROVENANCE, MergedGrid
from seabed.soundings.surface._owngrid import OwnGrid


def write_own(path: str | Path, own: OwnGrid, *, caution: str) -> None:
    """Write depth, uncertainty and count as bands of a cloud-optimised GeoTIFF.

    Parameters
    ----------
    path : str or Path
        Ends in .tif.
    own : OwnGrid
    caution : str
        Kept with the file, as are the notes.

    Examples
    --------
    >>> from seabed import example_grid, example_soundings, grid_soundings
    >>> own = grid_soundings(example_soundings(), like=example_grid())
    >>> write_own("own.tif", own, caution="An example.")
    """
    bands = {"depth": own.depth, "uncertainty": own.uncertainty, "count": own.count}
    write_bands(path, bands, tags={"caution": caution, "notes": " ".join(own.notes)})


def write_merged(path: str | Path, merged: MergedGrid, *, caution: str) -> None:
    """Write depth, uncertainty, provenance and share of own as bands of a GeoTIFF; as `write_own`.

    The codes of the provenance are in the file.

    Examples
    --------
    >>> from seabed import example_grid, example_soundings, grid_soundings, merge_onto
    >>> grid = example_grid()
    >>> merged = merge_onto(grid, grid_soundings(example_soundings(), like=grid))
    >>> write_merged("merged.tif", merged, caution="An example.")
    """
    bands = {
        "depth": merged.depth,
        "uncertainty": merged.uncertainty,
        "provenance": merged.provenance,
        "share_own": merged.share,
    }
    codes = ", ".join(f"{code} {word}" for code, word in PROVENANCE.items())
    tags = {"caution": caution, "notes": " ".join(merged.notes), "provenance": codes}
    write_bands(path, bands, tags=tags)
