"""Why a feature has its place in the ranking, in words."""

from __future__ import annotations

import math
from typing import Any, Final

import pandas as pd

from seabed.structure.agreement import Offset
from seabed.structure.ranking import RANKING
from seabed.units import convert, format_quantity

_TILTED: Final = 1.25
"""Times its drop that an edge on sloping ground falls from top to foot."""
_POINTS: Final = (
    "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west",
)  # fmt: skip

ALL: Final = 0.95
FAR_M: Final = 50.0
SHIFTED_M: Final = 20.0
OTHER_DATUM_M: Final = 0.5


def reasons(ranking: pd.DataFrame, *, depth_unit: str = "ft") -> list[str]:
    """Say why, a few plain sentences a row.

    Parameters
    ----------
    ranking : DataFrame
        As `rank_structure` gives it.
    depth_unit : str
        "ft", "fm" or "m".  Distances are in feet for the first two, else in metres.

    Returns
    -------
    list of str

    Examples
    --------
    >>> from seabed import edges, example_grid, humps, rank_structure
    >>> grid, band = example_grid(), (8, 12)
    >>> ranking = rank_structure(edges(grid, band=band), humps(grid), band=band)
    >>> reasons(ranking, depth_unit="m")[0].split(". ")[0]
    'Falls 7.8 m in 41 m, from 6.1 m to 13.9 m, facing east'
    """
    RANKING.check(ranking, *RANKING.names[:-1])
    ground = _ground(depth_unit)
    return [_why(row, depth_unit, ground) for row in ranking.to_dict("records")]


def chart_words(agreement: pd.DataFrame, offset: Offset, *, depth_unit: str = "ft") -> list[str]:
    """Say how a chart's contours and the grid's agree, a sentence a depth; warn where not.

    Warned of: a median of more than 50 m, a shift of more than 20 m, a difference of depth of more
    than 0.5 m. Common practice, no source.
    """
    ground = _ground(depth_unit)
    sentences = [_agreed(row, depth_unit, ground) for row in agreement.to_dict("records")]
    if not sentences:
        return ["The chart and the grid have no contour in common to compare."]
    if (agreement["median_m"] > FAR_M).any():
        sentences.append(
            "Warning: some are far apart. Compare the grid with the chart before you go."
        )
    if offset.shift_m > SHIFTED_M:
        toward = compass(math.degrees(math.atan2(offset.east_m, offset.north_m)) % 360)
        sentences.append(
            f"Warning: as a whole, the chart's lines are {_rounded(offset.shift_m, ground)} "
            f"{toward} of the grid's. One of them may be misplaced."
        )
    if abs(offset.deeper_m) > OTHER_DATUM_M:
        more = "deeper" if offset.deeper_m > 0 else "shallower"
        sentences.append(
            f"Warning: the grid is {_drop(abs(offset.deeper_m), depth_unit)} {more} than the chart "
            "says. They may be measured from different datums, or the bottom has changed."
        )
    return sentences


def _agreed(row: dict[str, Any], depth: str, ground: str) -> str:
    line = f"The chart's {_drop(row['depth_m'], depth)} line"
    if math.isinf(row["median_m"]):
        return f"{line} has none in the grid to compare."
    return (
        f"{line} is {_rounded(row['median_m'], ground)} "
        f"(90 %: {_rounded(row['most_m'], ground)}) from ours."
    )


def _ground(depth_unit: str) -> str:
    return "m" if depth_unit == "m" else "ft"


def compass(degrees: float) -> str:
    """Name the nearest of eight points; ``""`` for NaN."""
    return "" if math.isnan(degrees) else _POINTS[round(degrees / 45) % 8]


def _why(row: dict[str, Any], depth: str, ground: str) -> str:
    sentences = [
        _shape(row, depth, ground),
        _band(row, depth, ground),
        _company(row, ground),
        _waves(row, depth, ground),
        _doubt(row, depth),
        _danger(row, ground),
    ]
    return " ".join(sentence for sentence in sentences if sentence)


def _shape(row: dict[str, Any], depth: str, ground: str) -> str:
    digits = 0 if depth == "ft" else 1  # a foot is fine enough; a metre or a fathom is not
    top, foot = (
        format_quantity(row[name], depth, digits=digits) for name in ("shallow_m", "deep_m")
    )
    drop = _drop(row["drop_m"], depth)
    run = row["drop_m"] / max(math.tan(math.radians(row["slope_deg"])), 1e-6)
    way = _rounded(run, ground)
    if row["kind"] == "hump":
        return f"Rises {drop}, from {foot} to {top}, in {way} on its short side."
    if row["kind"] == "hole":
        return f"Sinks {drop}, from {top} to {foot}, in {way} on its short side."
    on = f", the side of a {row['part_of']}" if row["part_of"] else ""
    faces = compass(row["faces_deg"])
    toward = f", facing {faces}" if faces else ""
    falls = row["deep_m"] - row["shallow_m"]
    more = " more than the ground beside it" if falls > _TILTED * row["drop_m"] else ""
    return f"Falls {drop}{more} in {way}, from {top} to {foot}{toward}{on}."


def _band(row: dict[str, Any], depth: str, ground: str) -> str:
    inside, whole = row["band_length_m"], row["length_m"]
    if math.isnan(inside):
        return ""
    if inside <= 0:
        gap = -math.log(max(row["fit"], 1e-300))
        return f"Not in your band: {_drop(gap, depth)} off it." if gap else "Not in your band."
    all_of_it = inside >= ALL * whole
    if row["kind"] != "edge":  # its length is that of its footprint: what counts is its height
        part = _drop(row["drop_m"] * inside / whole, depth)
        return f"{'All' if all_of_it else part} of its height is in your band."
    if all_of_it:
        return f"It reaches your band along its whole {_rounded(whole, ground)}."
    return (
        f"It reaches your band along {_rounded(inside, ground)} of its {_rounded(whole, ground)}."
    )


def _company(row: dict[str, Any], ground: str) -> str:
    kind = row["nearest_kind"]
    if not kind:
        return ""
    article = "An" if kind.startswith("e") else "A"
    return f"{article} {kind} {_rounded(row['nearest_m'], ground)} off."


def _waves(row: dict[str, Any], depth: str, ground: str) -> str:
    if math.isnan(row["wave_height_m"]):
        return ""
    return (
        f"Sand waves there, {_drop(row['wave_height_m'], depth)} high and "
        f"{_rounded(row['wavelength_m'], ground)} apart."
    )


def _doubt(row: dict[str, Any], depth: str) -> str:
    if math.isnan(row["uncertainty_m"]):
        return ""
    doubt = _drop(row["uncertainty_m"], depth)
    if row["doubtful"]:
        return f"Lower than the grid's own uncertainty of {doubt}: it may not be there."
    return f"The grid's own uncertainty is {doubt}."


def _danger(row: dict[str, Any], ground: str) -> str:
    words = ""
    if row["closed"]:
        words = f"Charted as closed: {row['closed']}. "
    if row["hazard"]:
        name = f" ({row['hazard_name']})" if row["hazard_name"] else ""
        what = f"{row['hazard'].capitalize()}{name}"
        near = "right there" if row["hazard_m"] < 1 else f"{_rounded(row['hazard_m'], ground)} off"
        words += f"Danger: {what} {near}."
    return words.strip()


def _drop(metres: float, unit: str) -> str:
    """Write a difference of depth: with a decimal where it is small."""
    return format_quantity(metres, unit, digits=1 if convert(metres, unit) < 10 else 0)


def _rounded(metres: float, unit: str) -> str:
    """Write a distance to two figures, since it is known no better."""
    value = convert(metres, unit)
    if value >= 1:
        step = 10 ** (math.floor(math.log10(value)) - 1)
        value = round(value / step) * step
    return f"{value:,.0f} {unit}"
