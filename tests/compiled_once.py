"""Compile what the tests need, once, into numba's cache: ``python tests/compiled_once.py``.

`make test` does so before its workers would compile the same side by side.  Commands are run
on the demo area and on a simulated survey; what they do not call, the tests compile themselves.
"""

from __future__ import annotations

import contextlib
import io
import sys
import tempfile
from pathlib import Path

from layers.cli.main import main
from seabed.structure import Search, find_bottom
from seabed.structure.blocks.whole import Held
from seabed.terrain import aspect, curvature, geomorphons, vector_ruggedness

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parent / "soundings"))
sys.path.insert(0, str(Path(__file__).parent / "structure"))

from coast_bottoms import coast
from simulated_survey import survey, write_nmea

AREA = Path(__file__).parents[1] / "demo_area" / "area.toml"


def run(*words: str | Path) -> None:
    """Run a command; its words are for nobody."""
    try:
        with contextlib.redirect_stdout(io.StringIO()):
            main([str(word) for word in words])
    except SystemExit as ended:
        if ended.code:
            raise


def compile_all(folder: Path) -> None:
    """Use whatever has an inner loop, on little."""
    run("demo", "--out", folder / "demo")
    day = ["--date", "2031-06-14", "--from", "9:00", "--to", "9:45"]
    run("plan", "--area", AREA, *day, "--out", folder / "plan")
    sailed = survey(
        box=(2900.0, 2000.0, 3300.0, 2400.0), spacing_m=40.0, cross_m=100.0, visits=1,
        tide_error_m=0.0,
    )  # fmt: skip
    log = write_nmea(sailed, folder / "boat.nmea")
    onto = AREA.with_name("sound.tif")
    run("soundings", log, "--grid", onto, "--no-tide", "--out", folder / "sounded")
    bottom = coast(150, 200)
    aspect(bottom)
    curvature(bottom)
    geomorphons(bottom, search_m=40.0)
    vector_ruggedness(bottom, radius_m=20.0)
    find_bottom(
        Held(bottom), Search(contours_m=(15.0,), band_m=(14.0, 19.0)), folder=folder / "coast",
        chunk=100, jobs=1,
    )  # fmt: skip


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        compile_all(Path(name))
