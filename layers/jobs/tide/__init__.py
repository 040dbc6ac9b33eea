"""A day of the water, or its current learned from own drifts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layers.jobs.progress import Progress, ignored
from layers.jobs.requests import TideRequest
from layers.jobs.tide._day_of_tide import TideResult, day_of_tide

if TYPE_CHECKING:
    from layers.jobs.tide._learning import LearnedResult

__all__ = ["TideResult", "run"]


def run(request: TideRequest, progress: Progress = ignored) -> TideResult | LearnedResult:
    """Work out a day of the water; learn its current where tracks are named for that.

    Raises SeabedError if a source can't be read, or the drifts are too few to learn from.
    """
    if not request.learn:
        progress("working out the day", 0.0)
        return day_of_tide(request)
    from layers.jobs.tide._learning import learn

    progress("learning the current", 0.0)
    return learn(request)
