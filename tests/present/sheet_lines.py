"""A sheet of invented lines over an invented slope."""

from __future__ import annotations

import numpy as np
import xarray as xr
from affine import Affine
from pyproj import Transformer
from shapely.geometry import LineString

from layers.present.sheet.content import Sheet, SheetLine, TideCurve
from layers.present.sheet.ground_plan import ground_plan
from layers.present.sheet.pictures import MAP_SIZE
from seabed.grid import make_grid

START, END = (-33.4100, 46.19), (-33.4101, 46.1925)
START_WORDS, END_WORDS = "46°11.400'N 033°24.600'W", "46°11.550'N 033°24.606'W"  # by hand
TO_DEGREES = Transformer.from_crs(32624, 4326, always_xy=True)


def plane_grid() -> xr.DataArray:
    """A slope of 1 m in 100 m to the east, from 5 m; 10 m cells, UTM 24 north; land in a corner."""
    x = np.arange(160) * np.ones((120, 1))
    depth = 5 + (x + 0.5) * 0.1
    depth[:30, :30] = np.nan
    return make_grid(
        depth, transform=Affine(10, 0, 620000, 0, -10, 5118000), crs="EPSG:32624", source="invented"
    )


def degrees(*points: tuple[float, float]) -> LineString:
    return LineString([TO_DEGREES.transform(x, y) for x, y in points])


LINE = degrees((620700, 5117600), (620700, 5117200))


def line_of(name: str = "P1", **more: object) -> SheetLine:
    given: dict[str, object] = {
        "name": name,
        "when": "07:00 to 07:45",
        "start": START,
        "end": END,
        "facts": ["352°T, 0.15 nm, 12 min at 0.7 kn, 2 passes", "20 to 25 ft; motor 0.3 kn"],
        "profile": [(0.0, 20.0), (100.0, 25.0), (280.0, 21.0)],
        "latest": "07:20",
        "band": (18.0, 24.0),
        "ground": ground_plan(plane_grid(), LINE, shape=MAP_SIZE, unit="ft"),
        "before": ["06:52  run to P1, 1.9 nm toward 080°T"],
        **more,
    }
    return SheetLine(**given)  # type: ignore[arg-type]


def sheet_of(count: int = 1, title: str = "Hollow Reach", **more: object) -> Sheet:
    hours = np.arange(4, 15, 0.25)
    given: dict[str, object] = {
        "title": title,
        "water": "Wind 8 kn from 225°T at 07:00",
        "depth_unit": "ft",
        "lines": [line_of(f"P{n}") for n in range(1, count + 1)],
        "tide": TideCurve(
            hours.tolist(), (4 - 3 * np.cos((hours - 6.6) / 2)).tolist(), [(7.0, 7.75, "P1")],
            [(6.6, 1.0, "Low 06:36, 1.0 ft")],
        ),
        "after": ["11:24  run home, 2.1 nm toward 231°T"],
        "what_if": [("If an hour late", "plan again"), ("If wind veers 45°", "keep to the plan"),
                    ("If wind freshens", "keep to the plan")],
        **more,
    }  # fmt: skip
    return Sheet(**given)  # type: ignore[arg-type]
