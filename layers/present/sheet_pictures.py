"""The pictures of the sheet: the ground around a line, its profile, the tide of the day."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from layers.present.drawing import Drawing, Stroke, Words
from layers.present.ground_plan import GroundPlan
from layers.present.sheet import SheetLine, TideCurve

__all__ = ["MAP_SIZE", "ground_picture", "profile_picture", "tide_picture"]

Floats = NDArray[np.float64]

MAP_SIZE: Final = (36.0, 28.5)
PROFILE_SIZE: Final = (46.0, 16.5)
TIDE_SIZE: Final = (190.0, 23.0)
LETTERS: Final = (("cable", "C"), ("pipeline", "P"), ("area", "A"), ("zone", "A"), ("traffic", "T"))


def ground_picture(ground: GroundPlan, name: str) -> Drawing:
    """Draw contours, shore, hazards, other lines broken, and the line with its arrow; north up."""
    width, height = MAP_SIZE
    scale = width / ground.width_m

    def placed(metres: Floats) -> list[tuple[float, float]]:
        return [(width / 2 + x * scale, height / 2 - y * scale) for x, y in metres]

    parts: list[Stroke | Words] = [
        Stroke(placed(part), width=0.2, grey=0.45) for _, part in ground.contours
    ]
    parts += [Stroke(placed(part), width=0.7) for part in ground.shore]
    taken = placed(ground.track)
    parts += _depth_labels([(depth, placed(part)) for depth, part in ground.contours], taken)
    for other, part in ground.others:
        points = placed(part)
        parts += [Stroke(points, width=0.5, dash=(1.6, 0.9)), _label(other, points[0])]
    for kind, part in ground.hazards:
        parts += _hazard(kind, placed(part))
    track = placed(ground.track)
    parts += [Stroke(track, width=2.0, grey=1.0), Stroke(track, width=0.9), *_arrow(track)]
    x, y = track[0]
    parts.append(Stroke(_square(x, y, 1.5), width=0.6, fill=1.0))
    parts += _scale_bar(ground.width_m, scale)
    parts.append(Stroke([(0, 0), (width, 0), (width, height), (0, height), (0, 0)], width=0.5))
    return Drawing(width, height, parts, f"{name} and the ground around it, north up")


def profile_picture(line: SheetLine, unit: str) -> Drawing | None:
    """Draw water along the line, deeper downward, the band shaded; None without depths."""
    if len(line.profile) < 2:
        return None
    width, height = PROFILE_SIZE
    left, right, top, bottom = 9.0, 0.5, 1.0, 4.0
    metres = np.array([point[0] for point in line.profile])
    depth = np.array([point[1] for point in line.profile])
    shown = np.append(depth, line.band or ())
    low, high = float(shown.min()), float(shown.max())
    room = max(0.12 * (high - low), 0.3)
    low, high = max(0.0, low - room), high + room
    x = left + (width - left - right) * metres / max(metres[-1], 1.0)
    y = top + (height - top - bottom) * (depth - low) / (high - low)
    floor = height - bottom
    parts: list[Stroke | Words] = []
    if line.band is not None:
        ends = [top + (floor - top) * (end - low) / (high - low) for end in line.band]
        parts.append(Stroke(_box(left, ends[0], width - right, ends[1]), width=0, fill=0.82))
    points = list(zip(x.tolist(), y.tolist(), strict=True))
    parts.append(Stroke(points, width=0.8))
    parts.append(Stroke(_box(left, top, width - right, floor), width=0.3, fill=None))
    for value in (float(depth.min()), float(depth.max())):
        at = top + (floor - top) * (value - low) / (high - low)
        parts.append(Words(left - 1, min(max(at + 1.3, 3.4), floor), f"{value:.0f}", 11, "end"))
    if depth.max() - depth.min() < 0.28 * (high - low):  # two numbers would lie over each other
        del parts[-2]
    parts.append(Words(left, height - 0.4, "start", 9))
    parts.append(Words(width - right, height - 0.4, f"end; {unit} of water", 9, "end"))
    return Drawing(width, height, parts, f"Water along {line.name}, {unit}")


def tide_picture(tide: TideCurve, unit: str) -> Drawing | None:
    """Draw the day's tide, high and low water named, the lines' times as bars; None if unknown."""
    hours, height = np.asarray(tide.hours, float), np.asarray(tide.heights, float)
    if not np.isfinite(height).any():
        return None
    wide, tall = TIDE_SIZE
    left, right, top, bottom = 1.0, 1.0, 5.5, 9.5
    low, high = float(np.nanmin(height)), float(np.nanmax(height))
    floor = tall - bottom

    def x(hour: float) -> float:
        return float(left + (wide - left - right) * (hour - hours[0]) / (hours[-1] - hours[0]))

    def y(value: float) -> float:
        return float(floor - 0.5 - (floor - top - 1) * (value - low) / max(high - low, 1e-6))

    parts: list[Stroke | Words] = []
    for begin, end, name in tide.slots:
        parts.append(Stroke(_box(x(begin), top, x(end), tall - 4.6), width=0.25, fill=0.86))
        parts.append(Words((x(begin) + x(end)) / 2, tall - 5.4, name, 10, "middle", bold=True))
    known = np.isfinite(height)
    for run in _runs(known):
        points = [(x(a), y(b)) for a, b in zip(hours[run], height[run], strict=True)]
        parts.append(Stroke(points, width=0.8))
    for hour, value, words in tide.turns:
        at = min(max(x(hour), 22.0), wide - 22.0)
        parts.append(Words(at, max(y(value) - 1.2, 3.6), words, 11, "middle", halo=True))
    parts.append(Stroke([(left, floor + 4.9), (wide - right, floor + 4.9)], width=0.3))
    for hour in range(math.ceil(hours[0]), math.floor(hours[-1]) + 1):
        parts.append(Stroke([(x(hour), floor + 4.9), (x(hour), floor + 5.8)], width=0.3))
        if x(hour) > 4 and x(hour) < wide - 4:
            parts.append(Words(x(hour), tall - 0.2, f"{hour % 24:02d}", 11, "middle"))
    return Drawing(wide, tall, parts, f"Tide through the day, {unit}, with the lines' times")


def _runs(known: NDArray[np.bool_]) -> list[NDArray[np.int64]]:
    at = np.flatnonzero(known)
    return np.split(at, np.flatnonzero(np.diff(at) > 1) + 1)


def _box(left: float, top: float, right: float, bottom: float) -> list[tuple[float, float]]:
    return [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)]


def _square(x: float, y: float, half: float) -> list[tuple[float, float]]:
    return _box(x - half, y - half, x + half, y + half)


def _arrow(track: Sequence[tuple[float, float]]) -> list[Stroke | Words]:
    (x, y), (before_x, before_y) = track[-1], track[max(0, len(track) - 3)]
    turn = math.atan2(y - before_y, x - before_x)
    head = [
        (x + reach * math.cos(turn + side), y + reach * math.sin(turn + side))
        for reach, side in ((1.6, 0.0), (2.6, 2.5), (2.6, -2.5))
    ]
    return [Stroke([*head, head[0]], width=0.3, grey=1.0, fill=0.0)]


def _depth_labels(
    lines: Sequence[tuple[float, list[tuple[float, float]]]],
    track: Sequence[tuple[float, float]],
) -> list[Words]:
    """Write one number a depth, on the longest line of it, clear of the others and the track."""
    width, height = MAP_SIZE
    line = shapely.LineString(track)
    longest: dict[float, list[tuple[float, float]]] = {}
    for depth, points in lines:
        if len(points) > len(longest.get(depth, ())):
            longest[depth] = points
    made: list[Words] = []
    for depth, points in longest.items():
        for share in (0.5, 0.25, 0.75, 0.1, 0.9):
            x, y = points[int((len(points) - 1) * share)]
            inside = 3 < x < width - 3 and 3.5 < y < height - 6
            clear = all(math.hypot(x - w.x, y - w.y) > 4.5 for w in made)
            if inside and clear and line.distance(shapely.Point(x, y)) > 3.5:
                made.append(Words(x, y + 1.1, f"{depth:g}", 8, "middle", halo=True))
                break
    return made


def _label(text: str, at: tuple[float, float]) -> Words:
    width, height = MAP_SIZE
    x = min(max(at[0], 3.0), width - 3.0)
    return Words(x, min(max(at[1] - 1, 3.2), height - 1), text, 8, "middle", halo=True)


def _hazard(kind: str, points: list[tuple[float, float]]) -> list[Stroke | Words]:
    letter = next((letter for word, letter in LETTERS if word in kind), kind[:1].upper())
    x, y = points[len(points) // 2]
    framed: list[Stroke | Words] = []
    if len(points) > 1:
        framed.append(Stroke(points, width=0.7, dash=(1.2, 1.6)))
    framed.append(Stroke(_square(x, y, 1.7), width=0.4, fill=1.0))
    framed.append(Words(x, y + 1.15, letter, 8, "middle", bold=True))
    return framed


def _scale_bar(width_m: float, scale: float) -> list[Stroke | Words]:
    """Draw a bar of 50, 100, 200 … metres at the foot."""
    _, height = MAP_SIZE
    length = max((m for m in (20, 50, 100, 200, 500, 1000, 2000) if m < width_m / 2), default=10)
    right = 1.5 + length * scale
    return [
        Stroke([(1.5, height - 1.5), (right, height - 1.5)], width=1.6, grey=1.0),
        Stroke([(1.5, height - 1.5), (right, height - 1.5)], width=0.6),
        Words(1.5, height - 2.6, f"{length} m", 8, halo=True),
    ]
