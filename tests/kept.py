"""Keep what every command makes, and compare what two states of the code make.

``python tests/kept.py make FOLDER`` runs every command on the demo area and on three real files,
and keeps the files that it writes and all that it prints.  ``make FOLDER scout marks`` runs these
commands only.  To keep what an older state makes, put its checkout first:
``PYTHONPATH=OLD_CHECKOUT python tests/kept.py make FOLDER``.

``python tests/kept.py compare ONE OTHER`` prints every difference except the time of the making,
and exits with 1 if there is one.
"""

# ruff: noqa: T201 (a tool that tells what it does)

from __future__ import annotations

import contextlib
import difflib
import io
import itertools
import os
import re
import shlex
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pyogrio
import pypdf
import rasterio
import xarray as xr

DAY = "--date 2031-06-14"
REAL = "--units m --band '40-50 m' --contours '40:65:5 m'"
COMMANDS = f"""
demo --out demo
area --out area_new.toml --name Sound --grid area/sound.tif --band 15-20
check area area/area.toml area/sound.tif area/XX5TOLLI.000 area/trip_1.gpx
check area/catches.csv area/tide_table.csv area/current_table.csv --units m
scout --area area/area.toml --out scout --name-length 8
scout area/sound.tif --units m --band '5-8 m' --contours '4,6,8 m' --out scout_m
scout area/sound.tif --chunk 200 --jobs 1 --out scout_chunks
tide --area area/area.toml {DAY} --wind 'SW 8 kn' --out tide
tide --area area/area.toml {DAY} --wind '6:00 SW 8 kn' --wind '12:00 W 12 kn' --every 30
tide --currents '0.8 kn toward 40' {DAY} --units m
tide --area area/area.toml --learn area/trip_1.gpx --learn area/trip_3.gpx --out learn
trip area/trip_1.gpx --area area/area.toml --catches area/catches.csv --out trip_1 \
--log book.gpkg
trip area/trip_2a.gpx area/trip_2b.gpx --area area/area.toml --out trip_2 \
--catches area/catches.csv --log book.gpkg --wind 'SW 8 kn' --clock-offset '20 s' --rods 3
trip area/trip_3.gpx --units m --timezone Etc/GMT+2 --out trip_3 --log other.gpkg
season --log book.gpkg
season --log book.gpkg --show 2031-06-07 --area area/area.toml
season --log book.gpkg --rank --area area/area.toml --out season
season --area ../inputs/taught/area.toml --rank --out taught --onto ../inputs/taught/there.tif
season --log book.gpkg --rank --out season_bare
season --log book.gpkg --export csv --out export
season --log book.gpkg --export geojson --out export
season --log book.gpkg --export geoparquet --out export
season --log book.gpkg --share shared.gpkg --coarse '1 km'
season --log book.gpkg --merge other.gpkg
season --log book.gpkg --remove 2031-06-21
season --log book.gpkg --update
marks trip_1/trip.gpkg scout/structure.gpkg --best 3 --out marks.gpx
marks trip_1/trip.gpkg --units m --name-length 6 --out marks_m.gpx
plan --area area/area.toml {DAY} --from 7:00 --to 10:00 --wind 'SW 8 kn' --out plan
plan --area area/area.toml {DAY} --from 7:00 --to 9:00 --log book.gpkg --out plan_book \
--beside P1 --spacing '60 ft' --units m
plan --area area/area.toml {DAY} --from 7:00 --to 9:00 --free --out plan_free --units m
plan --area area/area.toml {DAY} --log book.gpkg --again '2031-06-07 #3' --out again
soundings area/trip_3.gpx --area area/area.toml --out soundings
soundings area/trip_3.gpx --grid area/sound.tif --no-tide --transducer '0.4 m' --out own \
--units m --next '0 m'
check {{bag}} {{topobathy}} {{walk}}
scout {{bag}} {REAL} --out bag
scout {{topobathy}} --area ../inputs/coarse.toml --units m --band '40-80 m' \
--contours '50:200:50 m' --out topobathy
trip {{walk}} --out walk
trip {{walk}} {{lake}} --units m --rods 1 --out walks --log walks.gpkg
scout area/sound.tif --band 'deep'
trip area/trip_1.gpx --grid {{bag}} --out refused
marks book.gpkg
season
plan {DAY}
"""
"""Each runs twice, the second time with ``--json``, in a folder of its own."""

SHIFTING = re.compile(
    r"(?<=_)[0-9a-f]{32}\b"  # ids of a map's parts
    r"|\b202\d-\d\d-\d\dT[\d:.]+(?:Z|\+00:00)|DTSTAMP:\w+"  # now; the data are of other years
    r'|[\d.]+ GB|"made":"[^"]+"'
)
"""What differs each time: ids, when a file was made, the room on the disk."""
NOTED = ".seabed-made"
"""What a folder of results was last; it says the sum of a file with its time of making in it."""
WHEN_ADDED = "added"
"""The column of a logbook that says when a trip was logged."""

MOST_SHOWN, WIDTH = 12, 120
"""Lines of a difference in text, and letters before and behind where it begins."""


def make(folder: Path, wanted: list[str]) -> None:
    """Run the commands in a folder."""
    from layers.cli.app import COMMANDS as NAMES

    folder.mkdir(parents=True)
    inputs = _inputs(folder / "inputs")
    lines = COMMANDS.format(**{name: f"../inputs/{file.name}" for name, file in inputs.items()})
    lines = ["--help", *(f"{name} --help" for name in NAMES), *lines.strip().splitlines()]
    for more, ending in (("", "txt"), (" --json", "json")):
        place = folder / (ending if ending == "json" else "words")
        place.mkdir()
        os.chdir(place)
        shutil.copytree(folder / "inputs" / "area", "area")
        for line in lines:
            name = line.split()[0]
            if (more and line.endswith("--help")) or (wanted and name not in wanted):
                continue
            file = Path("printed", f"{lines.index(line):02}_{name.lstrip('-')}.{ending}")
            file.parent.mkdir(exist_ok=True)
            file.write_text(f"$ seabed {line}{more}\n{_printed(line + more)}", encoding="utf-8")
            print(line, flush=True)


def _inputs(folder: Path) -> dict[str, Path]:
    """Lay the demo area and the real files into a folder; give the real ones."""
    sys.path.append(str(Path(__file__).parent / "cli" / "season"))
    import taught_season
    from conftest import from_registry
    from matplotlib import cbook

    import layers
    from layers.logbook import Logbook

    folder.mkdir()
    root = Path(layers.__file__).parents[1] / "demo_area"
    kinds = {".toml", ".tif", ".csv", ".gpx", ".000"}
    (folder / "area").mkdir()
    for file in root.iterdir():
        if file.suffix in kinds:
            shutil.copy(file, folder / "area")
    fetched = {
        "bag": from_registry("s100py", "2.0.1", "tests/s102/F00788_SR_8m.bag"),
        "walk": from_registry("gpxpy", "1.6.2", "test_files/korita-zbevnica.gpx"),
        "lake": from_registry("gpxpy", "1.6.2", "test_files/cerknicko-jezero.gpx"),
    }
    for file in fetched.values():
        shutil.copy(file, folder)
    data = cbook.get_sample_data("topobathy.npz")
    axes = {"latitude": data["latitude"], "longitude": data["longitude"]}
    shore = folder / "topobathy.nc"
    xr.Dataset({"topo": (tuple(axes), data["topo"])}, axes).to_netcdf(shore, engine="scipy")
    (folder / "coarse.toml").write_text('[structure]\nedge_scale = "6 km"\n')
    (folder / "taught").mkdir()
    taught_season.write_waters(folder / "taught")
    Logbook(folder / "taught" / "book.gpkg").add(taught_season.season(pattern=True))
    return fetched | {"topobathy": shore}


def _printed(line: str) -> str:
    """Run a command; give all that it prints, and its exit code."""
    from layers.cli.main import main

    out, errors = io.StringIO(), io.StringIO()
    code: object = None
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
        try:
            main(shlex.split(line))
        except SystemExit as left:
            code = left.code
    return f"{out.getvalue()}{errors.getvalue()}exit code {code or 0}\n"


def differences(one: Path, other: Path) -> Iterator[str]:
    """Tell every difference between two kept folders."""
    names = [
        {
            str(file.relative_to(root))
            for file in root.rglob("*")
            if file.is_file() and file.name != NOTED
        }
        for root in (one, other)
    ]
    for name in sorted(names[0] ^ names[1]):
        yield f"{name}: only in {one if name in names[0] else other}"
    for name in sorted(names[0] & names[1]):
        read = READERS.get(Path(name).suffix, _text)
        here, there = read(one / name), read(other / name)
        for part in sorted(here.keys() | there.keys()):
            if told := _difference(here.get(part), there.get(part)):
                yield f"{name}{f' [{part}]' if part else ''}: {told}"


def _difference(one: object, other: object) -> str:
    if isinstance(one, str) and isinstance(other, str):
        if one == other:
            return ""
        alike = itertools.takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False))
        begin = sum(1 for _ in alike)
        parts = [text[max(begin - WIDTH, 0) :].splitlines() for text in (one, other)]
        lines = list(difflib.unified_diff(*parts, n=0, lineterm=""))[2:]
        shown = [line if len(line) < 2 * WIDTH else f"{line[: 2 * WIDTH]}..." for line in lines]
        return "\n  ".join(["", *shown[:MOST_SHOWN], *["..."] * (len(shown) > MOST_SHOWN)])
    if isinstance(one, np.ndarray) and isinstance(other, np.ndarray):
        if one.shape != other.shape or one.dtype != other.dtype:
            return f"{one.dtype}{one.shape} against {other.dtype}{other.shape}"
        same = (one == other) | ((one != one) & (other != other))
        return "" if same.all() else f"{(~same).sum()} of {same.size} values differ"
    return "" if type(one) is type(other) and one == other else f"{one} against {other}"


def _text(path: Path) -> dict[str, object]:
    return {"": SHIFTING.sub("...", path.read_text(encoding="utf-8", errors="replace"))}


def _pages(path: Path) -> dict[str, object]:
    reader = pypdf.PdfReader(path)
    return {f"page {n}": page.extract_text() for n, page in enumerate(reader.pages, 1)}


def _bands(path: Path) -> dict[str, object]:
    with rasterio.open(path) as file:
        about = f"{file.profile}\n{file.tags()}\n{file.descriptions}"
        return {"about": about, "values": file.read()}


def _layers(path: Path) -> dict[str, object]:
    """Every column of every layer, geometries as well-known binary."""
    parts: dict[str, object] = {}
    for layer, kind in pyogrio.list_layers(path):
        about, fids, geometry, columns = pyogrio.raw.read(path, layer=layer, return_fids=True)
        parts[f"{layer} about"] = f"{about['crs']} {kind} {len(fids)}"
        tables = dict(zip(about["fields"], columns, strict=True))
        if geometry is not None:
            tables["geometry"] = geometry
        for name, values in tables.items():
            if name != WHEN_ADDED:
                parts[f"{layer} {name}"] = values
    return parts


def _columns(path: Path) -> dict[str, object]:
    table = pd.read_parquet(path)
    return {name: table[name].map(str).to_numpy() for name in table}


READERS: dict[str, Callable[[Path], dict[str, object]]] = {
    ".pdf": _pages,
    ".tif": _bands,
    ".gpkg": _layers,
    ".fgb": _layers,
    ".parquet": _columns,
}


def main(words: list[str]) -> int:
    """Make or compare."""
    match words:
        case ["make", folder, *wanted]:
            make(Path(folder).absolute(), wanted)
            return 0
        case ["compare", one, other]:
            told = list(differences(Path(one), Path(other)))
            print(*told, f"{len(told)} differences", sep="\n")
            return int(bool(told))
    print(__doc__)
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
