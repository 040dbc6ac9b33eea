"""Quick looks at a water's files, taken in its worker: what pages show before any job is done."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import numpy as np

from layers import jobs
from layers.area import load_area
from layers.jobs.parts.bottom import open_area_surface
from layers.jobs.requests import CheckRequest
from seabed.units import convert

__all__ = ["LOOKS", "depths", "kinds"]

_BINS: Final = 48


def depths(area_file: str) -> dict[str, Any]:
    """Give the histogram of a water's depths, in its own unit.

    Returns
    -------
    dict
        ``unit``; ``edges`` (one more than ``counts``); ``counts`` of cells; ``band`` (two depths)
        or None; ``cells`` that hold a depth.
    """
    area = load_area(area_file)
    values = np.asarray(open_area_surface(area, with_uncertainty=False).depth)
    unit = area.units.depth
    here = values[np.isfinite(values)] * convert(1.0, unit)
    least, most = np.floor(here.min()), np.ceil(here.max())
    counts, edges = np.histogram(here, bins=_BINS, range=(least, max(most, least + 1)))
    band = area.depths.band_m
    return {
        "unit": unit,
        "edges": edges.tolist(),
        "counts": counts.tolist(),
        "band": None if band is None else [convert(depth, unit) for depth in band],
        "cells": int(here.size),
    }


def kinds(files: list[str], area_file: str) -> list[dict[str, Any]]:
    """Say what files are taken for, and what is wrong with them, as `seabed check` does."""
    area = Path(area_file) if Path(area_file).is_file() else None
    checked = jobs.run(CheckRequest(files=tuple(files), area=area)).checked
    return [
        {
            "file": Path(one.file).name,
            "kind": one.kind,
            "facts": {name: str(value) for name, value in one.facts.items() if value},
            "wrong": [[what, do] for what, do in one.wrong],
        }
        for one in checked
    ]


LOOKS: Final[dict[str, Callable[..., Any]]] = {"depths": depths, "kinds": kinds}
"""By the name that an order gives."""
