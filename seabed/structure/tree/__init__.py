"""The merge tree of highs and lows, and the outlines of its peaks."""
