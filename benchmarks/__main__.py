"""Run the benchmarks named on the command line, or all of the page, and print one table.

With ``--write FILE`` the table goes into a page of the docs, with what it was measured on.
"""

from __future__ import annotations

import argparse
import math
import os
import platform
import sys
import traceback
from collections.abc import Iterable
from datetime import date
from importlib import import_module
from importlib.metadata import version
from pathlib import Path
from pkgutil import walk_packages

from benchmarks.rows import Row

REFERENCES = ("numpy", "scipy", "numba", "shapely", "rasterio", "geopandas", "xarray")
ELSEWHERE = {"ranking_worlds", "runs", "structure_worlds", "survey_changes"}
"""Run by name: their figures are in `docs/how_well.md`."""


def main(words: list[str]) -> int:
    places = {
        module.name.rpartition(".")[2]: module.name
        for module in walk_packages([str(Path(__file__).parent)], "benchmarks.")
        if not module.ispkg and "._" not in module.name and ".worlds." not in module.name
    }
    known = sorted(places)
    parser = argparse.ArgumentParser(prog="python -m benchmarks")
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(known))
    parser.add_argument("--write", type=Path, metavar="FILE", help="the page for the table")
    asked = parser.parse_args(words)
    if unknown := set(asked.names) - set(known):
        print(f"no benchmark {', '.join(sorted(unknown))}; there are {', '.join(known)}")
        return 2
    if asked.names and asked.write:
        print("the page holds the whole table: name none with --write")
        return 2
    loads = [_load()]
    groups: dict[str, list[Row]] = {}
    failed: list[str] = []
    for name in asked.names or (name for name in known if name not in ELSEWHERE):
        module = import_module(places[name])
        if hasattr(module, "run"):
            print(f"{name} …", file=sys.stderr, flush=True)
            try:
                groups[name] = [Row(*row) for row in module.run()]
            except Exception:  # noqa: BLE001 (the others are still worth their time)
                traceback.print_exc()
                failed.append(name)
                continue
            print(listed(groups[name]), file=sys.stderr, flush=True)
    print(listed(row for rows in groups.values() for row in rows))
    if asked.write and groups:
        asked.write.write_text(page(groups, [*loads, _load()]), encoding="utf-8")
    if failed:
        print(f"no result of {', '.join(failed)}")
    return 1 if failed else 0


def listed(rows: Iterable[Row]) -> str:
    return "\n".join(
        f"- {work}: {_figure(ours)}"
        + ("" if math.isnan(ratio) else f", {_figure(ratio)}× {reference}")
        for work, reference, ours, _, ratio in rows
    )


def _figure(value: float) -> str:
    return "-" if math.isnan(value) else f"{value:.3g}"


def page(groups: dict[str, list[Row]], loads: list[float]) -> str:
    """Give the page of the docs: for each group its rows."""
    libraries = ", ".join(f"{name} {version(name)}" for name in REFERENCES)
    parts = [
        "# Benchmarks",
        "Written by `make bench` (`python -m benchmarks NAME` runs one part). Seconds, unless the "
        "line says otherwise, and ratios to a reference or limit in the same process: below 1 ours "
        "is quicker. Ratios carry further.",
        f"{date.today()}: {os.cpu_count()} processors, {platform.system()} {platform.machine()}, "
        f"Python {platform.python_version()}, {libraries}. Load before "
        f"{loads[0]:.1f}, after {loads[-1]:.1f}.",
    ]
    for name, rows in groups.items():
        parts += [f"## {name.replace('_', ' ').capitalize()}", listed(rows)]
    return "\n\n".join(parts) + "\n"


def _load() -> float:
    return os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
