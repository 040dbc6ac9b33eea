"""The water: the height of tide and the current, by five constituents."""

from __future__ import annotations

import numpy as np

from making.bottom import channel_bearing, shoreline

# name: (period in hours, height amplitude m, current amplitude m/s, phase in hours)
TIDES = {
    "M2": (12.4206012, 0.95, 0.56, 3.1),
    "S2": (12.0, 0.27, 0.15, 4.0),
    "N2": (12.6583482, 0.19, 0.10, 2.2),
    "K1": (23.9344696, 0.09, 0.03, 8.0),
    "M4": (6.2103006, 0.06, 0.05, 1.0),
}
MEAN_LEVEL_M = 1.35
CURRENT_LEADS_HOURS = 2.1  # greatest flood comes this long before high water
SHORE_LEAD_HOURS = 0.5  # water near the shore turns earlier by this


def height_at(h):
    """Height of tide over datum, metres, at hours from EPOCH."""
    return MEAN_LEVEL_M + sum(
        a * np.cos(2 * np.pi * (h - g) / period) for period, a, _, g in TIDES.values()
    )


def stream_at(h):
    """Speed along the flood's direction in mid-channel, m/s, at hours from EPOCH."""
    h = np.asarray(h) + CURRENT_LEADS_HOURS
    return sum(u * np.cos(2 * np.pi * (h - g) / period) for period, _, u, g in TIDES.values())


def current_at(h, east, north, depth):
    """East and north, m/s: along the channel, slower and earlier over the flats."""
    h, east, north, depth = np.broadcast_arrays(h, east, north, depth)
    near = np.exp(-np.maximum(east - shoreline(north), 0) / 700.0)
    share = np.clip((np.maximum(depth, 0.3) / 11.0) ** 0.55, 0.2, 1.15)
    speed = share * stream_at(h + SHORE_LEAD_HOURS * near)
    bearing = np.radians(channel_bearing(north))
    return speed * np.sin(bearing), speed * np.cos(bearing)
