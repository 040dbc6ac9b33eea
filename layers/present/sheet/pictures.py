"""The pictures of the sheet: the ground around a line, its profile, the tide of the day."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final, TypeAlias

import numpy as np
import shapely

from layers.present.looks import BLACK, WHITE, grey
from layers.present.pictures.drawing import (
    Box,
    Drawing,
    Part,
    Placing,
    Stroke,
    Words,
    arrow,
    enlarged,
    known_runs,
    pt,
)
from layers.present.sheet.content import Sheet, SheetLine, TideCurve
from layers.present.sheet.ground_plan import GroundPlan
from layers.present.sheet.paper import Paper
from seabed.array_types import Floats

MAP_SIZE: Final = (36.0, 28.5)
PROFILE_SIZE: Final = (46.0, 16.5)
TIDE_SIZE: Final = (190.0, 26.0)
LETTERS: Final = (("cable", "C"), ("pipeline", "P"), ("area", "A"), ("zone", "A"), ("traffic", "T"))


def ground_picture(ground: GroundPlan, name: str) -> Drawing:
    """Draw contours, shore, hazards, other lines broken, and the line with its arrow; north up."""
    width, height = MAP_SIZE
    scale = width / ground.width_m

    def placed(metres: Floats) -> list[tuple[float, float]]:
        return [(width / 2 + x * scale, height / 2 - y * scale) for x, y in metres]

    parts: list[Part] = [
        Stroke(placed(part), width=0.2, colour=grey(0.45)) for _, part in ground.contours
    ]
    parts += [Stroke(placed(part), width=0.7) for part in ground.shore]
    parts += [Stroke(placed(part), 0.3, dash=(0.4, 1.2)) for part in ground.ends]
    taken = placed(ground.track)
    names: list[Words] = []
    for other, part in ground.others:
        points = placed(part)
        parts.append(Stroke(points, width=0.5, dash=(1.6, 0.9)))
        names += _numbered(other, points, (0.0, 0.3, 0.6, 1.0), taken, names)
    depths = [(depth, placed(part)) for depth, part in ground.contours]
    parts += [*_depth_labels(depths, taken, names), *names]
    for kind, part in ground.hazards:
        parts += _hazard(kind, placed(part))
    track = placed(ground.track)
    parts += [Stroke(track, width=2.0, colour=WHITE), Stroke(track, width=0.9), *_arrow(track)]
    x, y = track[0]
    parts.append(_square(x, y, 1.5, 0.6))
    parts += _scale_bar(ground.width_m, scale)
    parts.append(Box(0, 0, width, height, line=0.5))
    return Drawing(width, height, parts, f"{name} and the ground around it, north up")


def profile_picture(line: SheetLine, unit: str) -> Drawing | None:
    """Draw water along the line, deeper downward, the band shaded; None without depths."""
    if len(line.profile) < 2:
        return None
    width, height = PROFILE_SIZE
    metres, depth = (np.array(values) for values in zip(*line.profile, strict=True))
    shown = np.append(depth, line.band or ())
    room = max(0.12 * float(np.ptp(shown)), 0.3)
    floor, right = height - 4.0, width - 0.5
    x = Placing(0.0, max(float(metres[-1]), 1.0), 9.0, right)
    y = Placing(max(0.0, float(shown.min()) - room), float(shown.max()) + room, 1.0, floor)
    parts: list[Part] = []
    if line.band is not None:
        top, bottom = (float(y(end)) for end in line.band)
        parts.append(Box(x.start, top, right - x.start, bottom - top, fill=grey(0.82)))
    parts += [Stroke(points, width=0.8) for points in known_runs(x(metres), y(depth))]
    parts.append(Box(x.start, y.start, right - x.start, floor - y.start, line=0.3))
    levels = [float(depth.min()), float(depth.max())]
    if levels[1] - levels[0] < 0.28 * (y.high - y.low):  # two numbers would cover each other
        del levels[0]
    for value in levels:
        at = min(max(float(y(value)) + 1.3, 3.4), floor)
        parts.append(Words(x.start - 1, at, f"{value:.0f}", pt(11), "end"))
    parts.append(Words(x.start, height - 0.4, "start", pt(9)))
    parts.append(Words(right, height - 0.4, f"end; {unit} of water", pt(9), "end"))
    return Drawing(width, height, parts, f"Water along {line.name}, {unit}")


def tide_picture(tide: TideCurve, unit: str, width: float = TIDE_SIZE[0]) -> Drawing | None:
    """Draw the day's tide and current, slack, sun, and the lines' times as bars.

    High and low water are named; the current is the broken line, an arrow each hour the way it
    runs, north up.  None where no height is known.
    """
    hours, height = np.asarray(tide.hours, float), np.asarray(tide.heights, float)
    if not np.isfinite(height).any():
        return None
    tall = TIDE_SIZE[1]
    floor = tall - 9.5
    x = Placing(hours[0], hours[-1], 1.0, width - 1.0)
    y = Placing(float(np.nanmin(height)), float(np.nanmax(height)), floor - 0.5, 9.5)
    parts: list[Part] = []
    labels: list[Words] = []
    bars: list[Area] = []
    boxes: list[Area] = []
    labelled = 0.0
    for begin, end, name in tide.slots:
        left, right = float(x(begin)), float(x(end))
        bars.append((left, BARS, right, tall - 4.6))
        parts.append(Box(left, BARS, right - left, tall - 4.6 - BARS, grey(0.86), 0.25))
        at, low = (left + right) / 2, tall - 5.4
        size = min(pt(10), max(pt(8), (right - left) / (BOLD_LETTER * len(name))))
        half = BOLD_LETTER * size * len(name) / 2
        raised = bool(labels) and labels[-1].y == low and at - half < labelled
        labels.append(Words(at, low - 3.0 * raised, name, size, "middle", bold=True))
        labelled = at + half
    for begin, end in tide.slack:
        left, right = float(x.inside(begin)), float(x.inside(end))
        boxes.append((left, 4.4, right, floor))
        parts.append(Box(left, 4.4, right - left, floor - 4.4, None, 0.25, dash=(0.8, 0.8)))
        labels.append(Words((left + right) / 2, 3.4, "slack", pt(10), "middle"))
    parts += [Stroke(points, width=0.8) for points in known_runs(x(hours), y(height))]
    for hour, value, label in tide.turns:
        at = float(x(hour))
        parts.append(Stroke([(at, BARS), (at, float(y(value)))], 0.2))
        labels.append(Words(at, OVER_BARS, label, pt(11), "middle", halo=True))
    for hour, label in tide.sun:
        if hours[0] <= hour <= hours[-1]:
            at = float(x(hour))
            parts.append(Stroke([(at, 4.0), (at, floor)], 0.3, dash=(0.4, 0.8)))
            labels.append(Words(at, 3.4, label, pt(10), "middle"))
    current, speed = _current(tide, x, (floor - 0.5, 11.0))
    lines = [one for one in parts + current if isinstance(one, Stroke) and one.width >= 0.4]
    curves = [area for line in lines for area in _along(line)]
    words: list[Area] = []
    parts += [*current, *_apart(labels, width, words, boxes)]
    parts += _apart(speed, width, [*words, *curves], [*boxes, *bars])
    parts += _hour_axis(hours, x, width)
    title = f"Tide through the day, {unit}, current, slack and sun, with the lines' times"
    return Drawing(width, tall, parts, title)


Area: TypeAlias = tuple[float, float, float, float]
"""Left, top, right and bottom."""

BARS: Final = 8.5
OVER_BARS: Final = 7.6
"""Where the bars of the lines begin, and the base of words over them, mm."""

LETTER: Final = 0.6
BOLD_LETTER: Final = 0.7
"""Width of a letter over its size; hardly a letter that is set here is wider."""

ASIDE: Final = tuple(sorted(range(-40, 41, 2), key=abs))
"""How far words move aside for others, mm, the least first."""


def _apart(
    labels: Sequence[Words], width: float, taken: list[Area], boxes: Sequence[Area]
) -> list[Words]:
    """Move words aside that would cover others, else up or down a line, or over the bars.

    They keep off boxes too where there is room, and stay where there is none at all.  What they
    cover is then `taken`.
    """
    placed = []
    for words in labels:
        half = LETTER * words.size * len(words.text) / 2
        rows = (0.0, 3.9, -3.9, OVER_BARS - words.y, 5.5)
        moves = [(aside, down) for down in rows for aside in ASIDE] if half > 4 else []
        free = (
            one
            for kept_off in ([*taken, *boxes], taken)
            for one in (_moved(words, *move, half, width) for move in moves)
            if not any(overlap(_area(one, half), other) for other in kept_off)
        )
        placed.append(next(free, _moved(words, 0, 0.0, half, width)))
        taken.append(_area(placed[-1], half))
    return placed


def _moved(words: Words, aside: float, down: float, half: float, width: float) -> Words:
    return replace(words, x=min(max(words.x + aside, half), width - half), y=words.y + down)


def _area(words: Words, half: float) -> Area:
    size = words.size
    return words.x - half, words.y - 0.8 * size, words.x + half, words.y + 0.2 * size


def _along(line: Stroke) -> list[Area]:
    """Give the boxes around each stretch of a line."""
    return [
        (min(a, c) - 0.4, min(b, d) - 0.4, max(a, c) + 0.4, max(b, d) + 0.4)
        for (a, b), (c, d) in pairwise(line.points)
    ]


def overlap(one: Area, other: Area) -> bool:
    """Say whether two boxes cover each other in part."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def tide_strip(sheet: Sheet, paper: Paper) -> Drawing | None:
    """Draw the tide of a sheet as wide as its paper; None if none is known."""
    if sheet.tide is None:
        return None
    drawn = tide_picture(sheet.tide, sheet.depth_unit, paper.room / paper.times)
    return None if drawn is None else enlarged(drawn, paper.times)


def _hour_axis(hours: Floats, x: Placing, width: float) -> Iterator[Part]:
    """Draw the hours below the day's tide."""
    floor = TIDE_SIZE[1] - 9.5
    yield Stroke([(1.0, floor + 4.9), (width - 1.0, floor + 4.9)], width=0.3)
    for hour in range(math.ceil(hours[0]), math.floor(hours[-1]) + 1):
        at = float(x(hour))
        yield Stroke([(at, floor + 4.9), (at, floor + 5.8)], width=0.3)
        if 4 < at < width - 4:
            yield Words(at, TIDE_SIZE[1] - 0.2, f"{hour % 24:02d}", pt(11), "middle")


def _current(
    tide: TideCurve, x: Placing, rows: tuple[float, float]
) -> tuple[list[Part], list[Words]]:
    """Draw the speed of the current broken and the way that it runs; name its greatest."""
    speed, hours = np.asarray(tide.speeds, float), np.asarray(tide.hours, float)
    if not np.isfinite(speed).any():
        return [], []
    y = Placing(0.0, float(np.nanmax(speed)), *rows)
    parts: list[Part] = [
        Stroke(points, 0.4, dash=(1.6, 0.8)) for points in known_runs(x(hours), y(speed))
    ]
    toward = np.asarray(tide.toward, float)
    for i in np.flatnonzero(np.isclose(hours % 1, 0.5) & np.isfinite(toward)):
        at = float(x(hours[i])), rows[0] - 2.2
        parts += arrow(at, float(toward[i]), 1.8, back=1.8, head=1.1, width=0.3, colour=BLACK)
    most = int(np.nanargmax(speed))
    words = f"current {speed[most]:.1f} {tide.speed_unit}"
    return parts, [Words(float(x(hours[most])), rows[1] + 3.6, words, pt(10), "middle", halo=True)]


def _square(x: float, y: float, half: float, line: float) -> Box:
    return Box(x - half, y - half, 2 * half, 2 * half, WHITE, line)


def _arrow(track: Sequence[tuple[float, float]]) -> list[Part]:
    (x, y), (before_x, before_y) = track[-1], track[max(0, len(track) - 3)]
    turn = math.atan2(y - before_y, x - before_x)
    head = [
        (x + reach * math.cos(turn + side), y + reach * math.sin(turn + side))
        for reach, side in ((1.6, 0.0), (2.6, 2.5), (2.6, -2.5))
    ]
    return [Stroke([*head, head[0]], width=0.3, colour=WHITE, fill=BLACK)]


def _depth_labels(
    lines: Sequence[tuple[float, list[tuple[float, float]]]],
    track: Sequence[tuple[float, float]],
    names: Sequence[Words],
) -> list[Words]:
    """Write one number a depth, on the longest line of it, clear of all that is written."""
    longest: dict[float, list[tuple[float, float]]] = {}
    for depth, points in lines:
        if len(points) > len(longest.get(depth, ())):
            longest[depth] = points
    made: list[Words] = []
    for depth, points in longest.items():
        made += _numbered(f"{depth:g}", points, (0.5, 0.25, 0.75, 0.1, 0.9), track, [*names, *made])
    return made


def _numbered(
    text: str,
    points: Sequence[tuple[float, float]],
    shares: Sequence[float],
    track: Sequence[tuple[float, float]],
    others: Sequence[Words],
) -> list[Words]:
    """Write words on a line at the first share of it that is clear; nothing where none is."""
    width, height = MAP_SIZE
    for share in shares:
        x, y = points[int((len(points) - 1) * share)]
        inside = 3 < x < width - 3 and 3.5 < y < height - 6
        clear = all(math.hypot(x - one.x, y + 1.1 - one.y) > 4.5 for one in others)
        if inside and clear and shapely.LineString(track).distance(shapely.Point(x, y)) > 3.5:
            return [Words(x, y + 1.1, text, pt(8), "middle", halo=True)]
    return []


def hazard_letter(kind: str) -> str:
    """Give the letter that a kind of hazard is marked with."""
    return next((letter for word, letter in LETTERS if word in kind), kind[:1].upper())


def _hazard(kind: str, points: list[tuple[float, float]]) -> list[Part]:
    letter = hazard_letter(kind)
    x, y = points[len(points) // 2]
    framed: list[Part] = []
    if len(points) > 1:
        framed.append(Stroke(points, width=0.7, dash=(1.2, 1.6)))
    framed.append(_square(x, y, 1.7, 0.4))
    framed.append(Words(x, y + 1.15, letter, pt(8), "middle", bold=True))
    return framed


def _scale_bar(width_m: float, scale: float) -> list[Part]:
    """Draw a bar of 50, 100, 200 … metres at the foot."""
    _, height = MAP_SIZE
    length = max((m for m in (20, 50, 100, 200, 500, 1000, 2000) if m < width_m / 2), default=10)
    right = 1.5 + length * scale
    return [
        Stroke([(1.5, height - 1.5), (right, height - 1.5)], width=1.6, colour=WHITE),
        Stroke([(1.5, height - 1.5), (right, height - 1.5)], width=0.6),
        Words(1.5, height - 2.6, f"{length} m", pt(8), halo=True),
    ]
