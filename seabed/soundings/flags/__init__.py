"""Soundings that are not the bottom, flagged; none is taken out."""
