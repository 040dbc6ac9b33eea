"""Two surveys of one ground: where the bottom filled or was scoured, and what moved."""

from seabed.change._alignment import Alignment as Alignment
from seabed.change._moves import MOVES as MOVES
from seabed.change._table import CHANGES as CHANGES
from seabed.change.changes import Changes as Changes
from seabed.change.changes import changes_since as changes_since
