"""``seabed picture``: it states its size before it writes, and it is whole or refused."""

from __future__ import annotations

import io
import json
import sqlite3
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from affine import Affine
from PIL import Image
from shapely.geometry import LineString

from layers import jobs
from layers.cli.main import main
from layers.jobs import picture
from layers.jobs.requests import PictureRequest
from seabed.errors import OutputError, SeabedError


@pytest.fixture(scope="module")
def grid(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bank of 10 to 20 m with a hump and a step, 10 m cells, as GeoTIFF."""
    y, x = np.mgrid[0:120, 0:150].astype(np.float32)
    depth = 10 + 10 / (1 + np.exp((70 - x) / 3)) - 4 * np.exp(-((x - 30) ** 2 + (y - 60) ** 2) / 60)
    path = tmp_path_factory.mktemp("grid") / "bank.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=150, height=120, count=1, dtype="float32",
        crs="EPSG:32624", transform=Affine(10, 0, 620_000, 0, -10, 5_118_000),
    ) as file:  # fmt: skip
        file.write(depth, 1)
    return path


def request_of(grid: Path, out: Path, **more: object) -> PictureRequest:
    options = {"sign": "depth", "units": "m", "kind": ("mbtiles",), **more}
    return PictureRequest(grid=(str(grid),), out=out, **options)  # type: ignore[arg-type]


def test_an_estimate_writes_nothing_and_is_kept_to(grid: Path, tmp_path: Path) -> None:
    said = jobs.run(request_of(grid, tmp_path / "p", estimate=True, zoom="12-13"))
    assert not (tmp_path / "p").exists() and said.files == {}
    told: list[str] = []
    made = jobs.run(
        request_of(grid, tmp_path / "p", zoom="12-13"), lambda words, share: told.append(words)
    )
    assert picture.estimate_words(said.estimate) in told[: told.index(told[-1]) + 1]
    file = sqlite3.connect(tmp_path / "p" / "bottom.mbtiles")
    ((count, size),) = file.execute("SELECT count(*), sum(length(tile_data)) FROM tiles")
    assert made.tiles == count <= sum(said.estimate.tiles.values())
    # of few tiles all are painted for the estimate; coarser ones hold less
    assert size == pytest.approx(said.estimate.size, rel=0.5)
    answer = made.answer()
    assert answer["zooms"] == list(said.estimate.zooms)
    json.dumps(answer | {"files": {}})


def test_edges_humps_and_contours_are_on_the_tiles(grid: Path, tmp_path: Path) -> None:
    made = jobs.run(request_of(grid, tmp_path, zoom="14", kind=("mbtiles",), contours="12, 14 m"))
    bare = LineString([(0, 0), (1, 1)])
    far = gpd.GeoDataFrame({"edge_id": [1]}, geometry=[bare], crs="EPSG:32624")
    far.to_file(tmp_path / "far.gpkg", layer="edges")
    plain = jobs.run(
        request_of(
            grid,
            tmp_path / "plain",
            zoom="14",
            structure=(tmp_path / "far.gpkg",),
            contours="500 m",
        )
    )
    one, other = (pixels_of(each.files["mbtiles"]) for each in (made, plain))
    drawn = (np.abs(one - other).max(axis=-1) > 60).sum()
    # an edge of 1,200 m is 180 pixels and with its casing 4 wide; the hump's rim some 250, 3 wide
    assert 700 < drawn < 4000
    assert made.notes == plain.notes == ()


def pixels_of(path: Path) -> np.ndarray:
    """Pixels of all tiles, in the order of their places."""
    in_place = "SELECT tile_data FROM tiles ORDER BY tile_column, tile_row"
    tiles = sqlite3.connect(path).execute(in_place)
    pictures = [Image.open(io.BytesIO(png)).convert("RGBA") for (png,) in tiles.fetchall()]
    return np.array([np.asarray(one) for one in pictures]).astype(int)


def test_of_a_large_grid_the_structure_is_asked_for(
    grid: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(picture, "MOST_SEARCHED", 1000)
    made = jobs.run(request_of(grid, tmp_path, estimate=True, zoom="12"))
    assert made.notes[0].startswith("Edges, humps and holes are not drawn: of a grid of 18,000")


def test_another_s_file_is_kept(grid: Path, tmp_path: Path) -> None:
    theirs = tmp_path / "bottom.kmz"
    theirs.write_bytes(b"theirs")
    with pytest.raises(OutputError, match="exists already"):
        jobs.run(request_of(grid, tmp_path, kind=("mbtiles", "kmz")))
    assert theirs.read_bytes() == b"theirs" and not (tmp_path / "bottom.mbtiles").exists()


def test_pictures_of_ours_are_made_again(grid: Path, tmp_path: Path) -> None:
    kinds = ("mbtiles", "gpkg", "kmz", "pdf")
    for _ in range(2):
        jobs.run(request_of(grid, tmp_path, kind=kinds, zoom="12", paper="card"))
    for kind in kinds:
        assert (tmp_path / f"bottom.{kind}").stat().st_size > 1000


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"zoom": "12-"}, r"zoom: can't read the zooms '12-'\. Give two whole numbers of 0 to 22"),
        ({"zoom": "16-12"}, r"can't read the zooms '16-12'"),
        ({"zoom": "13-21"}, r"zoom 21 shows no more than zoom 14"),
        ({"kind": ("jpeg",)}, r"kind: no picture is of kind 'jpeg'\. Give one of mbtiles, gpkg"),
        ({"paper": "A9"}, r"no paper is called 'A9'"),
    ],
)
def test_what_can_t_be_right_is_refused(
    grid: Path, tmp_path: Path, more: dict[str, object], message: str
) -> None:
    with pytest.raises(SeabedError, match=message):
        jobs.run(request_of(grid, tmp_path / "p", **more))
    assert not (tmp_path / "p").exists()


def test_more_than_a_card_s_file_system_takes_is_refused(
    grid: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(picture, "MOST_BYTES", 3000.0)
    with pytest.raises(
        SeabedError, match=r"about \d+ kB a file, more than the 3 kB that is written\. Give"
    ):
        jobs.run(request_of(grid, tmp_path / "p", zoom="12-13"))


def test_the_command_says_zooms_and_sizes(
    grid: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["picture", str(grid), "--sign", "depth", "--out", str(tmp_path / "p")]
    with pytest.raises(SystemExit) as ended:
        main([*words, "--estimate"])
    assert not ended.value.code
    assert capsys.readouterr().out.startswith("Zooms 12 to 14: at most ")
    with pytest.raises(SystemExit) as ended:
        main([*words, "--zoom", "x"])
    assert ended.value.code == 2
    assert capsys.readouterr().err.startswith("seabed: --zoom: can't read the zooms 'x'.")
