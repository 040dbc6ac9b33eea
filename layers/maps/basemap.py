"""An online base map, where the user named one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit


@dataclass(frozen=True, slots=True)
class Basemap:
    """Pictures of the land from a server of the user's choice.

    The page asks it for nothing until the user ticks it there.

    Attributes
    ----------
    address : str
        With ``{z}``, ``{x}`` and ``{y}`` in it.
    credit : str
        The credit that its makers ask for.
    """

    address: str
    credit: str = ""

    @property
    def host(self) -> str:
        """The server that learns which water is looked at."""
        return urlsplit(self.address).netloc.rpartition("@")[2]

    @property
    def server(self) -> str:
        """Scheme and host."""
        return f"{urlsplit(self.address).scheme}://{self.host}"

    @property
    def warning(self) -> str:
        """What the user must know."""
        return (
            f"While the base map is shown, each picture that it loads shows {self.host} where you "
            "fish. It loads nothing until you switch it on, on the map."
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
