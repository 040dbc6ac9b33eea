"""HDF5 files keep to themselves: no part of one may lie in another file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import h5py

from seabed.errors import GridError
from seabed.loaders.layer import damaged

__all__ = ["refuse_outward_links"]


def refuse_outward_links(data: h5py.File, source: str | Path) -> None:
    """Refuse a file that leads to others: a name of another file can be that of another machine.

    Raises
    ------
    GridError
        If it has a link to another file, or a data set whose numbers lie in one.
    """
    outward: list[str] = []

    def look_at_link(name: str, link: Any) -> bool | None:
        if isinstance(link, h5py.ExternalLink):
            outward.append(name)
        return bool(outward) or None

    def look_at_part(name: str, part: Any) -> bool | None:
        if isinstance(part, h5py.Dataset) and (part.is_virtual or part.external):
            outward.append(name)
        return bool(outward) or None

    try:
        data.visititems_links(look_at_link)
        if not outward:
            data.visititems(look_at_part)
    except SystemError as error:  # a name in it is no text
        raise damaged(source) from error
    if outward:
        raise GridError(
            "parts of it lie in another file",
            file=source,
            where=outward[0],
            do="Put everything into one file; other files are not followed.",
        )
