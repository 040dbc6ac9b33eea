"""What an official vector chart (S-57 cell) holds, counted."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from seabed.grid import Bounds
from seabed.loaders.charts.objects import read_chart_contours, read_chart_soundings, read_hazards


@dataclass(frozen=True, slots=True)
class ChartReport:
    """What a chart cell holds: hazards by our kind, others by class, least and most depth."""

    file: str
    kind: str
    format: str
    hazards: dict[str, int]
    contours: int
    soundings: int
    other_classes: dict[str, int]
    bounds: Bounds | None
    depth_min_m: float
    depth_max_m: float

    def as_dict(self) -> dict[str, Any]:
        """As plain values that JSON can hold: NaN becomes None."""
        counts = asdict(self)
        return {
            key: None if isinstance(value, float) and np.isnan(value) else value
            for key, value in counts.items()
        }


def describe_chart(path: str | Path) -> ChartReport:
    """Say what a chart cell holds; GridError if the file is missing or no S-57 cell."""
    hazards, contours = read_hazards(path), read_chart_contours(path)
    soundings = read_chart_soundings(path)
    depths = soundings["depth_m"]
    edges = [table.total_bounds for table in (hazards, contours, soundings) if len(table)]
    box = None
    if edges:
        low, high = np.min(edges, axis=0), np.max(edges, axis=0)
        box = Bounds(float(low[0]), float(low[1]), float(high[2]), float(high[3]))
    return ChartReport(
        file=str(path),
        kind="chart",
        format="S-57",
        hazards={str(k): int(n) for k, n in hazards["kind"].value_counts().sort_index().items()},
        contours=len(contours),
        soundings=len(soundings),
        other_classes=hazards.attrs["other_classes"],
        bounds=box,
        depth_min_m=float(depths.min()) if len(depths) else float("nan"),
        depth_max_m=float(depths.max()) if len(depths) else float("nan"),
    )
