"""Noise: how much there is, doubtful soundings, and the ground without either."""
