"""What a skipper should know of a grid before its structure: noise, scale, depths worth a band."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from layers.area import Area
from layers.jobs.parts.structure import Structure
from layers.jobs.parts.words import counted
from seabed.array_types import Floats
from seabed.structure.contours import round_levels
from seabed.units import LENGTH, convert, format_quantity

USUAL_SCALE_M: Final = 20.0
_LEAST_NOISE_M: Final = 0.02
_BAR: Final = 30
_BANDS: Final = 3
_WIDE: Final = 2
"""Steps of the histogram that a band is wide."""


def ground_words(structure: Structure, area: Area) -> Iterator[str]:
    """Say what was made of coarse cells, noise and lone soundings."""
    bottom, unit = structure.bottom, area.units.depth
    whole = bottom.whole
    scale_m = bottom.kinds["edges"].limits(whole).scale_m  # type: ignore[attr-defined]
    wanted = area.structure.edge_scale_m
    if scale_m != (USUAL_SCALE_M if wanted is None else wanted):
        yield (
            f"The cells are {format_quantity(whole.size.typical, 'm')}: edges are searched at a "
            f"scale of {format_quantity(scale_m, 'm')}."
        )
    levels = whole.field.levels
    if levels[-1] >= _LEAST_NOISE_M:
        least, most = (format_quantity(one, unit, digits=2) for one in (levels[0], levels[-1]))
        much = least if least == most else f"{least} in the best parts to {most} in the worst"
        yield (
            f"The depths have noise of {much}; humps, holes and contours are those of the ground "
            "without it."
        )
    if left_out := getattr(structure.contours, "attrs", {}).get("left_out"):
        yield f"Left out: {counted(left_out, 'contour line')} made by noise alone."
    if count := len(bottom.doubtful):
        yield (
            f"{counted(count, 'doubtful sounding')}, far off the ground around: not ranked, but "
            "each may be a rock. They are in doubtful_soundings.csv."
        )


def histogram(structure: Structure, area: Area) -> tuple[Floats, Floats]:
    """Give the ends of round steps of depth, metres, and the share of the water in each."""
    values = structure.bottom.overview.values
    known = values[np.isfinite(values)].astype(float)
    unit_m = LENGTH[area.units.depth]
    if not len(known):
        return np.zeros(1), np.zeros(0)
    low, high = np.quantile(known, [0.002, 0.998])
    levels = np.array(round_levels(low, high, unit_m=unit_m))
    step = float(np.diff(levels).min()) if len(levels) > 1 else max(high - low, unit_m)
    first = np.floor(known.min() / step) if len(levels) < 2 else levels[0] / step - 1
    ends = step * np.arange(round(first), np.ceil(high / step) + 1)
    counts, _ = np.histogram(known.clip(ends[0], ends[-1]), ends)
    return ends, counts / len(known)


def worthwhile_bands(structure: Structure, ends: Floats) -> list[tuple[float, float, float]]:
    """Give bands two steps wide that hold most length of edges: ends and that length, metres."""
    edges = structure.edges
    top, foot = edges["top_depth_m"].to_numpy(), edges["foot_depth_m"].to_numpy()
    length = edges["length_m"].to_numpy()
    bands = []
    for low, high in zip(ends[:-_WIDE], ends[_WIDE:], strict=True):
        inside = np.clip(np.minimum(foot, high) - np.maximum(top, low), 0, None)
        bands.append((low, high, float((length * inside / np.maximum(foot - top, 1e-9)).sum())))
    best: list[tuple[float, float, float]] = []
    for band in sorted(bands, key=lambda one: -one[2]):
        apart = all(band[1] <= other[0] or band[0] >= other[1] for other in best)
        if band[2] > 0 and apart:
            best.append(band)
    return best[:_BANDS]


def band_words(structure: Structure, area: Area) -> Iterator[str]:
    """Show the depths of a grid and the bands that would be worth asking for, if none is."""
    if area.depths.band_m is not None:
        return
    unit = area.units.depth
    ends, shares = histogram(structure, area)
    shown = [f"{convert(float(end), unit):g}" for end in np.round(ends, 6)]
    wide = max((len(word) for word in shown), default=0)
    yield "No depth band is set. How much of the water is at which depth:"
    for low, high, part in zip(shown[:-1], shown[1:], shares, strict=True):
        bar = "#" * round(_BAR * part / shares.max())
        yield f"  {low:>{wide}}-{high:<{wide}} {unit} {part:>4.0%} {bar}"
    best = [
        f'"{convert(low, unit):g}-{convert(high, unit):g} {unit}"'
        for low, high, _ in worthwhile_bands(structure, ends)
    ]
    if best:
        yield f"Most edges are in these bands: {', '.join(best)}."
