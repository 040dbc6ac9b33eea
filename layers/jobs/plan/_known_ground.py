"""The ground of an area: its bottom, charts, structure and scores, kept for the next plan.

A process that plans one day after another, as the desk's does, reads and searches the ground once.
"""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import geopandas as gpd
import xarray as xr

from layers.area import Area
from layers.jobs.parts.scores import read_drifts, score_book
from layers.jobs.parts.structure import (
    Structure,
    find_structure,
    hazards_of,
    open_area_surface,
    search_of,
)
from layers.jobs.progress import Step
from layers.jobs.scout.prospects import Prospects, ranked
from layers.logbook import Logbook
from layers.planning import structure_worth
from layers.scoring import Scores
from seabed.loaders import Surface
from seabed.structure import find_bottom
from seabed.structure.ranking import rank_structure, with_ranks


@dataclass
class KnownGround:
    """What an area's files say of the ground; each part is worked out when it is first asked for.

    step: called with the work that begins.
    fished_worth: of ground by the logbook's lines, by those along which the water runs.
    """

    area: Area
    step: Step = lambda doing: None
    fished_worth: dict[Any, xr.DataArray] = field(default_factory=dict)
    _scores: list[tuple[Any, Scores | None]] = field(default_factory=list)

    @cached_property
    def surface(self) -> Surface:
        """Depths, with their uncertainty."""
        return open_area_surface(self.area)

    @property
    def grid(self) -> xr.DataArray:
        """Depths alone."""
        return self.surface.depth

    @cached_property
    def hazards(self) -> gpd.GeoDataFrame | None:
        """Hazards of the charts; None where no chart is named."""
        return hazards_of(self.area, self.grid)

    @cached_property
    def _searched(self) -> tuple[Structure, Future[Any], Future[xr.DataArray]]:
        """Search the bottom; another thread works out meanwhile what is asked for later."""
        others = ThreadPoolExecutor(1)
        bottom = find_bottom(self.grid, search_of(self.area))
        others.submit(lambda: bottom.axes)
        structure = find_structure(self.grid, self.area, self.step, bottom=bottom)
        score = others.submit(_score_of, structure, self.area)
        around = others.submit(lambda: (bottom.axes, bottom.waves))
        others.shutdown(wait=False)
        return structure, around, score

    @property
    def structure(self) -> Structure:
        """Contours, band, edges, humps and holes."""
        return self._searched[0]

    @cached_property
    def prospects(self) -> Prospects:
        """Structure as a scouting ranks and names it."""
        self._searched[1].result()
        return ranked(
            self.structure, self.area, uncertainty=self.surface.uncertainty, hazards=self.hazards,
            step=self.step,
        )  # fmt: skip

    @property
    def structure_score(self) -> xr.DataArray:
        """Worth of each cell by its band and structure alone."""
        return self._searched[2].result()

    def scores(self, area: Area, *, required: bool = False) -> Scores | None:
        """Score an area's logbook; None without drifts, or without a file unless `required`."""
        path = area.logbook.file
        if path is None or not (required or path.exists()):
            return None
        key = (area, [_stamp(one) for one in (path, area.water.heights, area.water.currents)])
        if not self._scores or self._scores[0][0] != key:
            book = Logbook(path)
            catches, scores = book.catches(), None
            drifts, samples = read_drifts(book, catches)
            if len(drifts):
                scores = score_book(
                    drifts, catches, book.lines(), area, self.structure, samples=samples
                )
            self._scores, self.fished_worth = [(key, scores)], {}
        return self._scores[0][1]


def _score_of(structure: Structure, area: Area) -> xr.DataArray:
    ranking = rank_structure(structure.edges, structure.features, band=area.depths.band_m)
    own = [with_ranks(table, ranking) for table in (structure.edges, structure.features)]
    return structure_worth(structure.grid, area.depths.sought_m, own)


def ground_of(area: Area, step: Step = lambda doing: None) -> KnownGround:
    """Give the ground of an area: the last one again, where its files and settings are the same."""
    files = [*area.grid.files, *area.charts.files]
    sections = area.grid, area.charts, area.depths, area.structure, area.units
    key = (sections, [_stamp(path) for path in files])
    if not _last or _last[0][0] != key:
        _last[:] = [(key, KnownGround(area))]
    ground = _last[0][1]
    ground.step = step
    return ground


_last: list[tuple[Any, KnownGround]] = []


def _stamp(path: Any) -> Any:
    """Tell one state of a file from another."""
    try:
        state = Path(path).stat()
    except (OSError, TypeError):
        return path
    return str(path), state.st_mtime_ns, state.st_size, state.st_ino
