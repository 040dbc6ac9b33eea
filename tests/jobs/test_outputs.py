"""Inputs outlive outputs: no command writes over a file that it reads.  Our own contract."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from threading import Timer

import pytest
from coarse_demo import coarse_demo

from layers.cli.main import main
from layers.jobs.parts.outputs import keep_apart, keep_others, same_file
from seabed.errors import OutputError
from seabed.files import UNFINISHED, note_result

DEMO = coarse_demo(4)
TRIP = ("trip", "trip_2a.gpx", "--timezone", "Etc/GMT+2", "--out", ".")


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    """A copy of the demo area, and the current folder."""
    for source in DEMO.iterdir():
        if source.suffix in (".toml", ".tif", ".csv", ".gpx"):
            shutil.copyfile(source, tmp_path / source.name)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_result_of_a_run_that_has_yet_to_list_it_is_waited_for(tmp_path):
    """Of two runs at once, one looks between the other's result and its place on the list."""
    result = tmp_path / "drifts.csv"
    result.write_text("a,b\n1,2\n")
    (tmp_path / f"{UNFINISHED}1").mkdir()
    lister = Timer(0.1, note_result, (result,))
    lister.start()
    keep_others([result])
    lister.join()
    other = tmp_path / "other.csv"
    other.write_text("the user's\n")
    with pytest.raises(OutputError, match="not a result of an earlier run"):
        keep_others([other])


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize(
    ("source", "name", "arguments"),
    [
        ("catches.csv", "tied_catches.csv", (*TRIP, "--catches", "tied_catches.csv")),
        ("catches.csv", "lines.csv", (*TRIP, "--catches", "./x/../lines.csv")),
        ("trip_1.gpx", "marks.gpx", ("trip", "marks.gpx", "--out", ".")),
        ("sound.tif", "trip.gpkg", (*TRIP, "--grid", "trip.gpkg")),
        ("area.toml", "drifts.csv", (*TRIP, "--area", "drifts.csv")),
        ("area.toml", "trip.gpkg", (*TRIP, "--log", "trip.gpkg")),
        ("area.toml", "log.gpkg", (*TRIP, "--catches", "log.gpkg", "--log", "log.gpkg")),
        ("sound.tif", "edges.csv", ("scout", "edges.csv", "--out", ".")),
        ("area.toml", "edges.csv", ("scout", "--area", "edges.csv", "--out", ".")),
        ("area.toml", "marks.gpx", ("marks", "trip.gpkg", "marks.gpx", "--out", "marks.gpx")),
        ("sound.tif", "plan.csv", ("plan", "--grid", "plan.csv", "--out", ".")),
        ("area.toml", "plan.csv", ("plan", "--wind", "plan.csv", "--out", ".")),
        (
            "tide_table.csv", "tide_2031-06-14.csv",
            ("tide", "--heights", "tide_2031-06-14.csv", "--date", "2031-06-14", "--out", "."),
        ),
        (
            "current_table.csv", "tide_2031-06-14.csv",
            ("tide", "--currents", "tide_2031-06-14.csv", "--date", "2031-06-14", "--out", "."),
        ),
        ("area.toml", "station.json", ("tide", "--station", "station.json", "--out", ".")),
        (
            "tide_table.csv", "current_by_hour.csv",
            ("tide", "--heights", "current_by_hour.csv", "--learn", "trip_1.gpx", "--out", "."),
        ),
        ("area.toml", "season.gpkg", ("season", "--log", "season.gpkg", "--rank", "--out", ".")),
        (
            "area.toml", "trips.csv",
            ("season", "--log", "trips.csv", "--export", "csv", "--out", "."),
        ),
        (
            "area.toml", "my.toml",
            ("season", "--log", "a.gpkg", "--area", "my.toml", "--share", "my.toml"),
        ),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else None,
)  # fmt: skip
def test_an_input_is_never_written_over(folder, capsys, source, name, arguments):
    """What is under the name matters little: it is refused before any file is opened."""
    (folder / "x").mkdir()
    (folder / name).write_bytes((folder / source).read_bytes())
    before = contents(folder)
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    said = capsys.readouterr().err
    assert f"{Path(name)}: is an input, and would be overwritten. Choose another" in said
    assert contents(folder) == before


def test_files_that_an_area_names_are_inputs(folder, capsys):
    (folder / "area.toml").write_text(
        (folder / "area.toml").read_text().replace("tide_table.csv", "plan.csv")
    )
    (folder / "tide_table.csv").rename(folder / "plan.csv")
    before = contents(folder)
    with pytest.raises(SystemExit) as ended:
        main(("plan", "--area", "area.toml", "--date", "2031-06-14", "--out", "."))
    assert ended.value.code == 2
    assert "plan.csv: is an input" in capsys.readouterr().err
    assert contents(folder) == before


def test_a_catch_log_beside_the_results_stays_as_it_is(folder):
    log = (folder / "catches.csv").read_bytes()
    with pytest.raises(SystemExit) as ended:
        main((*TRIP, "--catches", "catches.csv"))
    assert not ended.value.code
    assert (folder / "catches.csv").read_bytes() == log
    assert "drift_id" in (folder / "tied_catches.csv").read_text(encoding="utf-8-sig")


def test_the_demo_does_not_write_over_its_own_source(folder, capsys, monkeypatch):
    from layers.jobs import demo_area as demo

    (folder / "out").mkdir()
    home = folder / "out" / "area"
    shutil.copytree(DEMO, home)
    monkeypatch.setattr(demo, "demo_folder", lambda: home)
    before = contents(folder)
    with pytest.raises(SystemExit) as ended:
        main(("demo", "--out", "out"))
    assert ended.value.code == 2
    assert "is an input" in capsys.readouterr().err
    assert contents(folder) == before


def test_one_file_is_known_under_all_its_names(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    one = tmp_path / "one.csv"
    one.write_text("x")
    assert same_file(Path("one.csv"), one)
    assert same_file(Path("sub/../one.csv"), one)
    assert same_file(tmp_path / "none.csv", Path("none.csv"))
    assert not same_file(one, tmp_path / "two.csv")
    os.link(one, tmp_path / "hard.csv")
    assert same_file(one, tmp_path / "hard.csv")
    try:
        (tmp_path / "soft.csv").symlink_to(one)
        (tmp_path / "loop.csv").symlink_to("loop.csv")
    except OSError:
        pytest.skip("no links here")
    assert same_file(one, tmp_path / "soft.csv")
    assert not same_file(one, tmp_path / "loop.csv")
    with pytest.raises(OutputError, match=r"soft.csv: is an input"):
        keep_apart([tmp_path / "soft.csv"], [None, "https://host/one.csv", "SW 8 kn", one])
    keep_apart([one], ["https://host/one.csv", None, "8 kn\0"])
