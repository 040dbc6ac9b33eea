"""The bottom: shore, channel, scarp, banks, humps, a hole, sand waves."""

from __future__ import annotations

import numpy as np
import rasterio
from rasterio.transform import Affine
from scipy.ndimage import map_coordinates

from making.place import CELL, COLUMNS, CRS, HEIGHT, NORTH, RAMP, ROWS, WEST

DATUM = "mean lower low water (invented)"
FEATURES = {
    "humps": [
        {"name": "north hump", "at": (2150.0, 3560.0), "height_m": 2.6, "radius_m": 75.0},
        {"name": "twin hump, west", "at": (2380.0, 2060.0), "height_m": 2.2, "radius_m": 55.0},
        {"name": "twin hump, east", "at": (2600.0, 1990.0), "height_m": 1.8, "radius_m": 50.0},
        {"name": "outer hump", "at": (4880.0, 2620.0), "height_m": 3.0, "radius_m": 90.0},
        {"name": "south hump", "at": (4460.0, 900.0), "height_m": 2.0, "radius_m": 70.0},
    ],
    "hole": {"name": "the kettle", "at": (1960.0, 1150.0), "depth_m": 4.5, "radius_m": 85.0},
}


def channel_centre(north):
    """Easting of the channel's middle, metres from the west edge."""
    return 3150.0 + 420.0 * np.sin(2 * np.pi * (north - 300.0) / 6800.0)


def channel_bearing(north):
    """Direction the channel runs toward in the north, degrees true."""
    slope = 420.0 * 2 * np.pi / 6800.0 * np.cos(2 * np.pi * (north - 300.0) / 6800.0)
    return np.degrees(np.arctan2(slope, 1.0))


def shoreline(north):
    return (
        560.0 + 210.0 * np.sin(north / 760.0) + 90.0 * np.sin(north / 271.0 + 1.0)
        - 260.0 * np.exp(-(((north - RAMP[1]) / 260.0) ** 2))
    )  # fmt: skip


def scarp(north):
    """Easting of the scarp's middle."""
    return channel_centre(north) - 430.0 + 35.0 * np.sin(north / 310.0)


def on_scarp(north, offset=0.0):
    return (float(scarp(north)) + offset, north)


def step(across, middle, width):
    """From 0 to 1 over `width` metres (the steepest slope's width)."""
    return 0.5 * (1 + np.tanh(2 * (across - middle) / width))


def bump(east, north, at, along, across, bearing):
    angle = np.radians(bearing)
    de, dn = east - at[0], north - at[1]
    a = de * np.sin(angle) + dn * np.cos(angle)
    b = de * np.cos(angle) - dn * np.sin(angle)
    return np.exp(-0.5 * ((a / along) ** 2 + (b / across) ** 2))


def roughness(random):
    """Fractal roughness of unit standard deviation, rougher at long wavelengths."""
    ky = np.fft.fftfreq(ROWS, CELL)[:, None]
    kx = np.fft.rfftfreq(COLUMNS, CELL)[None, :]
    k = np.hypot(kx, ky)
    power = np.where(k > 1 / 900.0, np.maximum(k, 1 / 900.0) ** -1.9, 0.0) * np.exp(
        -((k * 26) ** 2)
    )
    field = np.fft.irfft2(
        power * np.fft.rfft2(random.standard_normal((ROWS, COLUMNS))), (ROWS, COLUMNS)
    )
    return field / field.std()


def smooth_bottom(east, north):
    """Depth in metres without roughness and sand waves, at metres from the south-west corner."""
    off_shore = east - shoreline(north)
    flat = 5.5 * (1 - np.exp(-np.maximum(off_shore, -400) / 420.0)) + 0.00005 * off_shore
    centre = channel_centre(north)
    depth = flat + 2.9 * step(east, scarp(north), 46.0)
    trough = np.exp(-(np.abs((east - centre) / 330.0) ** 3.2))
    depth = depth + trough * (6.2 + 1.2 * np.sin(north / 900.0))
    depth = depth - 1.6 * step(east, centre + 560.0, 150.0) - 1.4 * step(east, centre + 990.0, 50.0)
    depth = depth + 2.3 * step(east, 5450.0 - 0.12 * north, 500.0)
    depth = depth - 2.6 * bump(east, north, (5050.0, 1750.0), 420.0, 80.0, 24.0)
    depth = depth - 2.0 * bump(east, north, (1700.0, 2750.0), 300.0, 60.0, 340.0)
    depth = depth - 11.5 * bump(east, north, (5420.0, 4080.0), 300.0, 190.0, 40.0)
    for hump in FEATURES["humps"]:
        r = hump["radius_m"]
        depth = depth - hump["height_m"] * bump(east, north, hump["at"], r, 0.75 * r, 30.0)
    hole = FEATURES["hole"]
    return depth + hole["depth_m"] * bump(east, north, hole["at"], hole["radius_m"], 70.0, 0.0)


def sand_waves(east, north):
    """Crests across the channel's southern reach: wavelength 64 m, height 1.1 m."""
    along = north + 0.12 * (east - channel_centre(north))
    phase = 2 * np.pi * along / 64.0
    where = np.exp(-(np.abs((east - channel_centre(north)) / 240.0) ** 4))
    where = where * step(north, 350.0, 300.0) * (1 - step(north, 1950.0, 400.0))
    return where * (0.5 * np.sin(phase) + 0.05 * np.sin(2 * phase + 0.7))


def make_bottom(random):
    north = HEIGHT - (np.arange(ROWS)[:, None] + 0.5) * CELL
    east = (np.arange(COLUMNS)[None, :] + 0.5) * CELL
    east, north = np.broadcast_arrays(east, north)
    rough = roughness(random)
    depth = smooth_bottom(east, north) + sand_waves(east, north) + 0.26 * rough
    return np.round(depth, 2).astype(np.float32)


def depth_under(bottom, place):
    """Depth of the cell that a place is in; -1 where there is none."""
    depth = float(bottom[int((HEIGHT - place[1]) / CELL), int(place[0] / CELL)])
    return depth if np.isfinite(depth) else -1.0


def depth_between(bottom, place):
    """Depth at a place, in a straight line between the middles of the cells about it."""
    row = (HEIGHT - place[1]) / CELL - 0.5
    column = place[0] / CELL - 0.5
    return float(map_coordinates(bottom, [[row], [column]], order=1, mode="nearest")[0])


def write_grid(folder, bottom):
    profile = {
        "driver": "GTiff", "height": ROWS, "width": COLUMNS, "count": 1, "dtype": "float32",
        "crs": CRS, "transform": Affine(CELL, 0, WEST, 0, -CELL, NORTH), "nodata": -9999.0,
        "compress": "deflate", "predictor": 3, "zlevel": 9, "tiled": True, "blockxsize": 256,
        "blockysize": 256,
    }  # fmt: skip
    with rasterio.open(folder / "sound.tif", "w", **profile) as file:
        file.write(bottom, 1)
        file.set_band_description(1, "depth")
        file.units = ("m",)
        file.update_tags(
            AREA_OR_POINT="Area", vertical_datum=DATUM, positive="down",
            TITLE="Tollivane Sound, an invented place in open ocean. Not for navigation.",
        )  # fmt: skip
