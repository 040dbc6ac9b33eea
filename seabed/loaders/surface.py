"""A depth grid with the uncertainty that its files carry."""

from __future__ import annotations

from dataclasses import dataclass

import xarray as xr

from seabed.notebook import NotebookTable


@dataclass(frozen=True, slots=True)
class Surface(NotebookTable):
    """A depth grid and, on the same cells, how sure it is.

    Attributes
    ----------
    depth : xarray.DataArray
        A depth grid (see ``seabed.grid``).
    uncertainty : xarray.DataArray or None
        Named ``uncertainty``, float32 metres, positive; NaN where the depth is void, or its file
        carries none; None where no file does.  What it means (one or two standard deviations) is
        the producer's matter and is not changed.
    """

    depth: xr.DataArray
    uncertainty: xr.DataArray | None
