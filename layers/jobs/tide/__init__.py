"""A day of the water, or its current learned from own drifts."""

from __future__ import annotations

from layers.jobs.progress import Progress, ignored
from layers.jobs.requests import TideRequest
from layers.jobs.tide._day_of_tide import TideResult, day_of_tide
from layers.jobs.tide._learning import LearnedResult, learn

__all__ = ["LearnedResult", "TideResult", "run"]


def run(request: TideRequest, progress: Progress = ignored) -> TideResult | LearnedResult:
    """Work out a day of the water; learn its current where tracks are named for that.

    Raises
    ------
    SeabedError
        If a source can't be read, or the drifts are too few to learn from.
    """
    progress("learning the current" if request.learn else "working out the day", 0.0)
    return learn(request) if request.learn else day_of_tide(request)
