"""An online base map, where the user named one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

__all__ = ["Basemap", "pack_basemap", "security_policy"]


@dataclass(frozen=True, slots=True)
class Basemap:
    """Pictures of the land from a server of the user's choice.

    The page asks it for nothing until the user ticks it there.

    Attributes
    ----------
    address : str
        With ``{z}``, ``{x}`` and ``{y}`` in it.
    credit : str
        What its makers want said on the map.
    """

    address: str
    credit: str = ""

    @property
    def host(self) -> str:
        """The server that learns which water is looked at."""
        return urlsplit(self.address).netloc.rpartition("@")[2]

    @property
    def warning(self) -> str:
        """What the user has to know."""
        return (
            f"While the base map is shown, {self.host} learns from each picture it is asked for "
            "where you fish. Nothing is asked for until you switch it on, on the map."
        )


def pack_basemap(basemap: Basemap | None) -> dict[str, Any] | None:
    """Pack for the page."""
    if basemap is None:
        return None
    return {
        "address": basemap.address,
        "credit": basemap.credit,
        "host": basemap.host,
        "warning": basemap.warning,
    }


def security_policy(basemap: Basemap | None) -> str:
    """Say what the browser may load: nothing from outside but the base map's pictures.

    Content Security Policy, level 2 (W3C, 2016).
    """
    pictures = "data: blob:"
    if basemap is not None:
        pictures += f" {urlsplit(basemap.address).scheme}://{basemap.host}"
    return (
        f"default-src 'none'; img-src {pictures}; style-src 'unsafe-inline'; "
        "script-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
    )
