"""Moved to `layers.jobs.bottom`."""

from layers.jobs.bottom import (
    DEEPEST_M,
    LEAST_CELLS,
    STRUCTURE_STEPS,
    Structure,
    box_of,
    find_structure,
    hazards_of,
    open_area_grid,
    open_area_surface,
    reading_of,
)

__all__ = [
    "DEEPEST_M",
    "LEAST_CELLS",
    "STRUCTURE_STEPS",
    "Structure",
    "box_of",
    "find_structure",
    "hazards_of",
    "open_area_grid",
    "open_area_surface",
    "reading_of",
]
