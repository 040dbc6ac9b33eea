"""The cautions that go on every map, sheet and export."""

from __future__ import annotations

from typing import Final

__all__ = ["CAUTIONS", "CAUTIONS_SHORT"]

CAUTIONS_SHORT: Final = (
    "Not for navigation. Estimates from data of unknown age; the skipper decides."
)

CAUTIONS: Final = (
    "Not for navigation. Depths, currents and times are estimates from data of unknown age; the "
    "bottom moves. Check official charts, notices, the weather and local fishing rules; the "
    "skipper decides. A drift in a channel or shipping lane, near rocks, breaking water, cables, "
    "wrecks or a lee shore is dangerous, and a drifting boat is still under way under the "
    "collision regulations."
)
