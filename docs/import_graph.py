"""Draws the rooms of the code and what imports what, from the imports themselves, at each build.

The directive ``import-graph`` gives a picture of each package and a list of all arrows.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from pathlib import Path

import grimp
import numpy as np
from docutils import nodes
from scipy.optimize import isotonic_regression
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

WIDTH, BOX, GAP, LINE, HEIGHT, PITCH = 480.0, 58.0, 5.0, 8.0, 26.0, 62.0
SWEEPS = 12

Arrows = dict[str, set[str]]
INK = "var(--color-foreground-muted, #667)"
STYLE = f"""<style>
.rooms {{ max-width: 640px; width: 100%; height: auto; display: block; margin: 0 auto 1em; }}
.rooms rect {{ fill: var(--color-background-secondary, #f5f6f8); stroke: {INK}; }}
.rooms text {{ font: 10.5px system-ui, sans-serif; text-anchor: middle; fill: currentColor; }}
.rooms .arrow {{ fill: none; stroke: {INK}; stroke-width: 1.1; }}
.rooms marker path {{ fill: {INK}; }}
</style>"""


def rooms_of(*packages: str) -> Arrows:
    """Give each room and the rooms that it imports, imports inside functions too."""
    graph = grimp.build_graph(*packages, cache_dir=None)
    rooms = [room for package in packages for room in sorted(graph.find_children(package))]
    arrows: Arrows = {room: set() for room in rooms}
    for module in graph.modules:
        for other in graph.find_modules_directly_imported_by(module):
            room, into = (".".join(name.split(".")[:2]) for name in (module, other))
            if room != into and room in arrows and into in arrows:
                arrows[room].add(into)
    return arrows


def within(arrows: Arrows, package: str) -> Arrows:
    """Keep one package's rooms, named within it."""
    start = f"{package}."
    return {
        room.removeprefix(start): {name.removeprefix(start) for name in into if start in name}
        for room, into in arrows.items()
        if room.startswith(start)
    }


def reached(arrows: Arrows, room: str) -> set[str]:
    """Give all rooms that one leans on, by whatever way."""
    found: set[str] = set()
    for name in arrows[room]:
        found |= {name} | reached(arrows, name)
    return found


def shortened(arrows: Arrows) -> Arrows:
    """Leave out each arrow that a longer way tells already (the transitive reduction)."""
    return {
        room: {name for name in into if not any(name in reached(arrows, other) for other in into)}
        for room, into in arrows.items()
    }


def heights(arrows: Arrows) -> dict[str, int]:
    """Give each room its row, 0 at the bottom: one above the highest that it imports."""

    def row(room: str) -> int:
        return 1 + max((row(name) for name in arrows[room]), default=-1)

    return {room: row(room) for room in arrows}


@dataclass
class Drawing:
    """Rows from the bottom up, of rooms and of places where a long arrow passes a row."""

    rows: list[list[str]]
    pieces: list[tuple[str, str]]
    """Every arrow cut into pieces from a row to the one beneath it."""
    paths: list[list[str]]
    """Every arrow as what it passes, from the top down."""

    def neighbours(self, name: str) -> list[str]:
        """Give what a name is joined to, in the rows above and beneath."""
        return [a if b == name else b for a, b in self.pieces if name in (a, b)]

    def crossings(self) -> int:
        """How often arrows cross."""
        place = {name: n for row in self.rows for n, name in enumerate(row)}
        level = {name: n for n, row in enumerate(self.rows) for name in row}
        return sum(
            (place[a] - place[c]) * (place[b] - place[d]) < 0
            for n, (a, b) in enumerate(self.pieces)
            for c, d in self.pieces[:n]
            if level[a] == level[c]
        )


def drawing_of(arrows: Arrows) -> Drawing:
    """Set rooms in rows so that arrows cross little (Sugiyama et al. 1981, by barycentres)."""
    level = heights(arrows)
    rows: list[list[str]] = [[] for _ in range(max(level.values()) + 1)]
    for room in sorted(arrows):
        rows[level[room]].append(room)
    paths = []
    for room, into in sorted(arrows.items()):
        for name in sorted(into):
            passed = [f"{room}>{name}@{n}" for n in range(level[room] - 1, level[name], -1)]
            for n, piece in enumerate(passed, start=1):
                rows[level[room] - n].append(piece)
            paths.append([room, *passed, name])
    pieces = [pair for path in paths for pair in pairwise(path)]
    best = Drawing(rows, pieces, paths)
    drawn = best
    for _ in range(SWEEPS):
        drawn = Drawing([list(row) for row in drawn.rows], pieces, paths)
        for row in (*drawn.rows, *drawn.rows[::-1]):
            place = {
                name: (n + 0.5) / len(other) for other in drawn.rows for n, name in enumerate(other)
            }
            row.sort(key=lambda name: np.mean([place[o] for o in drawn.neighbours(name)] or 2))
        best = min(best, swapped(drawn), key=Drawing.crossings)
    return best


def swapped(drawn: Drawing) -> Drawing:
    """Swap neighbours of a row as long as fewer arrows cross."""
    rows = [list(row) for row in drawn.rows]
    found = Drawing(rows, drawn.pieces, drawn.paths)
    fewest, before = found.crossings(), None
    while fewest != before:
        before = fewest
        for row in rows:
            for n in range(len(row) - 1):
                row[n : n + 2] = row[n + 1], row[n]
                if (now := found.crossings()) < fewest:
                    fewest = now
                else:
                    row[n : n + 2] = row[n + 1], row[n]
    return found


def abscissae(drawn: Drawing) -> dict[str, float]:
    """Draw each name near what it is joined to, no two boxes of a row closer than they are wide."""
    wide = {name: LINE if "@" in name else BOX + GAP for row in drawn.rows for name in row}
    at: dict[str, float] = {}
    for row in drawn.rows:
        gap = WIDTH / len(row)
        at |= {name: gap * (n + 0.5) for n, name in enumerate(row)}
    for _ in range(SWEEPS):
        for row in (*drawn.rows, *drawn.rows[::-1]):
            sizes = np.array([wide[name] for name in row])
            offset = np.cumsum(sizes) - sizes / 2
            wanted = [np.mean([at[o] for o in drawn.neighbours(n)] or [at[n]]) for n in row]
            placed = isotonic_regression(np.array(wanted) - offset).x
            free = max(WIDTH - sizes.sum(), 0.0)
            at |= dict(zip(row, np.clip(placed, 0.0, free) + offset, strict=True))
    return at


def svg_of(arrows: Arrows, title: str) -> str:
    """Draw one package's rooms."""
    drawn = drawing_of(shortened(arrows))
    at = abscissae(drawn)
    tall = PITCH * (len(drawn.rows) - 1) + HEIGHT + 4
    down = {
        name: tall - 2 - HEIGHT / 2 - PITCH * n for n, row in enumerate(drawn.rows) for name in row
    }
    lines = "".join(f'<path class="arrow" d="{_curve(path, at, down)}" '
                    f'marker-end="url(#head)"/>' for path in drawn.paths)  # fmt: skip
    boxes = "".join(
        f'<rect x="{at[room] - BOX / 2:.1f}" y="{down[room] - HEIGHT / 2:.1f}" width="{BOX}" '
        f'height="{HEIGHT}" rx="5"/><text x="{at[room]:.1f}" y="{down[room] + 4:.1f}">'
        f"{escape(room)}</text>"
        for room in sorted(arrows)
    )
    return (
        f'<svg class="rooms" viewBox="0 0 {WIDTH:.0f} {tall:.0f}" role="img" '
        f'aria-label="{escape(title)}"><defs><marker id="head" viewBox="0 0 8 8" refX="7" refY="4" '
        f'markerWidth="6" markerHeight="6" orient="auto"><path d="M0 0L8 4L0 8z"/></marker></defs>'
        f"{lines}{boxes}</svg>"
    )


def _curve(path: list[str], at: dict[str, float], down: dict[str, float]) -> str:
    """Lead an arrow from beneath its first box to the top of its last."""
    first, last = path[0], path[-1]
    words = f"M{at[first]:.1f} {down[first] + HEIGHT / 2:.1f}"
    for above, below in pairwise(path):
        start = down[above] + HEIGHT / 2
        end = down[below] - HEIGHT / 2
        middle = (start + end) / 2
        words += (f"C{at[above]:.1f} {middle:.1f} {at[below]:.1f} {middle:.1f} "
                  f"{at[below]:.1f} {end:.1f}")  # fmt: skip
        if below != last:
            words += f"L{at[below]:.1f} {down[below] + HEIGHT / 2:.1f}"
    return words


def first_line(room: str) -> str:
    """Give what a room says of itself."""
    path = Path(__file__).parents[1].joinpath(*room.split("."))
    file = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
    words = ast.get_docstring(ast.parse(file.read_text(encoding="utf-8"))) or ""
    return words.split("\n\n")[0].replace("\n", " ").replace("``", "")


def list_of(arrows: Arrows) -> str:
    """Write every arrow in words, rooms from the top down."""
    level = heights(arrows)
    ordered = sorted(arrows, key=lambda room: (room.split(".")[0], -level[room], room))
    rows = "".join(
        f"<dt><code>{escape(room)}</code></dt><dd><p>{escape(first_line(room))}<br>"
        f"<em>imports</em> {'; '.join(_named(arrows[room])) or 'nothing of ours'}</p></dd>"
        for room in ordered
    )
    return f'<dl class="docutils">{rows}</dl>'


def _named(rooms: set[str]) -> Iterator[str]:
    """Name rooms by package."""
    for package in ("layers", "seabed"):
        if names := sorted(within({room: set() for room in rooms}, package)):
            yield f"{package}: {escape(', '.join(names))}"


def page_parts() -> Iterator[str]:
    """Give the HTML of the pictures and the list."""
    arrows = rooms_of("seabed", "layers")
    yield STYLE
    for package in ("layers", "seabed"):
        yield f"<p><strong><code>{package}</code></strong></p>"
        yield svg_of(within(arrows, package), f"Rooms of {package}, listed below")
    yield list_of(arrows)


class ImportGraph(SphinxDirective):
    """``import-graph``: the pictures and the list in its place."""

    def run(self) -> list[nodes.Node]:
        """Draw, and read the imports again at each build."""
        self.env.note_reread()
        return [nodes.raw("", "\n".join(page_parts()), format="html")]


def setup(app: Sphinx) -> dict[str, bool]:
    """Tell Sphinx of the directive."""
    app.add_directive("import-graph", ImportGraph)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
