"""The ground of an area as a plan knows it: with scores and worth, kept for the next plan."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import geopandas as gpd
import xarray as xr

from layers.area import Area
from layers.jobs.parts.area_ground import AreaGround, area_ground, stamp_of
from layers.jobs.parts.scores import read_drifts, score_book
from layers.jobs.parts.structure import Structure
from layers.jobs.progress import Step
from layers.jobs.scout.prospects import Prospects, ranked
from layers.logbook import Logbook
from layers.planning import structure_worth
from layers.scoring import Scores
from seabed.structure.ranking import rank_structure, with_ranks


@dataclass
class KnownGround:
    """What is known of an area's ground; each part is worked out when it is first asked for.

    found: what its files show.
    fished_worth: of ground by the logbook's lines, by those along which the water runs.
    """

    found: AreaGround
    fished_worth: dict[Any, xr.DataArray] = field(default_factory=dict)
    _scores: list[tuple[Any, Scores | None]] = field(default_factory=list)

    @property
    def grid(self) -> xr.DataArray:
        """Depths alone."""
        return self.found.grid

    @property
    def hazards(self) -> gpd.GeoDataFrame | None:
        """Hazards of the charts; None where no chart is named."""
        return self.found.hazards

    @property
    def structure(self) -> Structure:
        """Contours, band, edges, humps and holes."""
        return self._searched[0]

    @cached_property
    def _searched(self) -> tuple[Structure, Future[Any], Future[xr.DataArray]]:
        """Search the bottom; another thread works out meanwhile what is asked for later."""
        others, bottom = ThreadPoolExecutor(1), self.found.bottom
        others.submit(lambda: bottom.axes)
        structure = self.found.structure
        score = others.submit(_score_of, structure, self.found.area)
        around = others.submit(lambda: (bottom.axes, bottom.waves))
        others.shutdown(wait=False)
        return structure, around, score

    @cached_property
    def prospects(self) -> Prospects:
        """Structure as a scouting ranks and names it."""
        self._searched[1].result()
        return ranked(
            self.structure, self.found.area, uncertainty=self.found.surface.uncertainty,
            hazards=self.hazards, step=self.found.step,
        )  # fmt: skip

    @property
    def structure_score(self) -> xr.DataArray:
        """Worth of each cell by its band and structure alone."""
        return self._searched[2].result()

    def scores(self, area: Area, *, required: bool = False) -> Scores | None:
        """Score an area's logbook; None without drifts, or with nothing in it unless `required`."""
        path = area.logbook.file
        if path is None:
            return None
        book, water = Logbook(path), area.water
        if book.is_new and not required:
            return None
        files = path, water.heights, water.currents, water.station_currents
        key = (area, [stamp_of(one) for one in files])
        if not self._scores or self._scores[0][0] != key:
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
    found = area_ground(area, step)
    if not _last or _last[0].found is not found:
        _last[:] = [KnownGround(found)]
    return _last[0]


_last: list[KnownGround] = []
