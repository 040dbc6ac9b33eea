"""All that is found in one chunk."""

from __future__ import annotations

from typing import Any

from numpy.typing import NDArray

from seabed.coasts.bands import band_in
from seabed.coasts.block import read_block
from seabed.coasts.isobaths import contours_in
from seabed.coasts.overview import overview_in
from seabed.coasts.peaks import KINDS, peaks_in
from seabed.coasts.plan import Blocks, Chunk, Plan
from seabed.coasts.scarps import edges_in

__all__ = ["worked"]


def worked(blocks: Blocks, plan: Plan, chunk: Chunk) -> dict[str, NDArray[Any]]:
    """Read a chunk and find what it holds; pure, so that any process may do it.

    Returns
    -------
    dict of str to ndarray
        ``contours/...``, ``band/...``, ``edges/...``, ``hump/...``, ``hole/...`` and
        ``overview/...``, each as the functions of this room give them.
    """
    block = read_block(blocks, plan, chunk)
    found = {
        "contours": contours_in(block),
        "band": band_in(block),
        "edges": edges_in(block),
        "overview": overview_in(block),
        **{str(kind): peaks_in(block, kind) for kind in KINDS},
    }
    return {f"{name}/{key}": array for name, part in found.items() for key, array in part.items()}
