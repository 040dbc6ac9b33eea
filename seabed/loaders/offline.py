"""No file leads out onto the network: only an address that the user names is fetched."""

from __future__ import annotations

from typing import Final

OFFLINE: Final = {
    "CPL_VSIL_CURL_ALLOWED_FILENAME": "-",
    "GDAL_HTTP_PROXY": "127.0.0.1:9",
    "GDAL_HTTP_MAX_RETRY": "0",
}
"""Settings of the raster and the vector library under which they reach nothing, a second bolt
behind their one driver: no file of the network has this name, and what asks anyway is sent
to this machine's discard port (RFC 863)."""
