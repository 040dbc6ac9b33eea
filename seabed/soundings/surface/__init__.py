"""A depth grid from soundings, with its uncertainty, and merged onto another."""
