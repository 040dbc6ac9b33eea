"""Moved to `layers.jobs.tables`."""

from layers.jobs.tables import one_table, together

__all__ = ["one_table", "together"]
