"""A day of water: rows by the hour, sun, limits, and how they are shown."""
