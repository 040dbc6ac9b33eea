"""Libraries that read binary formats, run in a process of its own with limits and no network."""

from seabed.guarded._asking import APART, ask, begin
from seabed.guarded.errors import ReadingError, damaged, reading

__all__ = ["APART", "ReadingError", "ask", "begin", "damaged", "reading"]
