"""Two surveys of one ground: where the bottom filled or was scoured, and what moved."""

from seabed.change._alignment import Alignment
from seabed.change._moves import MOVES
from seabed.change._table import CHANGES
from seabed.change.changes import Changes, changes_since

__all__ = ["CHANGES", "MOVES", "Alignment", "Changes", "changes_since"]
