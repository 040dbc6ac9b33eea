"""No command writes over a file that no earlier run made, unless it may.  Our own contract."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from coarse_demo import coarse_demo

from layers.cli.main import main
from layers.jobs.parts.outputs import consent, keep_others
from layers.logbook import Logbook
from seabed.errors import SeabedError
from seabed.files import LIST, is_result, note_result, replacing, write_text

DEMO = coarse_demo(4)
DAY = ("--date", "2031-06-14")
WATER = ("--heights", "tide_table.csv", "--timezone", "Etc/GMT+2")
TRIP = ("trip", "trip_2a.gpx", "--timezone", "Etc/GMT+2", "--out", "out")
THEIRS = b"seventeen years of marks"


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    """A copy of the demo area, and the current folder."""
    for source in DEMO.iterdir():
        if source.is_file():
            shutil.copyfile(source, tmp_path / source.name)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(capsys, *words: str) -> tuple[int, str]:
    with pytest.raises(SystemExit) as ended:
        main(words)
    return ended.value.code or 0, capsys.readouterr().err


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("map.html", (*TRIP,)),
        ("lines.csv", (*TRIP,)),
        ("trip.gpkg", (*TRIP,)),
        ("expected_fish.tif", (*TRIP,)),
        ("map.html", ("scout", "sound.tif", "--out", "out")),
        ("structure.gpkg", ("scout", "sound.tif", "--out", "out")),
        ("report.html", ("scout", "sound.tif", "--chunk", "512", "--out", "out")),
        ("sheet.pdf", ("plan", "--area", "area.toml", *DAY, "--out", "out")),
        ("plan.gpkg", ("plan", "--area", "area.toml", *DAY, "--out", "out")),
        ("tide_2031-06-14.csv", ("tide", *WATER, *DAY, "--out", "out")),
        ("lines.csv", ("season", "--log", "log.gpkg", "--rank", "--out", "out")),
        ("catches.csv", ("season", "--log", "log.gpkg", "--export", "csv", "--out", "out")),
        ("shown.gpkg", ("season", "--log", "log.gpkg", "--share", "out/shown.gpkg")),
        ("m.gpx", ("marks", "x.gpkg", "--out", "out/m.gpx")),
        ("own_depth.tif", ("soundings", "trip_2a.gpx", "--grid", "sound.tif", "--no-tide",
                           "--out", "out")),
        ("area/catches.csv", ("demo", "--out", "out")),
        ("trip/map.html", ("demo", "--out", "out")),
    ],
    ids=lambda value: value if isinstance(value, str) else value[0],
)  # fmt: skip
def test_what_others_made_is_refused_before_any_work(folder, capsys, name, words):
    Logbook("log.gpkg").add([])
    theirs = folder / "out" / name
    theirs.parent.mkdir(parents=True)
    theirs.write_bytes(THEIRS)
    before = contents(folder)
    code, said = run(capsys, *words)
    assert code == 2, said
    path = Path("out") / name
    assert f"{path}: exists already, and is not a result of an earlier run" in said
    assert "or say --replace; nothing was changed." in said
    assert contents(folder) == before


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no such files here")
@pytest.mark.parametrize(("out", "replace", "words"), [
    ("sound.tif", True, "is an input, and would be overwritten"),
    ("link", True, "is an input, and would be overwritten"),
    ("pipe", True, "this is a device or a pipe"),
    ("nowhere", False, "a file of that name exists already"),
])  # fmt: skip
def test_an_area_file_takes_the_place_of_no_grid_pipe_or_link(folder, capsys, out, replace, words):
    os.mkfifo(folder / "pipe")
    (folder / "link").symlink_to("sound.tif")
    (folder / "nowhere").symlink_to("gone.toml")
    kinds = {path.name: path.lstat().st_mode for path in folder.iterdir()}
    grid = (folder / "sound.tif").read_bytes()
    code, said = run(capsys, "area", "--grid", "sound.tif", "--out", out, *["--replace"] * replace)
    assert code == 2 and words in said
    assert (folder / "sound.tif").read_bytes() == grid
    assert {path.name: path.lstat().st_mode for path in folder.iterdir()} == kinds


def test_results_of_an_earlier_run_are_written_over_and_changed_ones_are_not(folder, capsys):
    words = ("tide", *WATER, *DAY, "--out", "out")
    for _ in range(2):
        assert run(capsys, *words)[0] == 0
    table = next((folder / "out").glob("*.csv"))
    whole = table.read_text(encoding="utf-8-sig")
    table.write_text(whole + "a note of mine\n", encoding="utf-8")
    code, said = run(capsys, *words)
    assert code == 2
    assert f"{table.name}: exists already, and is not a result of an earlier run, or has ch" in said
    assert run(capsys, *words, "--replace")[0] == 0
    assert "a note of mine" not in table.read_text(encoding="utf-8-sig")
    assert run(capsys, *words)[0] == 0


def test_maps_marks_tables_and_layers_say_who_made_them_wherever_they_are(folder, capsys):
    assert run(capsys, *TRIP)[0] == 0
    made = [path for path in (folder / "out").iterdir() if path.name != LIST]
    assert {path.suffix for path in made} >= {".html", ".gpx", ".gpkg", ".csv", ".svg"}
    assert all(is_result(path) for path in made)
    (folder / "elsewhere").mkdir()
    for path in made:
        copy = Path(shutil.copy(path, folder / "elsewhere"))
        assert is_result(copy) == (path.suffix in {".html", ".gpx", ".gpkg"}), path
    assert not is_result(folder / "sound.tif")
    assert not is_result(folder / "none.html")


def test_a_logbook_is_never_a_result(folder):
    Logbook("log.gpkg").add([])
    note_result("log.gpkg")
    assert not is_result("log.gpkg")
    with pytest.raises(SeabedError, match=r"log\.gpkg: exists already"):
        keep_others([Path("log.gpkg")])
    with consent(True):
        keep_others([Path("log.gpkg")])


def test_a_link_to_a_result_is_no_result(tmp_path):
    write_text(tmp_path / "a.csv", "x")
    assert is_result(tmp_path / "a.csv")
    try:
        (tmp_path / "b.csv").symlink_to(tmp_path / "a.csv")
    except OSError:
        pytest.skip("no links here")
    assert not is_result(tmp_path / "b.csv")


def test_what_is_kept_for_other_ends_is_not_listed(tmp_path):
    with replacing(tmp_path / "a.csv", result=False) as partial:
        partial.write_text("x")
    assert not (tmp_path / LIST).exists()
    assert not is_result(tmp_path / "a.csv")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
@pytest.mark.parametrize(
    "words",
    [
        ("check", "pipe"),
        ("scout", "pipe", "--out", "out"),
        ("scout", "sound.tif", "--charts", "pipe", "--out", "out"),
        ("scout", "--area", "pipe", "--out", "out"),
        ("trip", "pipe", "--out", "out"),
        ("trip", "trip_2a.gpx", "--catches", "pipe", "--out", "out"),
        ("trip", "trip_2a.gpx", "--photos", "pipe", "--out", "out"),
        ("trip", "trip_2a.gpx", "--log", "pipe", "--out", "out"),
        ("tide", "--heights", "pipe", *DAY),
        ("tide", "--currents", "pipe", "--flood-toward", "40", *DAY),
        ("tide", "--station", "pipe", *DAY),
        ("tide", "--heights", "tide_table.csv", "--wind", "pipe.csv", *DAY),
        ("season", "--log", "pipe"),
        ("season", "--log", "log.gpkg", "--merge", "pipe"),
        ("soundings", "pipe", "--grid", "sound.tif", "--no-tide", "--out", "out"),
        ("marks", "pipe"),
        ("marks", "x.gpkg", "--out", "pipe"),
        ("marks", "x.gpkg", "--out", "/dev/null"),
        ("check", "/dev/zero"),
    ],
    ids=" ".join,
)
def test_devices_and_pipes_are_refused(folder, capsys, words):
    """A pipe that nobody writes to would be waited for without end."""
    Logbook("log.gpkg").add([])
    os.mkfifo("pipe")
    os.mkfifo("pipe.csv")
    assert run(capsys, *words)[0] == 2
    capsys.readouterr()
    with pytest.raises(SystemExit):
        main((*words, *(("--replace",) if "marks" in words else ())))
    said = "".join(capsys.readouterr())
    assert "this is a device or a pipe, not a file" in said


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
@pytest.mark.parametrize(
    "words",
    [
        ("scout", "sound.tif", "--out", "{}"),
        ("plan", "--area", "area.toml", *DAY, "--out", "{}"),
        ("tide", "--area", "area.toml", *DAY, "--out", "{}"),
        ("trip", "trip_2a.gpx", "--timezone", "Etc/GMT+2", "--out", "{}"),
        ("soundings", "boat.csv", "--grid", "sound.tif", "--no-tide", "--out", "{}"),
        ("season", "--log", "log.gpkg", "--rank", "--out", "{}"),
        ("season", "--log", "log.gpkg", "--export", "csv", "--out", "{}"),
        ("demo", "--out", "{}"),
    ],
    ids=lambda words: " ".join(words[:2]),
)
def test_what_is_no_folder_is_refused_before_any_work(folder, capsys, monkeypatch, words):
    """Scouting, or a plan, was computed first."""
    Logbook("log.gpkg").add([])
    os.mkfifo("pipe")
    (folder / "boat.csv").write_text("time,lat,lon,depth_m\n2031-06-14T08:00Z,46.19,-33.4,8\n")
    for out, reason in (
        ("pipe", "device or a pipe"), ("/dev/null", "device or a pipe"),
        ("area.toml", "this is a file, not a folder"), ("sound.tif/deeper", "not a folder"),
    ):  # fmt: skip
        code, said = run(capsys, *(word.format(out) for word in words))
        assert code == 2
        assert reason in said
        assert said.count("\n") == 1


@pytest.mark.parametrize(
    "words",
    [
        ("check", "{}"), ("check", "{}.csv"), ("scout", "{}.tif", "--out", "out"),
        ("scout", "sound.tif", "--out", "{}"), ("scout", "--area", "{}", "--out", "out"),
        ("scout", "sound.tif", "--charts", "{}", "--out", "out"), ("area", "--out", "{}"),
        ("trip", "{}.gpx"), ("trip", "trip_1.gpx", "--catches", "{}"),
        ("trip", "trip_1.gpx", "--out", "{}"), ("trip", "trip_1.gpx", "--photos", "{}"),
        ("trip", "trip_1.gpx", "--log", "{}"), ("season", "--log", "{}"),
        ("season", "--log", "log.gpkg", "--merge", "{}"),
        ("season", "--log", "log.gpkg", "--share", "{}"),
        ("season", "--log", "log.gpkg", "--restore", "{}"),
        ("tide", "--heights", "{}", *DAY), ("tide", "--station", "{}", *DAY),
        ("tide", *WATER, "--wind", "{}", *DAY), ("tide", "--currents", "{}", *DAY),
        ("tide", *WATER, *DAY, "--out", "{}"), ("plan", "--area", "{}"), ("marks", "{}"),
        ("marks", "{}", "--out", "m.gpx"), ("soundings", "{}", "--no-tide"),
        ("demo", "--out", "{}"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_names_that_no_system_holds(folder, capsys, words):
    Logbook("log.gpkg").add([])
    code, said = run(capsys, *(word.format("x" * 5000) for word in words))
    assert code == 2
    assert len(said) < 2000
    assert said.count("\n") == 1
