"""Which of all the drifts to make: the best for each slot, and not all over the same ground."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter

from layers.planning.day.slots import Slot
from layers.planning.drift._candidates import Candidates
from layers.planning.drift._fan import too_many_stopped
from layers.planning.drift._setting import Setting
from layers.planning.ground.proven_lines import setting_for
from seabed.array_types import Floats, Ints, Mask
from seabed.compiled import compiled
from seabed.grid import cell_size

LEFT_AFTER_A_DRIFT: Final = 0.4
"""Share of its worth that ground keeps once it has been drifted.  Common practice, no source:
rested ground fishes again, but not at once."""


Rows = Ints
Refuses = Callable[[int, Rows], Mask]
"""From a slot's number and rows of its candidates to whether each must not be chosen."""

STEP_S: Final = 60.0


def choose(
    slots: Sequence[Candidates],
    worths: Sequence[xr.DataArray],
    *,
    corridor_m: float,
    left: float = LEFT_AFTER_A_DRIFT,
    refuses: Refuses | None = None,
) -> list[int | None]:
    """Choose one drift a slot, greedily by what each adds.

    Each pass over ground lowers what it is still worth to the other slots, so the sum is submodular
    and greedy choice over slots is within half of the best (Fisher, Nemhauser & Wolsey 1978).

    worths: what the candidates of each slot were followed over, all on the cells of one grid.
    corridor_m: half the width of ground that a drift uses up, metres.
    left: from 0 (never again) to 1 (as good as new).
    refuses: asked about candidates that are about to be chosen; the next best comes in place of one
        that is refused.

    Returned: the row of the chosen candidate in each slot; None where no drift is worth anything.
    """
    fresh = np.ones(worths[0].size if worths else 0)
    chosen: list[int | None] = [None] * len(slots)
    trials = {number: _Trial.of(slot) for number, slot in enumerate(slots)}
    gains: dict[int, Floats] = {}
    while trials:
        for number in trials.keys() - gains.keys():
            gains[number] = _gains(slots[number], worths[number], fresh) * trials[number].open
        number = max(gains, key=lambda at: (gains[at].max(initial=0.0), -at))
        if not gains[number].max(initial=0.0) > 0:
            break
        row = int(np.argmax(gains[number]))
        if refuses is not None and not trials[number].tested[row]:
            trials[number].test(gains.pop(number), partial(refuses, number))
            continue
        chosen[number] = row
        del trials[number]
        gains.clear()
        cells = slots[number].tracks.cells[row, : slots[number].last[row] + 1]
        use_up(fresh, cells, worths[number], corridor_m=corridor_m, left=left)
    return chosen


@dataclass(slots=True)
class _Trial:
    """Which candidates of a slot were tested, and which are still open to be chosen."""

    open: Mask
    tested: Mask
    at_once: int = 1

    @classmethod
    def of(cls, candidates: Candidates) -> _Trial:
        many = len(candidates.last)
        return cls(np.ones(many, bool), np.zeros(many, bool))

    def test(self, gains: Floats, refused: Callable[[Rows], Mask]) -> None:
        """Test the best that were not tested; twice as many as the last time.

        By a shoal one start after the other is refused.
        """
        rows = np.argsort(-gains, kind="stable")
        rows = rows[(gains[rows] > 0) & ~self.tested[rows]][: self.at_once]
        self.open[rows] = ~refused(rows)
        self.tested[rows] = True
        self.at_once *= 2


def _gains(candidates: Candidates, worth: xr.DataArray, fresh: Floats) -> Floats:
    """Worth an hour of each candidate on ground that is `fresh` by a share."""
    share = _kept(worth.values.ravel(), candidates.tracks.cells, candidates.last, fresh)
    return candidates.worth_per_hour * share


@compiled
def _kept(worth: NDArray[Any], cells: Ints, last: Ints, fresh: Floats) -> Floats:
    """Share of the worth under each candidate that is left; 0 if there is none."""
    share = np.zeros(len(cells))
    for row in range(len(cells)):
        full = kept = 0.0
        for at in range(last[row] + 1):
            cell = cells[row, at]
            if cell >= 0 and np.isfinite(worth[cell]):
                full += worth[cell]
                kept += worth[cell] * fresh[cell]
        if full > 0:
            share[row] = kept / full
    return share


def refused_by_fan(slots: Sequence[Slot], setting: Setting) -> Refuses:
    """Refuse candidates from whose fan too many boats are stopped, as `too_many_stopped`."""

    def refuses(number: int, rows: Rows) -> Mask:
        slot = slots[number]
        tracks, last = slot.candidates.tracks, slot.candidates.last
        refused = np.zeros(len(rows), bool)
        for which in np.unique(slot.of_line[rows]):
            own = np.flatnonzero(slot.of_line[rows] == which)
            over = setting_for(slot.line_of(rows[own[0]]), setting)
            over = replace(over, limits=replace(over.limits, step_s=STEP_S))
            begins = np.full(len(own), slot.begin)
            printed = over.water.printed(tracks.of(rows[own]), last[rows[own]], begins)
            refused[own] = [too_many_stopped(boats) for boats in over.fans(printed)]
        return refused

    return refuses


def use_up(
    fresh: Floats, cells: Ints, worth: xr.DataArray, *, corridor_m: float, left: float
) -> None:
    """Lower what is left of the ground, flat, within the corridor of a drift."""
    cells = cells[cells >= 0]
    if not len(cells):
        return
    at = np.stack(np.unravel_index(cells, worth.shape))
    radius = max(1, round(corridor_m / cell_size(worth).typical))
    first = np.maximum(at.min(axis=1) - radius, 0)
    beyond = np.minimum(at.max(axis=1) + radius + 1, worth.shape)
    mask = np.zeros(beyond - first, bool)
    mask[tuple(at - first[:, None])] = True
    spread = maximum_filter(mask, size=2 * radius + 1)
    box = tuple(slice(a, b) for a, b in zip(first, beyond, strict=True))
    fresh.reshape(worth.shape)[box][spread] *= left
