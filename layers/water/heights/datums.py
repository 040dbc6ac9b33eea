"""What depths and tide heights are measured from, and whether the two go together."""

from __future__ import annotations

import re
from typing import Any, Final

DATUMS: Final = {
    "MLLW": ("mean lower low water",),
    "MLW": ("mean low water",),
    "MLLWS": ("mean lower low water springs",),
    "MLWS": ("mean low water springs",),
    "LLWLT": ("lower low water large tide",),
    "LAT": ("lowest astronomical tide",),
    "ISLW": ("indian spring low water",),
    "MSL": ("mean sea level",),
    "MTL": ("mean tide level",),
    "MHW": ("mean high water",),
    "MHHW": ("mean higher high water",),
    "MHWS": ("mean high water springs",),
    "HAT": ("highest astronomical tide",),
    "NAVD88": ("navd 88", "north american vertical datum of 1988"),
    "EGM96": ("egm 96",),
    "EGM2008": ("egm 2008",),
}
"""Usual names of datums, by their letters (IHO S-32)."""


def datum_of(name: str) -> str:
    """Give the letters of the datum that a name means; ``""`` where it means none we know.

    >>> datum_of("mean lower low water (chart datum)"), datum_of("MLLW depth"), datum_of("local")
    ('MLLW', 'MLLW', '')
    """
    words = re.sub(r"[\s_-]+", " ", name.casefold())
    spelled = [(word, letters) for letters, others in DATUMS.items() for word in others]
    spelled += [(letters.casefold(), letters) for letters in DATUMS]
    held = [pair for pair in spelled if re.search(rf"\b{re.escape(pair[0])}\b", words)]
    return max(held, default=("", ""), key=lambda pair: len(pair[0]))[1]


def datum_fault(grid_datum: str, heights: Any, *, offset_m: float = 0.0) -> tuple[str, str] | None:
    """Say what is wrong with adding tide heights to a grid's depths, and the cure; None if nothing.

    grid_datum: as the grid or the area file names it; several are separated by semicolons.
    heights: None is the tide at datum all day.
    offset_m: what was added to every depth.
    """
    data = [name.strip() for name in grid_datum.split(";") if name.strip()]
    if not data or any(name.lower() == "unknown" for name in data):
        return (
            "the grid names no vertical datum, so tide heights can't be added safely: depths may "
            "be metres off",
            "Look it up where the file came from, and name it with {grid.vertical_datum}.",
        )
    if len(data) > 1:
        return (
            f"the grids have different vertical datums ({', '.join(data)}), and none was shifted",
            "Bring them to one datum first.",
        )
    depths_from, tide_from = datum_of(data[0]), datum_of(_named_by(heights))
    if depths_from and tide_from and depths_from != tide_from and not offset_m:
        return (
            f"depths are measured from {depths_from} and tide heights from {tide_from}, so water "
            "under the boat is wrong by the difference",
            "Give the difference with {grid.offset}.",
        )
    return None


def _named_by(heights: Any) -> str:
    """Name of the datum that a source of heights is above; ``""`` if it names none."""
    reference = getattr(heights, "reference", heights)
    return str(getattr(reference, "datum", "") or "")
