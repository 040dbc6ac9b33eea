"""The shortest way over open cells, pulled straight."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra

from layers.planning.safe import looked_along

__all__ = ["Lattice", "Way"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

REST_COUNTS: Final = 10.0
"""A metre that is left to the end counts as ten on the way.  Our choice, no source."""

PULLED_POINTS: Final = 64
NEIGHBOURS: Final = ((0, 1), (1, 0), (1, 1), (1, -1))


@dataclass(frozen=True, slots=True)
class Way:
    """A way over open cells.

    Attributes
    ----------
    points : ndarray of float64, shape (2, n)
        Rows and columns of its corners.
    metres : float
        Its length.
    arrived : bool
        Whether it ends where it was to end, not as near to it as it can.
    """

    points: Floats
    metres: float
    arrived: bool


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """Cells of which some are open.

    Places are rows and columns from the outer corner: the middle of the first cell is (0.5, 0.5).

    Attributes
    ----------
    closes : ndarray of float32, shape (rows, columns)
        A cell is open where this is no less than `wanted`.
    wanted : float
    easting, northing : ndarray of float64, shape (rows,)
        Size of the cells of each row, metres.
    """

    closes: NDArray[np.float32]
    wanted: float
    easting: Floats
    northing: Floats

    def clear(self, start: Floats, end: Floats) -> NDArray[np.bool_]:
        """Say which straight legs cross open cells alone, looked at every half cell.

        Parameters
        ----------
        start, end : ndarray of float64, shape (2, n)
        """
        row, column = np.stack([start, end], axis=1)
        wanted = np.full(start.shape[1], self.wanted, np.float32)
        blocked = looked_along(self.closes, self.closes, row, column, wanted)
        return np.asarray(blocked == 0)

    def metres(self, start: Floats, end: Floats) -> Floats:
        """Lengths of straight legs; arguments as `clear`."""
        row = np.clip((start[0] + end[0]) / 2, 0, len(self.easting) - 1).astype(int)
        down, across = end - start
        return np.asarray(np.hypot(down * self.northing[row], across * self.easting[row]))

    def way(self, start: Floats, end: Floats) -> Way | None:
        """Find the shortest way from an open place to another, or as near to it as can be.

        Parameters
        ----------
        start, end : ndarray of float64, shape (2,)

        Returns
        -------
        Way or None
            None if the start is closed.
        """
        node, at = self._nodes()
        first, last = self._node_of(node, start), self._node_of(node, end)
        if first < 0:
            return None
        away, before = dijkstra(
            self._graph(node, at), directed=False, indices=first, return_predecessors=True
        )
        arrived = last >= 0 and bool(np.isfinite(away[last]))
        if not arrived:
            rest = self.metres(at, np.repeat(end[:, None], at.shape[1], axis=1))
            last = int(np.argmin(away + REST_COUNTS * rest))
        passed = [last]
        while before[passed[-1]] >= 0:
            passed.append(int(before[passed[-1]]))
        path = np.column_stack([start, at[:, passed[::-1]], *([end] if arrived else [])])
        corners = self._pulled(path)
        return Way(corners, float(self.metres(corners[:, :-1], corners[:, 1:]).sum()), arrived)

    def _nodes(self) -> tuple[Ints, Floats]:
        """Give each open cell a number and closed ones -1, and say where each open one lies."""
        is_open = self.closes >= self.wanted
        node = np.full(is_open.shape, -1)
        node[is_open] = np.arange(np.count_nonzero(is_open))
        return node, np.array(np.nonzero(is_open), float) + 0.5

    def _node_of(self, node: Ints, place: Floats) -> int:
        row, column = np.floor(place).astype(int)
        inside = 0 <= row < node.shape[0] and 0 <= column < node.shape[1]
        return int(node[row, column]) if inside else -1

    def _graph(self, node: Ints, at: Floats) -> csr_matrix:
        """Join open cells to their eight neighbours.

        A diagonal leg between two closed cells touches their common corner alone.
        """
        rows, columns = node.shape
        pairs = []
        for down, across in NEIGHBOURS:
            one = node[: rows - down, max(0, -across) : columns - max(0, across)]
            other = node[down:, max(0, across) : columns + min(0, across)]
            both = (one >= 0) & (other >= 0)
            pairs.append((one[both], other[both]))
        one, other = (np.concatenate(side) for side in zip(*pairs, strict=True))
        lengths = self.metres(at[:, one], at[:, other])
        return csr_matrix((lengths, (one, other)), shape=(at.shape[1], at.shape[1]))

    def _pulled(self, path: Floats) -> Floats:
        """Pull a way straight: leave out every corner past which the next one can be seen."""
        corners = self._farthest_seen(path)
        if corners.shape[1] == 2:
            return corners
        return self._shortest_seen(_divided(corners, PULLED_POINTS))

    def _farthest_seen(self, path: Floats) -> Floats:
        kept, count = [0], path.shape[1]
        while kept[-1] < count - 1:
            here = kept[-1]
            onward = path[:, here + 1 :]
            seen = self.clear(np.repeat(path[:, here, None], onward.shape[1], axis=1), onward)
            seen[0] = True  # neighbours
            kept.append(here + 1 + int(np.flatnonzero(seen)[-1]))
        return path[:, kept]

    def _shortest_seen(self, path: Floats) -> Floats:
        """Find the shortest way over points of a way that see each other, in their order."""
        count = path.shape[1]
        one, other = np.triu_indices(count, 1)
        lengths = self.metres(path[:, one], path[:, other])
        lengths[~self.clear(path[:, one], path[:, other]) & (other > one + 1)] = np.inf
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


def _divided(corners: Floats, count: int) -> Floats:
    """Lay about so many points more along a way, its corners kept."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=1)))])
    places = np.union1d(along, np.linspace(0, along[-1], count))
    return np.array([np.interp(places, along, part) for part in corners])
