"""A year of minutes from 37 constituents: ours against two tide libraries, in one run."""

from __future__ import annotations

import numpy as np
import pandas as pd

from benchmarks.rows import Row, seconds
from layers.water.stations.harmonics import Harmonics, canonical_name

__all__ = ["run"]

# fmt: off
NAMES = [
    "M2", "S2", "N2", "K1", "M4", "O1", "M6", "MK3", "S4", "MN4", "NU2", "S6", "MU2", "2N2", "OO1",
    "LAM2", "S1", "M1", "J1", "MM", "SSA", "SA", "MSF", "MF", "RHO", "Q1", "T2", "R2", "2Q1", "P1",
    "2SM2", "M3", "L2", "2MK3", "K2", "M8", "MS4",
]
# fmt: on
HATYAN = {"lambda2": "LABDA2", "rho1": "RO1"}


def run() -> list[Row]:
    """Time each on 525,600 minutes, UTC."""
    rng = np.random.default_rng(1)
    amplitude, phase = rng.uniform(0.0, 0.5, len(NAMES)), rng.uniform(0, 360, len(NAMES))
    minutes = np.arange("2031-01-01", "2032-01-01", dtype="datetime64[m]").astype("datetime64[ns]")
    ours = seconds(lambda: Harmonics(tuple(NAMES), amplitude, phase).value(minutes))
    work = "tide: a year of minutes, 37 constituents"
    rows = []
    for name, reference in (("pyTMD", _pytmd), ("hatyan", _hatyan)):
        theirs = seconds(lambda use=reference: use(amplitude, phase, minutes), times=1)
        rows.append(Row.of(work, name, ours, theirs))
    return rows


def _pytmd(amplitude: np.ndarray, phase: np.ndarray, minutes: np.ndarray) -> np.ndarray:
    from pyTMD.constituents import arguments

    mjd = (minutes - np.datetime64("1858-11-17", "ns")) / np.timedelta64(86400 * 10**9, "ns")
    u, f, v = arguments(mjd, [canonical_name(n) for n in NAMES], corrections="FES")
    return (f * amplitude * np.cos(np.radians(v - phase) + u)).sum(axis=1)


def _hatyan(amplitude: np.ndarray, phase: np.ndarray, minutes: np.ndarray) -> np.ndarray:
    import hatyan

    names = [HATYAN.get(canonical_name(n), canonical_name(n).upper()) for n in NAMES]
    table = pd.DataFrame({"A": amplitude, "phi_deg": phase}, index=names)
    table.attrs |= {
        "nodalfactors": True, "fu_alltimes": False, "xfac": False, "source": "schureman",
    }  # fmt: skip
    return hatyan.prediction(table, times=pd.DatetimeIndex(minutes))["values"].to_numpy()
