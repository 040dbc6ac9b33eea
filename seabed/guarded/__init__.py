"""Libraries that read binary formats, run in a process of its own with limits and no network."""

from seabed.guarded._asking import ask, begin
from seabed.guarded.errors import ReadingError, damaged, reading

__all__ = ["ReadingError", "ask", "begin", "damaged", "reading"]
