"""Files that a page sends: written to disk as they come, bounded, whole or absent."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Final

from seabed.errors import OutputError, SeabedError
from seabed.files import replacing

_MEGA: Final = 1024 * 1024
LARGEST: Final = {
    "grids": 8192 * _MEGA,
    "charts": 64 * _MEGA,
    "tracks": 512 * _MEGA,
    "catches": 32 * _MEGA,
    "photos": 64 * _MEGA,
    "tides": 32 * _MEGA,
    "soundings": 512 * _MEGA,
}
"""The largest file of each folder, in bytes."""


async def receive(chunks: AsyncIterator[bytes], target: Path) -> Path:
    """Write a file from chunks as they come.

    Parameters
    ----------
    chunks : async iterator of bytes
    target : Path
        In one of the folders of `LARGEST`; nothing may be there.

    Raises
    ------
    SeabedError
        If it is empty, or larger than such a file may be; nothing is left then.
    OutputError
        If it can't be written.
    """
    largest = LARGEST[target.parent.name]
    size = 0
    with replacing(target, result=False) as partial, partial.open("wb") as stream:
        async for chunk in chunks:
            size += len(chunk)
            if size > largest:
                raise SeabedError(
                    f"the file is larger than {largest // _MEGA:,} MB",
                    file=target.name,
                    do="Cut it to the water that you fish, and send that.",
                )
            stream.write(chunk)
        if not size:
            raise SeabedError("the file is empty", file=target.name)
        if target.exists():
            raise OutputError("a file of this name exists already", file=target.name)
    return target
