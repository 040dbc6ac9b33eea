"""The ground that lines are tried on: coarse cells, and what a line there gains."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
import xarray as xr

from seabed.array_types import Floats, Mask
from seabed.errors import GridError
from seabed.soundings.surface._roughness import matern
from seabed.soundings.surface.lattice import CellLattice, in_squares, lattice_of

SIDE: Final = 240
"""Cells along the longer side of the ground, on which lines are tried."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line in metres east and south of the ground's corner, and its marginal gain."""

    shape: shapely.LineString
    across: float
    gain: float
    kind: str = "main"


@dataclass(frozen=True, slots=True)
class SurveyGround:
    """Coarse cells: variance that counts, where a boat may go, and what a line does."""

    lattice: CellLattice
    variance: Floats
    open_water: Mask
    width_m: float
    height_m: float
    correlation_m: float
    spacing_m: float
    noise: float

    @property
    def cell_m(self) -> float:
        """Side of a square as large as a cell."""
        return float(np.sqrt(self.width_m * self.height_m))

    @property
    def middle(self) -> tuple[float, float]:
        """Metres east and south of the corner."""
        rows, columns = self.variance.shape
        return columns * self.width_m / 2, rows * self.height_m / 2

    def left(self, away_m: Floats, variance: Floats) -> Floats:
        """Share of a variance that is left at a distance from a line."""
        with np.errstate(invalid="ignore", divide="ignore"):
            trust = np.where(variance > 0, variance / (variance + self.noise), 0.0)
        share: Floats = 1.0 - matern(away_m / self.correlation_m) ** 2 * trust
        return share

    def left_beside(self, line: Line, variance: Floats) -> Floats:
        """Share of a variance that a line leaves, in every coarse cell."""
        rows, columns = self.variance.shape
        south, east = np.meshgrid(
            (np.arange(rows) + 0.5) * self.height_m,
            (np.arange(columns) + 0.5) * self.width_m,
            indexing="ij",
        )
        return self.left(shapely.distance(shapely.points(east, south), line.shape), variance)


def ground_of(
    depth: xr.DataArray,
    uncertainty: xr.DataArray,
    band: tuple[float, float] | None,
    *,
    shallowest_m: float,
    correlation_m: float,
    spacing_m: float,
    sounding_sigma_m: float,
) -> SurveyGround:
    """Take the variance that counts and the water that is safe, in squares of cells."""
    shallow, deep = band or (-np.inf, np.inf)
    values = depth.values
    with np.errstate(invalid="ignore"):
        counts = np.isfinite(values) & (values >= shallow) & (values <= deep)
        safe = values >= shallowest_m
    if not counts.any():
        raise GridError(
            f"no part of the grid is between {shallow:g} and {deep:g} m",
            file=depth.attrs.get("source") or None,
            do="Choose another band.",
        )
    sigma = uncertainty.values.astype(np.float64)
    known = sigma[counts & np.isfinite(sigma)]
    sigma = np.where(np.isfinite(sigma), sigma, known.max() if known.size else 1.0)
    lattice = lattice_of(depth)
    steps = _steps(lattice)
    width, height = steps[1] * lattice.width_m, steps[0] * lattice.height_m
    return SurveyGround(
        lattice,
        in_squares(np.where(counts, sigma**2, 0.0), steps).mean(axis=(1, 3)),
        in_squares(safe.astype(np.float64), steps).min(axis=(1, 3)) > 0,
        width,
        height,
        max(correlation_m, width, height),
        max(spacing_m, width, height),
        sounding_sigma_m**2,
    )


def _steps(lattice: CellLattice) -> tuple[int, int]:
    """Rows and columns of a block, so that blocks are about square and not too many."""
    rows, columns = lattice.shape
    side = max(rows * lattice.height_m, columns * lattice.width_m) / SIDE
    side = max(side, lattice.width_m, lattice.height_m)
    return max(1, round(side / lattice.height_m)), max(1, round(side / lattice.width_m))
