"""The season's store: one GeoPackage an area, whole trips only."""

from layers.logbook._entries import Entry as Entry
from layers.logbook._entries import entries_of as entries_of
from layers.logbook._merging import MergeReport as MergeReport
from layers.logbook._merging import merge as merge
from layers.logbook._naming import Naming as Naming
from layers.logbook._repairing import RepairReport as RepairReport
from layers.logbook._store import AddReport as AddReport
from layers.logbook._store import Logbook as Logbook
