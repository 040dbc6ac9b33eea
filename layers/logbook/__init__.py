"""The season's store: one GeoPackage an area, whole trips only."""

from layers.logbook.entries import Entry, entries_of
from layers.logbook.merging import MergeReport, merge
from layers.logbook.naming import Naming
from layers.logbook.repairing import RepairReport
from layers.logbook.sharing import shared_layers, square_m
from layers.logbook.store import AddReport, Logbook

__all__ = [
    "AddReport",
    "Entry",
    "Logbook",
    "MergeReport",
    "Naming",
    "RepairReport",
    "entries_of",
    "merge",
    "shared_layers",
    "square_m",
]
