"""Draws what the numbers on the pages mean, from the functions that compute them.

``python docs/drawings.py`` writes ``docs/pictures/meaning_*.svg``.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import matplotlib as mpl
import matplotlib.dates as mdates
import matplotlib.pyplot as plt
import numpy as np
from matplotlib.axes import Axes
from scipy.stats import gamma

import layers
import seabed
from layers.planning.drift._drift import even_steps, tracks_at
from layers.planning.drift.doubt import Doubt, doubtful_velocity, draws
from layers.scoring.rates import CAUTION, fit_prior
from layers.water.sources import parse_current
from seabed.geodesy import local_metres, step_lengths

PICTURES = Path(__file__).parent / "pictures"
DEMO = Path(__file__).parents[1] / "demo_area"
ZONE = "Etc/GMT+2"
KNOT = 0.514444
ARROW = {"arrowstyle": "<->", "color": "black", "lw": 1}
GROUND, WATER, BOAT, FISH = "#8a8272", "#2f6f9f", "#111111", "#7b3f78"


def measure(axes: Axes, start: tuple[float, float], end: tuple[float, float], words: str) -> None:
    """Draw a double arrow with its name."""
    axes.annotate("", start, end, arrowprops=ARROW)
    middle = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    axes.annotate(words, middle, (4, 4), textcoords="offset points")


def structure() -> None:
    """Draw an edge with top, foot, drop and width; a hump with crest, saddle and height."""
    grid = seabed.example_grid()
    edge = seabed.edges(grid).iloc[0]
    hump = seabed.humps(grid).iloc[0]
    figure, (left, right) = plt.subplots(1, 2, figsize=(10, 3.6), layout="constrained")
    across = grid.values[30]
    east = np.arange(len(across)) * 5.0
    place = edge.geometry.interpolate(0.5, normalized=True).x - 500_000 - 2.5
    top, foot = place - edge.width_m / 2, place + edge.width_m / 2
    left.fill_between(east, across, 20, color=GROUND, alpha=0.5)
    left.plot([top, foot], [edge.top_depth_m, edge.foot_depth_m], "o", color=BOAT)
    left.annotate("top", (top, edge.top_depth_m), (-24, 8), textcoords="offset points")
    left.annotate("foot", (foot, edge.foot_depth_m), (4, 8), textcoords="offset points")
    measure(left, (foot + 40, edge.top_depth_m), (foot + 40, edge.foot_depth_m),
            f"drop {edge.drop_m:.1f} m")  # fmt: skip
    measure(left, (top, 16.5), (foot, 16.5), f"width {edge.width_m:.0f} m")
    left.set(
        title="An edge, cut across", xlim=(80, 330), ylim=(18, 3), xlabel="m", ylabel="depth, m"
    )

    along = grid.values[:, 15]
    north = np.arange(len(along)) * 5.0
    right.fill_between(north, along, 20, color=GROUND, alpha=0.5)
    right.axhline(hump.saddle_depth_m, color=BOAT, linestyle=":")
    right.annotate("saddle: the deepest you must go\nto reach higher ground", (150, 6.6))
    measure(
        right,
        (100, hump.crest_depth_m),
        (100, hump.saddle_depth_m),
        f"height {hump.height_m:.1f} m",
    )
    right.annotate("crest", (100, hump.crest_depth_m), (-10, 6), textcoords="offset points")
    right.set(title="A hump, cut along", xlim=(0, 295), ylim=(8, 3), xlabel="m", ylabel="depth, m")
    save(figure, "structure")


def tide() -> None:
    """Draw high water, hours from them, and slack on a day's strip."""
    heights = layers.read_heights(DEMO / "tide_table.csv", timezone=ZONE)
    currents = layers.read_currents(
        DEMO / "current_table.csv", timezone=ZONE, flood_toward=352, ebb_toward=172
    )
    day = layers.tide(date(2031, 6, 14), ZONE, heights=heights, currents=currents)
    hour = (day["time"] - day["time"].iloc[0]).dt.total_seconds().to_numpy() / 3600
    height, rate = day["height_m"].to_numpy(), day["current_mps"].to_numpy() / KNOT
    figure, (top, low) = plt.subplots(2, 1, figsize=(10, 4.6), sharex=True, layout="constrained")
    top.plot(hour, height, color=WATER)
    high = 6 + int(np.argmax(height[(hour > 6) & (hour < 18)])) * (hour[1] - hour[0])
    top.axvline(high, color=BOAT, linestyle=":")
    top.annotate("high water", (high, height.max()), (5, -4), textcoords="offset points")
    measure(top, (high, 0.8), (high + 3, 0.8), "3 h after high water")
    top.set(title="Height over the datum, m", ylim=(0, None))
    low.plot(hour, rate, color=WATER)
    low.axhline(0.2, color=BOAT, linestyle=":")
    low.fill_between(hour, 0, rate.max(), where=rate < 0.2, color="#d8c27a", alpha=0.6)
    low.annotate("slack: under 0.2 kn", (high + 0.9, 0.27))
    low.set(
        title="Current, kn",
        xlabel="hour of the day",
        xlim=(0, 24),
        ylim=(0, None),
        xticks=range(0, 25, 3),
    )
    save(figure, "tide")


def tracks() -> None:
    """Draw a trip's strip of speed, cut into its pieces."""
    fixes, _ = layers.clean(layers.read_tracks([DEMO / "trip_3.gpx"]))
    pieces = layers.cut(fixes)
    some = fixes.iloc[::30]  # over half a minute the receiver's own wander hardly counts
    gone = step_lengths(some["longitude"].to_numpy(), some["latitude"].to_numpy())
    speed = gone / some["time"].diff().dt.total_seconds().to_numpy()[1:] / KNOT
    colours = {"run": "#9aa3ad", "drift": "#5a9367", "hold": "#d8c27a", "gap": "#ffffff"}
    axes = plt.figure(figsize=(10, 3), layout="constrained").gca()
    shown: set[str] = set()
    for piece in pieces.itertuples():
        name = piece.kind if piece.kind not in shown else None
        axes.axvspan(piece.start, piece.end, color=colours[piece.kind], alpha=0.6, label=name, lw=0)
        shown.add(piece.kind)
    axes.step(some["time"].iloc[1:], speed, color=BOAT, lw=1)
    axes.xaxis.set_major_formatter(mdates.DateFormatter("%H:%M"))
    axes.legend(loc="upper right", ncols=4)
    axes.set(title="Speed over the ground, kn, and the pieces of a trip", ylim=(0, 8),
             xlim=(fixes["time"].iloc[0], fixes["time"].iloc[-1]), xlabel="UTC")  # fmt: skip
    save(axes.figure, "tracks")


def fan() -> None:
    """Draw where boats end that drift the same start in slightly different water and wind."""
    boats = 200
    velocity = doubtful_velocity(
        parse_current("0.8 kn toward 20"),
        layers.parse_wind(["SW 8 kn"], "2031-06-14T08:00", timezone=ZONE),
        layers.leeway_of("skiff, V-hull"), Doubt(), draws(boats),
    )  # fmt: skip
    start = np.datetime64("2031-06-14T10:00")
    went = tracks_at(
        np.full(boats, -33.39), np.full(boats, 46.18), start, velocity, even_steps(1200, 30)
    )
    east, north = local_metres(went.longitude, went.latitude, centre=(-33.39, 46.18))
    axes = plt.figure(figsize=(5, 5), layout="constrained").gca()
    axes.plot(east.T, north.T, color=WATER, alpha=0.15)
    axes.plot(east[:, -1], north[:, -1], ".", color=BOAT, markersize=3)
    axes.annotate("start", (0, 0), (8, -4), textcoords="offset points")
    axes.annotate("ends after 20 minutes", (230, 150))
    axes.set(title="The fan", xlabel="m east", ylabel="m north", aspect="equal")
    save(axes.figure, "fan")


def rate() -> None:
    """Draw intervals and cautious rates of two lines with one rate on unlike effort."""
    count, hours = np.array([2, 12, 3, 5, 1]), np.array([1.0, 6.0, 4.0, 3.0, 2.0])
    prior = fit_prior(count, hours)
    axes = plt.figure(figsize=(10, 3.2), layout="constrained").gca()
    rates = np.linspace(0, 5, 400)
    for number, colour in ((0, WATER), (1, FISH)):
        law = gamma(prior.shape + count[number], scale=1 / (prior.hours + hours[number]))
        low, cautious, high = law.ppf([0.1, CAUTION, 0.9])
        axes.plot(rates, law.pdf(rates), color=colour,
                  label=f"{count[number]} fish in {hours[number]:.0f} rod-hours")  # fmt: skip
        inside = (rates > low) & (rates < high)
        axes.fill_between(rates[inside], law.pdf(rates[inside]), color=colour, alpha=0.2)
        axes.vlines(cautious, 0, law.pdf(cautious), color=colour)
    axes.annotate("shaded: 80 % interval\nupright: the cautious rate", (2.9, 0.45))
    axes.legend()
    axes.set(
        title="Two fish an hour twice, on unlike effort",
        xlabel="fish a rod-hour",
        yticks=[],
        ylim=(0, None),
    )
    save(axes.figure, "rate")


def save(figure: plt.Figure, name: str) -> None:
    """Write a drawing."""
    figure.savefig(PICTURES / f"meaning_{name}.svg", metadata={"Date": None})
    plt.close(figure)


def main() -> None:
    """Draw all."""
    mpl.use("svg")
    plt.rcParams["svg.hashsalt"] = "drawings"
    for draw in (structure, tide, tracks, fan, rate):
        draw()


if __name__ == "__main__":
    main()
