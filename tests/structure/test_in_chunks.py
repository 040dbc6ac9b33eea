"""A grid in chunks gives what it gives in memory, to the last bit: none cut, none double."""

from __future__ import annotations

import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely
from affine import Affine
from coast_bottoms import DEGREES, UTM, coast
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter
from thoroughness import THOROUGH

from seabed.grid import make_grid, transform_of
from seabed.structure import (
    Search,
    banks_and_channels,
    contours,
    depth_band,
    edges,
    find_bottom,
    holes,
    humps,
    rank_structure,
    sand_waves,
)
from seabed.structure.blocks import running
from seabed.structure.blocks.whole import Held
from seabed.structure.overview import Overview
from seabed.structure.uncertainty import with_uncertainty

pytestmark = pytest.mark.filterwarnings("ignore:Geometry is in a geographic CRS")

SEARCH = Search(contours_m=(18.0, 10.0, 15.0, 22.0), band_m=(14.0, 19.0), hump_min_height_m=0.5)
BOTTOMS = {
    "projected": (128, {}),
    "geographic": (97, {"geographic": True}),
    "rough": (210, {"seed": 5, "noise_m": 0.3}),
}
"""Chunk, and what the bottom is like."""
TRIED = BOTTOMS if THOROUGH else ["projected"]
SHAPE = (330, 400) if THOROUGH else (230, 290)


def in_chunks(grid, search, chunk):
    """A grid worked through in chunks; all is joined before the folder goes."""
    with tempfile.TemporaryDirectory() as folder:
        bottom = find_bottom(Held(grid), search, folder=Path(folder), chunk=chunk, jobs=1)
        assert len(bottom.whole.chunks) > 1
        return tables_of(bottom)


def tables_of(bottom):
    names = ("band", "edges", "features", "axes", "waves")
    lines = pd.concat([*bottom.contours()], ignore_index=True)
    return {"contours": lines, **{name: getattr(bottom, name) for name in names}}


def in_order(table):
    """Contours by depth and place: in which order they come is left open."""
    table = table.set_geometry(shapely.normalize(table.geometry.to_numpy()))
    key = pd.Series(table.geometry.to_wkb(), table.index)
    return table.assign(key=key).sort_values(["depth_m", "key"], ignore_index=True)


def assert_the_same(one, other):
    assert one.keys() == other.keys()
    for name, table in one.items():
        ours, theirs = (
            (in_order(a).drop(columns="key") for a in (table, other[name]))
            if name == "contours"
            else (table, other[name])
        )
        exact = name != "waves"  # spectra of many windows at once round otherwise
        pd.testing.assert_frame_equal(
            pd.DataFrame(ours.drop(columns="geometry")),
            pd.DataFrame(theirs.drop(columns="geometry")),
            check_exact=exact, rtol=1e-5 if exact else 1e-6, obj=name,
        )  # fmt: skip
        assert (ours.geometry.to_wkb() == theirs.geometry.to_wkb()).all(), name


def in_several(table, grid, chunk):
    """Which features reach over a border between chunks."""
    west, south, east, north = table.geometry.bounds.to_numpy().T
    affine = transform_of(grid)
    columns = np.floor((np.stack([west, east]) - affine.c) / affine.a)
    rows = np.floor((np.stack([north, south]) - affine.f) / affine.e)
    return (columns // chunk != columns[0] // chunk).any(axis=0) | (
        rows // chunk != rows[0] // chunk
    ).any(axis=0)


@pytest.fixture(scope="module", params=TRIED)
def both(request):
    chunk, options = BOTTOMS[request.param]
    grid = coast(*SHAPE, **options)
    return grid, chunk, tables_of(find_bottom(grid, SEARCH)), in_chunks(grid, SEARCH, chunk)


def test_all_kinds_are_the_same(both):
    grid, chunk, whole, parts = both
    for name in ("contours", "band", "edges", "features", "axes"):
        assert in_several(whole[name], grid, chunk).any(), name
    assert_the_same(whole, parts)


def test_the_ranking_is_the_same(both):
    grid, _, whole, parts = both
    doubt = grid.copy(data=np.abs(grid.values) * 0.02)
    one, other = (
        rank_structure(
            with_uncertainty(tables["edges"], doubt), with_uncertainty(tables["features"], doubt),
            band=SEARCH.band_m, others=[tables["axes"]], waves=tables["waves"],
        )
        for tables in (whole, parts)
    )  # fmt: skip
    assert (one["nearest_kind"].isin(["bank", "channel"])).any()
    pd.testing.assert_frame_equal(pd.DataFrame(one), pd.DataFrame(other), check_exact=True)


def test_public_functions_give_the_same_tables(both):
    """A grid in memory is one block: each function by itself finds what the search does."""
    grid, _, whole, _ = both
    assert_the_same(
        whole,
        {
            "contours": contours(grid, SEARCH.contours_m),
            "band": depth_band(grid, *SEARCH.band_m),
            "edges": edges(grid, band=SEARCH.band_m),
            "features": together(humps(grid, min_height_m=0.5), holes(grid, min_height_m=0.5)),
            "axes": together(*banks_and_channels(grid)),
            "waves": sand_waves(grid),
        },
    )


def together(*tables):
    return pd.concat([table for table in tables if len(table)], ignore_index=True)


SMALL = Search(
    contours_m=(-0.5, 0.4), band_m=(-0.3, 0.6), edge_scale_m=16.0, edge_min_length_m=20.0,
    edge_min_drop_m=0.1, edge_min_slope_deg=0.5, hump_min_height_m=0.2,
)  # fmt: skip


@st.composite
def bottoms(draw):
    """A rough field with voids of all sizes, on cells that are square or not, metres or degrees."""
    rows, columns = draw(st.integers(40, 90)), draw(st.integers(40, 90))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    field = gaussian_filter(rng.normal(size=(rows, columns)), draw(st.floats(1.0, 6.0)))
    field = field / field.std() + 0.1 * rng.normal(size=field.shape)
    for _ in range(draw(st.integers(0, 6))):
        row, column = rng.integers(0, rows), rng.integers(0, columns)
        high, wide = rng.integers(1, 9, 2)
        field[row : row + high, column : column + wide] = np.nan
    transform = draw(st.sampled_from([UTM, DEGREES, Affine(5, 0, 4e5, 0, -3, 5e6)]))
    crs = "EPSG:4326" if transform is DEGREES else "EPSG:32631"
    return make_grid(field.astype(np.float32), transform=transform, crs=crs)


@settings(
    max_examples=25 if THOROUGH else 1, deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
@given(grid=bottoms(), chunk=st.integers(16, 60))
def test_any_bottom_in_any_chunks(grid, chunk):
    if max(grid.shape) <= chunk:
        chunk = 16
    assert_the_same(tables_of(find_bottom(grid, SMALL)), in_chunks(grid, SMALL, chunk))


def test_depths_in_whole_steps_cover_the_same_ground():
    """Lines run through the very centres of cells: where they touch, either may go on as either."""
    grid = coast(*SHAPE, steps_m=0.5)
    whole, parts = tables_of(find_bottom(grid, SEARCH)), in_chunks(grid, SEARCH, 150)
    for name in ("edges", "axes"):
        assert_the_same({name: whole[name]}, {name: parts[name]})
    for depth, lines in whole["contours"].groupby("depth_m"):
        part = parts["contours"][parts["contours"]["depth_m"] == depth]
        assert part["length_m"].sum() == pytest.approx(lines["length_m"].sum(), rel=1e-9)
        assert abs(len(part) - len(lines)) <= 2
    apart = parts["band"].union_all().symmetric_difference(whole["band"].union_all()).area
    assert apart <= 1e-9 * whole["band"].area.sum()
    assert_the_same(*({"features": a["features"].drop(columns="open")} for a in (whole, parts)))


def test_overview_is_the_mean_of_what_is_known(both):
    grid = both[0]
    bottom = find_bottom(grid, SEARCH)
    assert bottom.overview.attrs["reduced"] == 1
    np.testing.assert_allclose(bottom.overview.values, grid.values, rtol=1e-6)
    assert bottom.depth_range_m == (float(grid.min()), float(grid.max()))


def test_a_reduced_overview_has_means_and_the_same_ground():
    from seabed.structure.blocks.kind import worked
    from seabed.structure.blocks.whole import Whole, named_after

    grid, kind = coast(150, 170), Overview(2000)
    whole = Whole(Held(grid), 64)
    results = [worked(whole, {"overview": kind}, chunk) for chunk in whole.chunks]
    overview, _ = kind.join(named_after(results, "overview"), whole)
    step = overview.attrs["reduced"]
    assert step == 4
    for row, column in ((0, 0), (15, 16), (16, 15), (37, 42)):
        block = grid.values[row * step : (row + 1) * step, column * step : (column + 1) * step]
        if np.isfinite(block).any():
            assert overview.values[row, column] == pytest.approx(np.nanmean(block), rel=1e-6)
        else:
            assert np.isnan(overview.values[row, column])
    assert float(overview["x"][1]) == pytest.approx(float(grid["x"][4:8].mean()))


def test_stored_uncertainty_is_looked_up_as_that_in_memory(both):
    """Read tile by tile under the vertices, beside a whole array."""
    grid, _, whole, _ = both
    doubt = grid.copy(data=np.abs(grid.values) * 0.02)

    class Stored:
        shape = grid.shape
        transform = transform_of(grid)

        def uncertainties(self, row, column, rows, columns):
            return doubt.values[row : row + rows, column : column + columns]

    for name in ("edges", "features", "axes"):
        one, other = (with_uncertainty(whole[name], about) for about in (doubt, Stored()))
        assert one["uncertainty_m"].notna().any()
        pd.testing.assert_frame_equal(pd.DataFrame(one), pd.DataFrame(other), check_exact=True)


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="signals of POSIX")
def test_an_interrupt_waits_while_processes_begin_and_never_reaches_them():
    """They would print where they were; a terminal interrupts all of its group."""
    held = "import signal as s; print(s.SIGINT in s.pthread_sigmask(s.SIG_BLOCK, []))"
    child = ""
    with pytest.raises(KeyboardInterrupt), running._interrupts_held():
        signal.raise_signal(signal.SIGINT)
        child = subprocess.check_output([sys.executable, "-c", held], text=True)
    assert child == "True\n"
