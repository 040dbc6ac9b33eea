"""A cut across a feature: depth against distance, with the band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from layers.present.looks import BLACK, MARKS, grey, tint
from layers.present.pictures.drawing import (
    Box,
    Drawing,
    Part,
    Placing,
    Stroke,
    Words,
    known_runs,
    ticks,
)
from seabed.units import LENGTH, convert

WIDE, HIGH = 420.0, 190.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, WIDE - 8.0, 22.0, HIGH - 40.0
SIZE: Final = 15.0


@dataclass(frozen=True, slots=True)
class Cut:
    """A depth profile as of `across_edges`; `ends` are what is to the left and right."""

    offset_m: Sequence[float]
    depth_m: Sequence[float]
    mean_m: Sequence[float]
    spread_m: Sequence[float]
    ends: tuple[str, str]


def cut_picture(cut: Cut, band_m: tuple[float, float] | None, unit: str) -> Drawing | None:
    """Draw the depth, the mean and spread of cuts beside it, the band; None below two depths."""
    offset, depth, mean, spread = (
        np.array(values, np.float64)
        for values in (cut.offset_m, cut.depth_m, cut.mean_m, cut.spread_m)
    )
    known = depth[np.isfinite(depth)]
    if len(known) < 2:
        return None
    around = np.concatenate([mean - spread, mean + spread])
    low, high = _frame(np.concatenate([known, around[np.isfinite(around)]]), band_m)
    x, y = Placing(offset[0], offset[-1], LEFT, RIGHT), Placing(low, high, TOP, BOTTOM)
    parts: list[Part] = []
    if band_m is not None:
        top, bottom = (float(y.inside(end)) for end in band_m)
        parts.append(Box(LEFT, top, RIGHT - LEFT, bottom - top, tint(MARKS["band"].colour, 0.6)))
    for shown in ticks(convert(low, unit), convert(high, unit), least=0.5):
        at = float(y(shown * LENGTH[unit]))
        parts.append(Stroke([(LEFT, at), (RIGHT, at)], 1, grey(0.73)))
        parts.append(Words(LEFT - 5, at + 4.5, f"{shown:g}", SIZE, "end"))
    sure = np.isfinite(mean) & np.isfinite(spread)
    rims = [y.inside(mean[sure] + sign * spread[sure]).tolist() for sign in (-1, 1)]
    across = x(offset[sure]).tolist()
    rim = [*zip(across, rims[0], strict=True), *zip(across[::-1], rims[1][::-1], strict=True)]
    parts.append(Stroke(rim, 0, fill=BLACK, opacity=0.16))
    parts += [Stroke(points, 2.5) for points in known_runs(x(offset), y.inside(depth))]
    middle = float(x(0.0))
    ground = "m" if unit == "m" else "ft"
    reach = f"{convert(float(offset[-1]), ground):,.0f} {ground}"
    parts += [
        Stroke([(middle, TOP), (middle, BOTTOM)], 1, dash=(3, 4)),
        Words(LEFT, 14, unit if band_m is None else f"{unit}, your band shaded", SIZE),
        Words(LEFT, HIGH - 22, reach, SIZE),
        Words(middle, HIGH - 22, "0", SIZE, "middle"),
        Words(RIGHT, HIGH - 22, reach, SIZE, "end"),
        Words(LEFT, HIGH - 5, cut.ends[0], SIZE),
        Words(RIGHT, HIGH - 5, cut.ends[1], SIZE, "end"),
    ]
    ends = [f"{convert(float(known[at]), unit):.0f}" for at in (0, -1)]
    return Drawing(WIDE, HIGH, parts, f"Depth across it, from {ends[0]} to {ends[1]} {unit}", "px")


def _frame(known: NDArray[np.float64], band: tuple[float, float] | None) -> tuple[float, float]:
    """Give depths at the top and bottom: the profile's, and those of the band that are near."""
    low, high = float(known.min()), float(known.max())
    room = max(high - low, 1.0)
    if band is not None:
        low = min(low, max(band[0], low - room / 2))
        high = max(high, min(band[1], high + room / 2))
    return low - 0.05 * room, max(high, low + 1.0) + 0.05 * room
