"""Moved to `layers.jobs.outputs`."""

from layers.jobs.outputs import files_of, keep_apart, keep_inputs, same_file

__all__ = ["files_of", "keep_apart", "keep_inputs", "same_file"]
