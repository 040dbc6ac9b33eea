"""HDF5: the tree of a file in plain values, and numbers of its data sets."""

from __future__ import annotations

from typing import Any, Final

import h5py
import numpy as np

MOST_PARTS: Final = 50_000
LONGEST: Final = 10_000
"""A file with more parts than this is refused; a longer attribute is left out."""

Node = tuple[dict[str, Any], tuple[int, ...] | None, tuple[str, ...]]


def tree(path: str) -> tuple[str, dict[str, Node]]:
    """Attributes, shape (None for a group) and fields of each part; first, what leads outward.

    No part of a file may be in another: the name of that can be the name of another machine.
    """
    nodes: dict[str, Node] = {}
    outward: list[str] = []

    def look_at_link(name: str, link: Any) -> bool | None:
        if isinstance(link, h5py.ExternalLink):
            outward.append(name)
        return bool(outward) or None

    def look_at_part(name: str, part: Any) -> bool | None:
        is_data = isinstance(part, h5py.Dataset)
        if is_data and (part.is_virtual or part.external):
            outward.append(name)
        nodes[name] = (
            plain_attributes(part.attrs),
            part.shape if is_data else None,
            tuple(part.dtype.names or ()) if is_data else (),
        )
        if len(nodes) > MOST_PARTS:
            raise ValueError("too many parts")
        return bool(outward) or None

    with h5py.File(path) as data:
        data.visititems_links(look_at_link)
        if not outward:
            nodes[""] = plain_attributes(data.attrs), None, ()
            data.visititems(look_at_part)
    return (outward[0] if outward else ""), nodes


def plain_attributes(attributes: Any) -> dict[str, Any]:
    """Attributes that are numbers or text; those that can't be read are left out."""
    plain = {}
    for name in attributes:
        try:
            value = attributes[name]
        except (OSError, TypeError, ValueError, RuntimeError, KeyError):
            continue
        if isinstance(value, bytes):
            value = value.decode("utf-8", errors="replace")
        kind = np.asarray(value).dtype.kind
        texts = kind == "O" and all(isinstance(one, str) for one in np.ravel(value))
        if (kind in "biufSU" or texts) and np.size(value) <= LONGEST:
            plain[name] = value
    return plain


def read(
    path: str, names: list[str], fields: list[str], index: tuple[slice | int, ...] = ()
) -> list[list[Any]]:
    """Numbers of several data sets, a list a field; without fields one list of all there is."""
    with h5py.File(path) as data:
        if not fields:
            return [[data[name][index] for name in names]]
        return [[data[name].fields(field)[index] for name in names] for field in fields]
