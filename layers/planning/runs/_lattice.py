"""The shortest way over open cells, pulled straight."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra

from layers.planning.drift.safe_water import Closed, looked_along
from seabed.array_types import Floats, Ints, Mask

REST_COUNTS: Final = 10.0
"""A metre that is left to the end counts as ten on the way.  Our choice, no source."""

EVEN_PLACES: Final = 64
CORNER_CELLS: Final = 0.2
"""What a corner costs, so that a way has few: a step of time ends at each.  Our choice."""

CLOSE_CELLS: Final = np.array([0.5, 1.0, 2.0, 4.0, 8.0])
NEIGHBOURS: Final = ((-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1))
BLOCKS: Final = ((4_000, 1), (4_000_000, 4), (np.inf, 8))
"""Greatest number of cells of a lattice, and cells on the side of its blocks."""


@dataclass(frozen=True, slots=True)
class LatticePath:
    """A way over open cells.

    points, shape (2, n): rows and columns of its corners.
    metres: its length; where it did not arrive and ten times what is left to the end.
    arrived: whether it ends where it was to end, not as near to it as it can.
    """

    points: Floats
    metres: float
    arrived: bool

    @property
    def reversed(self) -> LatticePath:
        """The same way from its end."""
        return LatticePath(self.points[:, ::-1], self.metres, self.arrived)


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """Cells of which some are open.

    Places are rows and columns from the outer corner: the middle of the first cell is (0.5, 0.5).

    closes, shape (rows, columns): a cell is open where this is no less than `wanted`.
    easting, northing, shape (rows,): size of the cells of each row, metres.
    """

    closes: NDArray[np.float32]
    wanted: float
    easting: Floats
    northing: Floats

    def clear(self, start: Floats, end: Floats) -> Mask:
        """Say which straight legs cross open cells alone, checked every half cell."""
        row, column = np.stack([start, end], axis=1)
        wanted = np.full(start.shape[1], self.wanted, np.float32)
        blocked = looked_along(Closed(self.closes, self.closes), row, column, wanted)
        return np.asarray(blocked == 0)

    def metres(self, start: Floats, end: Floats) -> Floats:
        """Lengths of straight legs; arguments as `clear`."""
        row = np.clip((start[0] + end[0]) / 2, 0, len(self.easting) - 1).astype(int)
        down, across = end - start
        return np.asarray(np.hypot(down * self.northing[row], across * self.easting[row]))

    def way(self, start: Floats, end: Floats) -> LatticePath:
        """Find the shortest way from an open place to another, or as near to it as can be."""
        if self._sees(start, end):
            straight = np.array([start, end]).T
            return LatticePath(
                straight, float(self.metres(straight[:, :1], straight[:, 1:])[0]), True
            )
        net = _Net.of(self)
        first, last = net.node_of(start), net.node_of(end)
        away, before = dijkstra(net.graph, indices=first, return_predecessors=True)
        arrived = last >= 0 and bool(np.isfinite(away[last]))
        if not arrived:
            last = int(np.argmin(away + REST_COUNTS * self.metres(net.at, end[:, None])))
        passed = [last]
        while before[passed[-1]] >= 0:
            passed.append(int(before[passed[-1]]))
        stop = end if arrived else net.nearest(last, end)
        corners = self._pulled(np.column_stack([start, net.at[:, passed[::-1]], stop]))
        rest = self.metres(stop[:, None], end[:, None])[0]
        metres = self.metres(corners[:, :-1], corners[:, 1:]).sum() + REST_COUNTS * rest
        return LatticePath(corners, float(metres), arrived)

    def _sees(self, start: Floats, end: Floats) -> bool:
        return bool(self.clear(start[:, None], end[:, None])[0])

    def _pulled(self, path: Floats) -> Floats:
        """Pull a way straight: leave out every corner past which the next one can be seen."""
        corners = self._farthest_seen(path)
        for laid in (_evenly, _close_to_corners):
            if corners.shape[1] > 2:
                along = _along(corners)
                corners = self._shortest_seen(corners, along, np.union1d(along, laid(along)))
        return corners

    def _farthest_seen(self, path: Floats) -> Floats:
        kept, count = [0], path.shape[1]
        while kept[-1] < count - 1:
            here = kept[-1]
            onward = path[:, here + 1 :]
            visible = self.clear(np.repeat(path[:, here, None], onward.shape[1], axis=1), onward)
            visible[0] = True  # neighbours
            kept.append(here + 1 + int(np.flatnonzero(visible)[-1]))
        return path[:, kept]

    def _shortest_seen(self, corners: Floats, along: Floats, places: Floats) -> Floats:
        """Find the shortest way over places along a way that see each other, in their order."""
        path = np.array([np.interp(places, along, part) for part in corners])
        count = path.shape[1]
        one, other = np.triu_indices(count, 1)
        begins = np.searchsorted(along, places, side="right")
        ends = np.searchsorted(along, places, side="left")
        visible = begins[one] >= ends[other]  # on the same leg
        visible[~visible] = self.clear(path[:, one[~visible]], path[:, other[~visible]])
        lengths = self.metres(path[:, one], path[:, other])
        lengths += CORNER_CELLS * self.northing.mean()
        lengths[~visible] = np.inf
        leg = np.full((count, count), np.inf)
        leg[one, other] = lengths
        away, before = np.zeros(count), np.zeros(count, int)
        for place in range(1, count):
            through = away[:place] + leg[:place, place]
            before[place] = np.argmin(through)
            away[place] = through[before[place]]
        kept = [count - 1]
        while kept[-1] > 0:
            kept.append(int(before[kept[-1]]))
        return path[:, kept[::-1]]


@dataclass(frozen=True, slots=True, eq=False)
class _Net:
    """Open cells joined to their eight neighbours, and square blocks of open cells as one.

    A diagonal leg between two closed cells touches their common corner alone.  A leg from the
    middle of a block to that of a cell beside it leaves the block through the side or corner that
    they share.

    node, shape (rows, columns): of each cell; -1 for closed ones.
    at, shape (2, n): row and column of each node.
    graph, shape (n, n): metres.
    side, blocks_from: cells on the side of a block; the first node that is one.
    """

    node: NDArray[np.int32]
    at: Floats
    graph: csr_matrix
    side: int
    blocks_from: int

    @classmethod
    def of(cls, lattice: Lattice) -> _Net:
        is_open = lattice.closes >= lattice.wanted
        side = _side(is_open.size)
        blocks = _open_blocks(is_open, side)
        alone = is_open & ~_spread(blocks, side, is_open.shape)
        cells, count = np.nonzero(alone), int(np.count_nonzero(alone))
        of_blocks = np.full(blocks.shape, -1, np.int32)
        of_blocks[blocks] = count + np.arange(np.count_nonzero(blocks), dtype=np.int32)
        node = _spread(of_blocks, side, is_open.shape)
        node[alone] = np.arange(count, dtype=np.int32)
        at = np.concatenate(
            [np.array(cells) + 0.5, (np.array(np.nonzero(blocks)) + 0.5) * side], axis=1
        )
        one, other = _joined(node, *cells)
        inner, outer = _joined(of_blocks, *np.nonzero(blocks))
        back = other >= count  # blocks to cells
        one, other = (
            np.concatenate([one, inner, other[back]]), np.concatenate([other, outer, one[back]]),
        )  # fmt: skip
        in_order = np.argsort(one, kind="stable") if blocks.any() else slice(None)
        one, other = one[in_order], other[in_order]
        starts = np.searchsorted(one, np.arange(at.shape[1] + 1))
        lengths = lattice.metres(at[:, one], at[:, other])
        # built by hand: duplicates of an edge would be summed
        graph = csr_matrix((lengths, other, starts), shape=(at.shape[1],) * 2)
        return cls(node, at, graph, side, count)

    def node_of(self, place: Floats) -> int:
        """Give the node that a place belongs to, -1 for none."""
        row, column = np.floor(place).astype(int)
        inside = 0 <= row < self.node.shape[0] and 0 <= column < self.node.shape[1]
        return int(self.node[row, column]) if inside else -1

    def nearest(self, node: int, place: Floats) -> Floats:
        """Give the middle of a node's cell that is nearest to a place."""
        half = (self.side - 1) / 2 if node >= self.blocks_from else 0.0
        return np.clip(place, self.at[:, node] - half, self.at[:, node] + half)


def _side(cells: int) -> int:
    """Cells on the side of a block, in a lattice of `cells`."""
    return next((side for most, side in BLOCKS if cells <= most), BLOCKS[-1][1])


def _open_blocks(is_open: Mask, side: int) -> Mask:
    if side == 1:
        return np.zeros(is_open.shape, bool)
    rows, columns = np.array(is_open.shape) // side
    whole = is_open[: rows * side, : columns * side].reshape(rows, side, columns, side)
    blocks = np.zeros(-(-np.array(is_open.shape) // side), bool)
    blocks[:rows, :columns] = whole.all(axis=(1, 3))
    return blocks


def _spread(blocks: NDArray[Any], side: int, shape: tuple[int, int]) -> NDArray[Any]:
    """Lay the value of each block on its cells."""
    return np.repeat(np.repeat(blocks, side, axis=0), side, axis=1)[: shape[0], : shape[1]]


def _joined(
    node: NDArray[np.int32], rows: Ints, columns: Ints
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Join cells to all neighbours that are nodes, in the order of the cells."""
    framed = np.pad(node, 1, constant_values=-1)
    near = np.stack(
        [framed[rows + 1 + down, columns + 1 + across] for down, across in NEIGHBOURS], axis=1
    )
    known = near >= 0
    own = np.repeat(node[rows, columns], known.sum(axis=1))
    return own, near[known]


def _along(corners: Floats) -> Floats:
    """Cells from the beginning of a way to each of its corners."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=1)))])


def _evenly(along: Floats) -> Floats:
    return np.linspace(0.0, along[-1], EVEN_PLACES)


def _close_to_corners(along: Floats) -> Floats:
    """Lay places half a cell, one, two and so on before and after each corner."""
    before = (along[1:-1, None] - CLOSE_CELLS).clip(along[:-2, None])
    after = (along[1:-1, None] + CLOSE_CELLS).clip(None, along[2:, None])
    return np.concatenate([before, after], axis=None)
