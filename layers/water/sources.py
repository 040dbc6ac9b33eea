"""Sources of tide heights and currents, each by its kind of file."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

from layers.area import is_current
from layers.water.currents.currents import Currents, FixedCurrent, check_current, read_current_table
from layers.water.currents.hourly import are_hours, has_hours, parse_hours, read_hours
from layers.water.heights._heights import Heights, read_high_low_table
from layers.water.learned.learned_file import LEARNED_FORMAT, learned_of
from seabed.errors import WaterError
from seabed.tables.documents import read_json
from seabed.units import parse_speed

HDF5: Final = {".h5", ".hdf5", ".hdf"}


def read_heights(
    path: str | Path,
    *,
    timezone: str = "UTC",
    date_order: str = "",
    unit: str = "",
    longitude: float | None = None,
    latitude: float | None = None,
) -> Heights:
    """Read a source of tide heights.

    Parameters
    ----------
    path : str or Path
        A high/low table (CSV), a station file or other station JSON, or S-104 (HDF5).
    timezone : str
        The zone of times without an offset in a table.
    date_order : str
        ``"dmy"`` or ``"mdy"``, of dates in a table that can be read two ways.
    unit : str
        ``"m"`` or ``"ft"``, of heights in a table that names no unit.
    longitude, latitude : float, optional
        The place, for S-104.

    Raises
    ------
    WaterError
        If the file can't be read or does not hold together.

    Examples
    --------
    >>> import numpy as np
    >>> heights = read_heights("tide_table.csv", timezone="Etc/GMT+2")
    >>> heights.height_m(np.array(["2031-06-14T10:00"], "datetime64[ns]")).round(2).tolist()
    [0.64]
    """
    path = Path(path)
    kind = path.suffix.lower()
    if kind == ".json":
        from layers.water.stations.importers import import_station  # noqa: PLC0415  (pyTMD: half a second)

        station = import_station(path)
        if station.heights is None:
            raise WaterError("is a station of currents, not of heights", file=path)
        return station.heights
    if kind in HDF5:
        from layers.water.currents.s100 import read_s104  # noqa: PLC0415

        return read_s104(path, longitude=longitude, latitude=latitude)
    return read_high_low_table(path, timezone=timezone, date_order=date_order, unit=unit)


def read_currents(
    path: str | Path,
    *,
    timezone: str = "UTC",
    date_order: str = "",
    unit: str = "",
    flood_toward: float | None = None,
    ebb_toward: float | None = None,
    heights: Heights | None = None,
) -> Currents:
    """Read a source of currents.

    Parameters
    ----------
    path : str or Path
        A table of slacks and greatest floods and ebbs, or of hours from high water (CSV), a station
        file or other station JSON, a current learned from drifts (JSON), or S-111 (HDF5).  In
        words a fixed current, ``"0.8 kn toward 40"``, or one by hours from high water.
    timezone : str
        The zone of times without an offset in a table.
    date_order : str
        ``"dmy"`` or ``"mdy"``, of dates in a table that can be read two ways.
    unit : str
        ``"kn"`` or ``"m/s"``, of speeds in a table that names no unit.
    flood_toward, ebb_toward : float, optional
        Degrees true; needed for a table.  One alone gives the other its opposite.
    heights : Heights, optional
        The station's tide; needed for a learned current and for hours from high water.

    Raises
    ------
    WaterError
        If the file can't be read or does not hold together.

    Examples
    --------
    >>> import numpy as np
    >>> currents = read_currents(
    ...     "current_table.csv", timezone="Etc/GMT+2", flood_toward=352, ebb_toward=172
    ... )
    >>> east, north = currents.velocity(np.array(["2031-06-14T10:00"], "datetime64[ns]"))
    >>> north.round(2).tolist()
    [0.19]
    """
    if isinstance(path, str) and is_current(path):
        return parse_hours(path, heights) if are_hours(path) else parse_current(path)
    path = Path(path)
    kind = path.suffix.lower()
    if kind == ".json":
        record = read_json(path, WaterError)
        if isinstance(record, dict) and record.get("format") == LEARNED_FORMAT:
            if heights is None:
                raise WaterError(
                    "a learned current needs the tide it is tied to",
                    file=path,
                    do="Name the station's tide: {water.heights}.",
                )
            return learned_of(record, heights, file=path)
        from layers.water.stations.importers import import_station  # noqa: PLC0415  (pyTMD: half a second)

        station = import_station(path)
        if station.currents is None:
            raise WaterError("is a station of heights, not of currents", file=path)
        return station.currents
    if kind in HDF5:
        from layers.water.currents.s100 import read_s111  # noqa: PLC0415

        return read_s111(path)
    if has_hours(path):
        return read_hours(path, heights, unit=unit)
    return read_current_table(
        path,
        timezone=timezone,
        date_order=date_order,
        unit=unit,
        flood_toward=flood_toward,
        ebb_toward=ebb_toward,
    )


def needs_tide(source: str | Path) -> bool:
    """Whether a source of currents is tied to the tide: it was learned, or counts from high water.

    >>> needs_tide("0.8 kn toward 40"), needs_tide("learned_current.json")
    (False, True)
    """
    if isinstance(source, str) and is_current(source):
        return are_hours(source)
    kind = Path(source).suffix.lower()
    return kind == ".json" or (kind not in HDF5 and has_hours(Path(source)))


def parse_current(text: str) -> FixedCurrent:
    """Read a fixed set and drift, ``"0.8 kn toward 40"``."""
    match = re.fullmatch(r"\s*(.+?)\s+(?:to|toward|towards)\s+(\d+(?:\.\d+)?)\s*°?\s*", text)
    if match is None or float(match.group(2)) > 360:
        raise WaterError(
            f"can't read the current {text!r}", do="Write it like 0.8 kn toward 40 (degrees true)."
        )
    speed = parse_speed(match.group(1))
    check_current(speed, text)
    return FixedCurrent(speed, float(match.group(2)) % 360.0)
