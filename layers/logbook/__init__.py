"""The season's store: one GeoPackage an area, whole trips only."""

from layers.logbook._entries import Entry, entries_of
from layers.logbook._merging import MergeReport, merge
from layers.logbook._naming import Naming
from layers.logbook._repairing import RepairReport
from layers.logbook._sharing import shared_layers, square_m
from layers.logbook._store import AddReport, Logbook

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
