"""A tide station: heights and currents of one place, from its constituents."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar

import numpy as np

from layers.water.currents.currents import vector
from layers.water.heights.derived import SubordinateHeights
from layers.water.stations.harmonics import Harmonics, Nodal, check_names
from seabed.array_types import Floats, Pair
from seabed.errors import WaterError

__all__ = ["Station"]


@dataclass(frozen=True, slots=True)
class HarmonicHeights:
    """Heights from constituents, metres; their mean is the height of mean level above `datum`."""

    harmonics: Harmonics
    datum: str = "MSL"

    def height_m(self, times: Any) -> Floats:
        """Metres above `datum` at UTC times."""
        return self.harmonics.value(times)


@dataclass(frozen=True, slots=True)
class AxisCurrents:
    """Currents from constituents along an axis (flood positive), and if it has one, across it.

    flood_toward_deg, ebb_toward_deg: not opposite in a bend, where there is no `across`.
    across: toward `flood_toward_deg` + 90.
    """

    along: Harmonics
    flood_toward_deg: float
    ebb_toward_deg: float
    across: Harmonics | None = None
    everywhere: ClassVar[bool] = True

    def speed_along(self, times: Any) -> Floats:
        """Speed along the axis in m/s, flood positive."""
        return self.along.value(times)

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Pair:
        """East and north, m/s, the same everywhere."""
        speed = self.along.value(times)
        toward = np.where(speed >= 0, self.flood_toward_deg, self.ebb_toward_deg)
        east, north = vector(np.abs(speed), toward)
        if self.across is None:
            return east, north
        side = vector(self.across.value(times), self.flood_toward_deg + 90.0)
        return east + side[0], north + side[1]


@dataclass(frozen=True, slots=True)
class Station:
    """What is known of the tide at one place.

    Attributes
    ----------
    name, source, licence : str
    longitude, latitude : float
        Degrees, WGS 84; NaN if unknown.
    timezone : str
        The place's zone, for people; constituents are always on Greenwich.
    heights : HarmonicHeights, SubordinateHeights or None
    currents : AxisCurrents or None
    datums_m : dict of str to float
        Heights of other datums above that of `heights`.
    notes : tuple of str
        What an importer left out or assumed.
    """

    name: str
    longitude: float = np.nan
    latitude: float = np.nan
    timezone: str = "UTC"
    source: str = ""
    licence: str = ""
    heights: HarmonicHeights | SubordinateHeights | None = None
    currents: AxisCurrents | None = None
    datums_m: dict[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def make_harmonics(
    names: list[str],
    amplitude: Floats,
    phase_deg: Floats,
    mean: float = 0.0,
    *,
    nodal: Nodal = "daily",
    file: Any = None,
) -> Harmonics:
    """Check and put together constituents.

    Raises WaterError if there are none, a name is unknown or comes twice, or a number is not
    finite.
    """
    if not names:
        raise WaterError(
            "there are no constituents", file=file, do="At least one is needed, M2 or K1 first."
        )
    check_names(names, file=file)
    bad = ~np.isfinite(amplitude) | ~np.isfinite(phase_deg) | (amplitude < 0)
    if bad.any():
        raise WaterError(
            f"constituent {names[int(np.argmax(bad))]} has no valid amplitude or phase",
            file=file,
            do="Amplitudes are 0 or more, phases are degrees.",
        )
    return Harmonics(tuple(names), amplitude, phase_deg % 360.0, mean, nodal)
