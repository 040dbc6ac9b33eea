"""No file leads out onto the network: only an address that the user names is fetched.

The raster library follows what a virtual mosaic names, which may be an address, and knows one by
its content, whatever the file is called.
"""

from __future__ import annotations

import html
import re
from pathlib import Path
from typing import Final

from seabed.errors import GridError

__all__ = ["OFFLINE", "refuse_hidden_addresses"]

OFFLINE: Final = {
    "CPL_VSIL_CURL_ALLOWED_FILENAME": "-",
    "GDAL_HTTP_PROXY": "127.0.0.1:9",
    "GDAL_HTTP_MAX_RETRY": "0",
}
"""Settings of the raster library under which it reaches nothing: no file of the network has this
name, and what asks all the same is sent to this machine's discard port (RFC 863)."""

HEAD_BYTES: Final = 4096
MOST_DEEP: Final = 8
_OUTWARD: Final = ("/vsi", "://")
_NAMED: Final = re.compile(r"<source(?:filename|dataset)\b[^>]*>([^<]+)<", re.IGNORECASE)


def refuse_hidden_addresses(source: str | Path, *, deep: int = 0) -> None:
    """Refuse a virtual mosaic that would fetch from the network unasked, or one that names such.

    Parameters
    ----------
    source : str or Path
        A file of any kind; only a virtual mosaic is looked at.
    deep : int
        How many virtual mosaics led here.

    Raises
    ------
    GridError
        If it leads out, or through more than eight mosaics.
    """
    path = Path(source)
    try:
        with path.open("rb") as stream:
            if b"<vrtdataset" not in stream.read(HEAD_BYTES).lower():
                return
        text = html.unescape(path.read_text(encoding="utf-8", errors="replace"))
    except OSError:
        return  # which its reader says
    if any(word in text.lower() for word in _OUTWARD):
        raise GridError(
            "this virtual mosaic points to addresses on the network",
            file=path,
            do="Fetch its tiles and name them, or name one address yourself.",
        )
    if deep >= MOST_DEEP:
        raise GridError(
            "this virtual mosaic names mosaics that name mosaics without end", file=path
        )
    for name in _NAMED.findall(text):
        for inner in (path.parent / name.strip(), Path(name.strip())):
            if inner.is_file():
                refuse_hidden_addresses(inner, deep=deep + 1)
                break
