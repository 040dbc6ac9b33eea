"""The cautions that go on every map, sheet and export."""

from __future__ import annotations

from typing import Final

__all__ = [
    "CAUTIONS",
    "CAUTIONS_SHORT",
    "DRIFT_CAUTION",
    "MARK_CAUTION",
    "NOT_A_CHART",
    "SOUND_CAUTION",
]

NOT_A_CHART: Final = "Not for navigation."
"""What every mark, route and tile says at least."""

CAUTIONS_SHORT: Final = f"{NOT_A_CHART} Estimates from data of unknown age; the skipper decides."

CAUTIONS: Final = (
    f"{NOT_A_CHART} Depths, currents and times are estimates from data of unknown age; the "
    "bottom moves. Check official charts, notices, the weather and local fishing rules; the "
    "skipper decides. A drift in a channel or shipping lane, near rocks, breaking water, cables, "
    "wrecks or a lee shore is dangerous, and a drifting boat is still under way under the "
    "collision regulations: keep a lookout all the time, and show lights from sunset to sunrise "
    "and in fog. Be ashore before lightning and before fog. Wear lifejackets, and the "
    "cut-off cord of the engine while running. Leave the plan ashore with the hour at which you "
    "will be back."
)

DRIFT_CAUTION: Final = f"A drift, not a course to steer. {NOT_A_CHART}"
"""In the notes of each route and mark of a drift."""

MARK_CAUTION: Final = f"From a depth grid, not a chart. {NOT_A_CHART}"
"""In the notes of each mark and track of the bottom."""

SOUND_CAUTION: Final = f"A line to sound, over water that may be shoal. {NOT_A_CHART}"
"""In the notes of each route and mark of a line to sound."""
