"""The plan for a day: which drift in which slot of the tide."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Final

import geopandas as gpd
import numpy as np
import xarray as xr

from layers.planning.day._covering import Cover
from layers.planning.day._laying import Laid, lay_day
from layers.planning.day._passes import PassFans, Place
from layers.planning.day.beside import Beside
from layers.planning.day.choice import LEFT_AFTER_A_DRIFT, choose, refused_by_fan
from layers.planning.day.line import PASSES, PLAN
from layers.planning.day.plan import RUNS, Plan, Telling, plan_of
from layers.planning.day.reasons import Landmarks
from layers.planning.day.slots import (
    SLOT_S,
    WHOLE_SPAN_S,
    Slot,
    WorthAt,
    slots_of_day,
    to_be_covered,
)
from layers.planning.drift._setting import Setting
from layers.planning.ground.fished import FISHED_LINES
from layers.planning.ground.proven_lines import ProvenLine
from layers.planning.runs._runs import Runs
from seabed.schema import documented
from seabed.units import Say, in_metres

STRUCTURE_SCORE: Final = "structure score"


@documented(PLAN, PASSES, RUNS)
def plan_day(
    setting: Setting,
    worth: xr.DataArray | WorthAt,
    start: np.datetime64,
    end: np.datetime64,
    *,
    slot_s: float = SLOT_S,
    spacing_m: float = 40.0,
    corridor_m: float = 40.0,
    stretches: gpd.GeoDataFrame | None = None,
    structure: Callable[[], Landmarks] | None = None,
    worth_kind: str = STRUCTURE_SCORE,
    say: Say = in_metres,
    slots: list[Slot] | None = None,
    left: float = LEFT_AFTER_A_DRIFT,
    proven: Sequence[ProvenLine] = (),
    runs: Runs | None = None,
    home: Place | None = None,
    beside: Beside | None = None,
    cover: bool = False,
) -> Plan:
    """Lay one drift in each slot from `start` to `end`, in the order the tide wants.

    Parameters
    ----------
    setting : Setting
    worth : DataArray or callable
        Worth of an hour over each cell (`structure_worth`, or expected fish for a rod-hour), on the
        cells of the setting's grid; or a function that gives it for a UTC moment.
    start, end : datetime64
        UTC.
    slot_s : float
        Seconds spent on one line before the next; the last slot and its drift end by `end`, and
        there is none where that leaves less than the shortest drift.
    spacing_m : float
        Metres between the starts that are tried.
    corridor_m : float
        Half width of ground one line uses up, and of a hot stretch.
    stretches : GeoDataFrame, optional
        From `layers.scoring.stretches.hot_stretches`: the hot ones count for more while the water
        runs over them as it did when they paid, so that drifts are shortened to them.
    structure : callable, optional
        Gives what to name in ``why``, once all is laid.
    worth_kind : str
        What ``worth`` is, for the reader.
    say : callable
        Writes lengths in ``why``.
    slots : list of Slot, optional
        `slots_of_day`, if they are at hand.
    left : float
        As `choose`.
    proven : sequence of ProvenLine
        From `proven_lines`: drifted again, where the tide runs as it did then, in the water that
        their drifts showed.  Not asked for with `slots`.

    runs : Runs, optional
        If they are at hand.
    home : (longitude, latitude), optional
        Where the boat comes from and goes to.
    beside : Beside, optional
        Passes that take turns with those of a line.
    cover : bool
        Whether each line has one pass, over ground not yet passed before other ground
        (`layers.planning.day._covering`); `slots` are then whole spans of open hours.  By a
        logbook's lines, slots in which none of them runs are covered so.

    Returns
    -------
    Plan
        Three tables, EPSG:4326, in order of time, times UTC; no line gives empty ones.  Lines, as
        their first passes but for the depths (least and greatest of all passes) and the worth
        (their mean):

        {plan}

        Passes, in the water under the boat then, and the boats of a fan that hold their trim:

        {passes}

        Runs, as `layers.planning.runs._runs.Run`:

        {runs}

    Raises
    ------
    SeabedError
        As `slots_of_day`.

    Examples
    --------
    >>> import numpy as np
    >>> from layers.planning import DayWater, DriftLimits, SafeWater, structure_worth
    >>> from layers.water.sources import parse_current
    >>> from layers import leeway_of
    >>> from seabed import example_grid
    >>> grid, band = example_grid(), (5.0, 8.0)
    >>> water = DayWater(parse_current("0.5 kn toward 0"), leeway_of("skiff, V-hull"))
    >>> limits = DriftLimits(shortest_s=240.0, longest_s=600.0)
    >>> setting = Setting(SafeWater.of(grid, None, None), water, band, limits)
    >>> start = np.datetime64("2031-06-14T08:00", "ns")
    >>> worth = structure_worth(grid, band, [])
    >>> plan = plan_day(setting, worth, start, start + np.timedelta64(1, "h"))
    >>> plan.lines["bearing_deg"].round(0).tolist()
    [0.0, 0.0]
    """
    if slots is None:
        slots = slots_of_day(
            setting, worth, start, end, slot_s=WHOLE_SPAN_S if cover else slot_s,
            spacing_m=spacing_m, stretches=stretches, corridor_m=corridor_m, proven=proven,
        )  # fmt: skip
    new_ground = [cover or (worth_kind == FISHED_LINES and not slot.proven) for slot in slots]
    slots = to_be_covered(slots, new_ground)
    chosen_in = partial(_chosen, setting=setting, corridor_m=corridor_m, left=left)
    of_lines = iter(chosen_in([slot for slot in slots if not slot.to_cover]))
    chosen = [None if slot.to_cover else next(of_lines) for slot in slots]
    lay = partial(
        lay_day, slots, chosen, setting,
        runs or Runs.of(setting.safe, running_mps=setting.limits.running_mps),
        choose_in=lambda slot: chosen_in([slot])[0], home=home,
        cover=Cover(setting, corridor_m),
    )  # fmt: skip
    fans = PassFans(as_they_come=cover)
    laid = _agreed(lay, fans)
    if beside is not None:
        at = beside.number_of([line.again_of for line in laid.lines])
        laid = _agreed(partial(lay, beside=(at, beside.ways)), fans)
    named = None if structure is None else structure()
    return plan_of(laid, Telling(named, say, worth_kind, corridor_m), fans, beside)


def _agreed(lay: Callable[..., Laid], fans: PassFans) -> Laid:
    """Lay a day again and again, until no pass is left that its fan refuses."""
    while True:
        laid = lay(refuses=fans.refuses)
        if fans.agree(one for line in laid.lines for _, one in line.passes):
            return laid


def _chosen(
    slots: Sequence[Slot], *, setting: Setting, corridor_m: float, left: float
) -> list[int | None]:
    return choose(
        [slot.candidates for slot in slots], [slot.worth for slot in slots],
        corridor_m=corridor_m, left=left, refuses=refused_by_fan(slots, setting),
    )  # fmt: skip
