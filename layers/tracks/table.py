"""The table of fixes: its columns, and how it is joined of several files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.logs.fixes import FileFixes
from seabed.schema import Table

FIXES: Final = Table.of(
    "fixes",
    "layers.tracks.read_fixes",
    """
    time [time empty] UTC; NaT where a fix has none, before cleaning
    longitude, latitude [empty] degrees, WGS 84
    depth_m [empty] the sounder's own; NaN where not logged
    temperature_c [empty] of the water; NaN where not logged
    file [text] the path it was read from
    track, segment [int32] counted from 0 within the file
    """,
)


def fix_table(files: Sequence[FileFixes]) -> pd.DataFrame:
    """Join the fixes of several files, in the order given, as `FIXES`, with the readers' notes."""
    table = pd.DataFrame(
        {
            "time": pd.DatetimeIndex(_joined(files, "time", "datetime64[ns]")).tz_localize("UTC"),
            **{
                name: _joined(files, name, "float64")
                for name in ("longitude", "latitude", "depth_m", "temperature_c")
            },
            "file": _file_column(files),
            **{name: _joined(files, name, "int32") for name in ("track", "segment")},
        },
        columns=FIXES.names,
    )
    table.attrs["notes"] = [note for one in files for note in one.notes]
    return table


def _joined(files: Sequence[FileFixes], name: str, kind: str) -> NDArray[Any]:
    if not files:
        return np.empty(0, kind)
    return np.concatenate([getattr(one, name) for one in files]).astype(kind, copy=False)


def _file_column(files: Sequence[FileFixes]) -> pd.Categorical:
    names = list(dict.fromkeys(one.file for one in files))
    codes = np.repeat(
        np.array([names.index(one.file) for one in files], dtype=np.int32),
        [len(one.longitude) for one in files],
    )
    return pd.Categorical.from_codes(codes, categories=pd.Index(names, dtype=object))
