"""A season of drifts in a current that is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from layers.water import CRAFT, Heights, Leeway, WindTable
from layers.water.stations.harmonics import Harmonics
from layers.water.stations.station import HarmonicHeights

NAMES = ("M2", "S2", "N2", "K1", "O1")
CRAFT_LEEWAY: Leeway = CRAFT["skiff, V-hull"]


@dataclass(frozen=True)
class Season:
    fixes: pd.DataFrame
    drifts: pd.DataFrame
    wind: WindTable
    heights: Heights
    along: Harmonics
    across: Harmonics
    axis_deg: float

    def current(self, times: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        u, v = self.along.value(times), self.across.value(times)
        a = np.radians(self.axis_deg)
        return u * np.sin(a) + v * np.cos(a), u * np.cos(a) - v * np.sin(a)


def season(seed: int, *, outings: int = 10, drifts: int = 8, only_rising: bool = False) -> Season:
    """Ten outings on random days of ninety: quarter-hour drifts, 2 m GPS noise, gusts.

    The wind's speed is wrong by 20 % (one factor an outing).  The current is slightly rotary,
    leads the tide by two to three hours, has daily parts of its own size and a quarter-daily one.
    """
    rng = np.random.default_rng(seed)
    phases = np.array([30.0, 60.0, 10.0, 200.0, 180.0])
    heights = HarmonicHeights(Harmonics(NAMES, np.array([1.0, 0.25, 0.2, 0.12, 0.1]), phases, 1.4))
    lead = np.array([1, 1, 1, 0.5, 0.5]) * rng.uniform(-80, -40)
    along = Harmonics(
        (*NAMES, "M4"),
        np.array([0.55, 0.13, 0.1, 0.05, 0.04, 0.05]),
        np.append(phases + lead, rng.uniform(0, 360)),
        0.03,
    )
    across = Harmonics(NAMES[:3], np.array([0.05, 0.012, 0.01]), (phases + lead + 90)[:3])
    fixes, table, wind = [], [], []
    for day in np.sort(rng.choice(90, outings, replace=False)):
        at = np.datetime64("2031-05-01", "s") + np.timedelta64(
            int(day) * 86400 + int(rng.uniform(8, 14) * 3600), "s"
        )
        blow, from_deg = rng.uniform(1, 6), rng.uniform(0, 360)
        told = max(blow * (1 + 0.2 * rng.standard_normal()), 0.0)
        wind += [(at - np.timedelta64(3600, "s"), told, from_deg)]
        wind += [(at + np.timedelta64(8 * 3600, "s"), told, from_deg)]
        truth = Season(pd.DataFrame(), pd.DataFrame(), None, heights, along, across, seed * 37.0)  # type: ignore[arg-type]
        for number in range(drifts):
            t = (at + np.arange(0, 900, 2).astype("timedelta64[s]")).astype("datetime64[ns]")
            at = at + np.timedelta64(900 + int(rng.uniform(10, 20) * 60), "s")
            if only_rising and np.diff(heights.height_m(t[[0, -1]]))[0] < 0:
                continue
            east, north = truth.current(t)
            gust = np.repeat(rng.normal(0, 0.15, 15), 30)
            push = CRAFT_LEEWAY.velocity(blow * (1 + gust), from_deg)
            x = np.cumsum((east + push[0]) * 2) + rng.normal(0, 2, 450)
            y = np.cumsum((north + push[1]) * 2) + rng.normal(0, 2, 450)
            fixes.append(
                pd.DataFrame(
                    {"time": t, "longitude": -33.4 + x / 77_200, "latitude": 46.2 + y / 111_170}
                )
            )
            table.append(
                {"drift_id": f"{day} #{number}", "trip": str(day), "start": t[0], "end": t[-1]}
            )
    moments, speeds, directions = (np.array(column) for column in zip(*wind, strict=True))
    return Season(
        pd.concat(fixes, ignore_index=True),
        pd.DataFrame(table),
        WindTable(moments.astype("datetime64[ns]"), speeds, directions, longest_gap_hours=12.0),
        heights,
        along,
        across,
        seed * 37.0,
    )
