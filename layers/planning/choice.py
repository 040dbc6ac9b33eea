"""Which of all the drifts to make: the best for each slot, and not all over the same ground."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter

from layers.planning.candidates import Candidates
from seabed.grid import cell_size

__all__ = ["LEFT_AFTER_A_DRIFT", "choose"]

LEFT_AFTER_A_DRIFT: Final = 0.4
"""Share of its worth that ground keeps for a later slot once it has been drifted.  Common practice,
no source: rested ground fishes again, but not at once."""


def choose(
    slots: Sequence[Candidates],
    worths: Sequence[xr.DataArray],
    *,
    corridor_m: float,
    left: float = LEFT_AFTER_A_DRIFT,
) -> list[int | None]:
    """Choose one drift a slot, greedily by what each adds.

    Each pass over ground lowers what it is still worth to the other slots, so the sum is submodular
    and greedy choice over slots is within half of the best (Fisher, Nemhauser & Wolsey 1978).

    Parameters
    ----------
    slots : sequence of Candidates
    worths : sequence of DataArray
        What the candidates of each slot were followed over, all on the cells of one grid.
    corridor_m : float
        Half the width of ground that a drift uses up, metres.
    left : float
        From 0 (never again) to 1 (as good as new).

    Returns
    -------
    list of int or None
        The row of the chosen candidate in each slot; None where no drift is worth anything.
    """
    fresh = np.ones(worths[0].size if worths else 0)
    chosen: list[int | None] = [None] * len(slots)
    open_slots = set(range(len(slots)))
    while open_slots:
        best = {slot: _best(slots[slot], worths[slot], fresh) for slot in open_slots}
        slot = max(best, key=lambda at: (best[at][1], -at))
        row, gain = best[slot]
        if gain <= 0:
            break
        chosen[slot] = row
        open_slots.remove(slot)
        fresh *= np.where(_corridor(slots[slot], row, worths[slot], corridor_m), left, 1.0)
    return chosen


def _best(
    candidates: Candidates, worth: xr.DataArray, fresh: NDArray[np.float64]
) -> tuple[int, float]:
    """Row and worth an hour of the best candidate on ground that is `fresh` by so much."""
    if not len(candidates.last):
        return 0, 0.0
    values = worth.values.ravel()
    used = np.arange(candidates.cells.shape[1]) <= candidates.last[:, None]
    here = np.where(used & (candidates.cells >= 0), np.nan_to_num(values[candidates.cells]), 0.0)
    full = here.sum(axis=1)
    kept = (here * fresh[candidates.cells]).sum(axis=1)
    gain = candidates.worth_per_hour * np.divide(
        kept, full, out=np.zeros_like(full), where=full > 0
    )
    row = int(np.argmax(gain))
    return row, float(gain[row])


def _corridor(
    candidates: Candidates, row: int, worth: xr.DataArray, corridor_m: float
) -> NDArray[np.bool_]:
    """Flat mask of the cells within the corridor of a drift."""
    cells = candidates.cells[row, : candidates.last[row] + 1]
    mask = np.zeros(worth.size, bool)
    mask[cells[cells >= 0]] = True
    radius = max(1, round(corridor_m / cell_size(worth).typical))
    spread: NDArray[np.bool_] = maximum_filter(mask.reshape(worth.shape), size=2 * radius + 1)
    return spread.ravel()
