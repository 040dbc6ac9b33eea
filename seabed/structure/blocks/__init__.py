"""Grids worked through in blocks: what each sees, where results are kept, who does the work."""
