"""Every command that reads files, over hostile ones; run by its path, watched from outside.

Prints a row for each: exit code, words, and the last line printed.
"""

from __future__ import annotations

import contextlib
import io
import json
import sys
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import hostile_files as hostile

AREA = """[area]
timezone = "Etc/GMT+2"
[grid]
files = ["{grid}"]
[charts]
files = ["{chart}"]
[water]
heights = "{heights}"
currents = "{currents}"
flood_toward = 45
[logbook]
file = "{log}"
"""


def commands(folder: Path, demo: Path, address: str) -> Iterator[list[str]]:
    """Give the words of each run; `demo` is a copy of the demo area."""
    good = {
        "grid": demo / "sound.tif", "chart": demo / "XX5TOLLI.000",
        "heights": demo / "tide_table.csv", "currents": demo / "current_table.csv",
        "log": folder / "none.gpkg",
    }  # fmt: skip
    charts = hostile.chart_files(folder / "charts", address)
    packages = hostile.packages(folder / "packages", address)
    grids = hostile.grids(folder / "grids", address)
    gpx = hostile.gpx(folder / "tracks", address)
    water = [
        *hostile.under_other_names(charts[1], [".csv", ".json", ".h5", ".toml", ".jpg", ".nmea"]),
        gpx, *hostile.linked(folder / "linked", address),
    ]  # fmt: skip
    out = ["--out", str(folder / "out")]
    day = ["--date", "2031-06-14"]
    hours = [*day, "--from", "9:00", "--to", "9:20"]
    for path in (*charts, *packages, *grids, *water):
        yield ["check", str(path)]
    for path in (charts[1], charts[-1]):
        yield ["scout", str(good["grid"]), "--box=-33.392,46.19,-33.38,46.197",
               "--charts", str(path), *out]  # fmt: skip
        yield ["plan", "--area", str(demo / "area.toml"), "--charts", str(path), *hours, *out]
    for path in (grids[0], grids[1], grids[-1]):
        yield ["scout", str(path), *out]
        yield ["scout", str(path), "--chunk", "64", *out]
        yield ["picture", str(path), "--estimate", *out]
        yield ["trip", str(demo / "trip_2a.gpx"), "--grid", str(path), *out]
        yield ["soundings", str(demo / "trip_2a.gpx"), "--grid", str(path), "--no-tide", *out]
    for path in water:
        yield ["tide", "--heights", str(path), *day]
        yield ["tide", "--currents", str(path), *day]
        yield ["tide", "--station", str(path), *day, *out]
        yield ["trip", str(path), *out]
        yield ["trip", str(demo / "trip_2a.gpx"), "--catches", str(path), *out]
        yield ["soundings", str(path), "--grid", str(good["grid"]), "--no-tide", *out]
        yield ["tide", "--learn", str(path), "--heights", str(good["heights"]), *out]
    yield ["trip", str(demo / "trip_2a.gpx"), "--photos", str(folder / "charts"), *out]
    for path in packages:
        yield ["season", "--log", str(path)]
        yield ["season", "--log", str(folder / "new.gpkg"), "--merge", str(path)]
        yield ["marks", str(path), "--out", str(folder / "marks.gpx")]
        yield ["picture", str(good["grid"]), "--structure", str(path), "--estimate", *out]
    for key, path in (
        ("grid", grids[0]), ("grid", grids[-3]), ("chart", charts[1]), ("chart", charts[5]),
        ("heights", water[-1]), ("currents", water[-1]), ("log", packages[1]),
    ):  # fmt: skip
        area = folder / "area.toml"
        named = {name: one.as_posix() for name, one in (good | {key: path}).items()}
        area.write_text(AREA.format(**named), encoding="utf-8")
        yield ["check", str(area)]
        yield ["tide", "--area", str(area), *day]
        yield ["season", "--area", str(area)]
        if key in {"grid", "chart"}:
            yield ["plan", "--area", str(area), *hours, *out]


def run(words: list[str]) -> tuple[int | str, str]:
    """Run a command in this process."""
    from layers.cli.main import main

    said = io.StringIO()
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            main(words)
        code: int | str | None = "no exit"
    except SystemExit as ended:
        code = ended.code
    except Exception as error:  # noqa: BLE001  (any is a fault, listed by name)
        code = repr(error)
    last = said.getvalue().strip().splitlines()
    return 0 if code is None else code, last[-1] if last else ""


if __name__ == "__main__":
    where, area, listener = sys.argv[1:]
    for words in commands(Path(where), Path(area), listener):
        code, last = run(words)
        sys.stdout.write(json.dumps([code, words, last]) + "\n")
