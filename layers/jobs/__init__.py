"""The jobs: a request in, a result and its files out, whichever door asks for it.

`layers.jobs.requests` says what can be asked of each.  `run` computes, writes the results into a
folder and gives them back; it prints nothing.

Examples
--------
>>> from layers import jobs
>>> from layers.jobs.requests import TideRequest
>>> water = jobs.run(TideRequest(currents="0.8 kn toward 40", date="2031-06-14"))
>>> water.notes[0]
'No tide heights are named. Give {water.heights}.'
"""

from __future__ import annotations

import errno
from dataclasses import replace
from importlib import import_module
from typing import Any

from layers.jobs.options import Request
from layers.jobs.parts.outputs import consent
from layers.jobs.progress import Cancelled, Progress, ignored
from layers.jobs.result import Result
from seabed.errors import SeabedError
from seabed.files import together

__all__ = ["Cancelled", "Progress", "Request", "run"]


def run(request: Request, progress: Progress = ignored) -> Any:
    """Do the job that a request is for.

    Parameters
    ----------
    request : from `layers.jobs.requests`
    progress : callable, optional
        Called with what is done now and the share that is done; it may raise `Cancelled`.

    Returns
    -------
    layers.jobs.result.Result
        Of the job's own kind: `layers.jobs.scout.ScoutResult` for a `ScoutRequest`.

    Raises
    ------
    SeabedError
        If the input has a problem that the user can fix.  Files that no earlier run made are
        written over only if the request has ``replace``.  The results take their places together,
        at the end: an error leaves those of an earlier run as they were.
    Cancelled
        If `progress` raises it.
    """
    name = type(request).__name__.removesuffix("Request").lower()
    from seabed.guarded import begin  # only when one is run

    if hasattr(request, "grid"):
        begin("raster", "vector")  # grids and charts; they load while the job does
    from layers.jobs.parts.settings import answers_of, keep_answers

    answers = answers_of(request)
    try:
        with consent(bool(getattr(request, "replace", False))), together(wait=name != "demo"):
            result: Result = import_module(f"layers.jobs.{name}").run(request, progress)
    except OSError as error:
        if error.errno != errno.ENAMETOOLONG:
            raise
        what = "this name is longer than the system allows"
        raise SeabedError(what, file=error.filename, do="Give a shorter one.") from error
    if answers:
        kept = keep_answers(getattr(request, "area"), answers)  # noqa: B009  (not all have one)
        result = replace(result, notes=(*result.notes, kept))
    return result
