"""The main job, end to end, as a user runs it: ``seabed demo`` once, then what it left."""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
import sys
from contextlib import chdir, redirect_stderr, redirect_stdout
from pathlib import Path
from types import SimpleNamespace
from xml.etree import ElementTree

import geopandas as gpd
import pages
import pytest
from coarse_demo import coarse_demo
from thoroughness import THOROUGH

from layers.cautions import CAUTIONS_SHORT
from layers.cli.main import main

RUN = [sys.executable, "-c", "from layers.cli.main import main; main()"]
BOX = "-33.42,46.19,-33.40,46.21"
GPX = "{http://www.topografix.com/GPX/1/1}"


def run(capsys, *arguments: str | Path) -> tuple[int, str, str]:
    """Run a command here; give its exit code, what it printed, and its messages on stderr."""
    with pytest.raises(SystemExit) as ended:
        main([str(argument) for argument in arguments])
    return ended.value.code or 0, *capsys.readouterr()


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """Run the demo in a folder whose name has a space and letters outside ASCII.

    In the thorough set twice at once; what else may run twice is in ``test_hard_places.py``.
    """
    folder = tmp_path_factory.mktemp("Ås fjord 日本")
    words = [*RUN, "demo", "--out", str(folder / "other")]
    other = subprocess.Popen(words, stdout=subprocess.DEVNULL) if THOROUGH else None
    done = SimpleNamespace(stdout=io.StringIO(), stderr=io.StringIO())
    with (
        chdir(folder),
        redirect_stdout(done.stdout),
        redirect_stderr(done.stderr),
        pytest.raises(SystemExit) as ended,
    ):
        main(["demo", "--out", "demo"])
    done.stdout, done.stderr = done.stdout.getvalue(), done.stderr.getvalue()
    assert not ended.value.code, done.stderr
    assert other is None or other.wait(timeout=300) == 0
    return folder / "demo", done


def places(demo) -> dict[str, Path]:
    """What the demo says where."""
    out, done = demo
    pattern = r"^(Map|Marks|Ranking|Map of the bottom) {2,}(.+)$"
    return {
        name: out.parent / path for name, path in re.findall(pattern, done.stdout, re.MULTILINE)
    }


def test_it_ends_by_saying_where_map_marks_and_ranking_are(demo):
    _, done = demo
    found = places(demo)
    assert {"Map", "Marks", "Ranking"} <= set(found)
    assert all(path.is_file() for path in found.values())
    *_, caution, between, desk = done.stdout.splitlines()
    assert (caution, between) == (CAUTIONS_SHORT, "")
    assert desk.endswith(": seabed desk demo/area")
    assert done.stderr == ""  # quiet when piped


def test_the_start_page_shows_what_is_printed(demo):
    out, done = demo
    with chdir(out.parent):
        pages.check_here(pages.DOCS / "start.md", {"seabed demo --out demo": done.stdout})


def test_the_map_needs_no_network(demo):
    text = places(demo)["Map"].read_text(encoding="utf-8")
    loaded = re.findall(r"""<(?:script|link|img)[^>]+(?:src|href)=["']?(https?:[^"'> ]+)""", text)
    assert loaded == []
    assert "Not for navigation" in text


def test_both_maps_show_what_the_chart_warns_of(demo):
    found = places(demo)
    for name in ("Map", "Map of the bottom"):
        text = found[name].read_text(encoding="utf-8")
        data = re.search(r'type="application/json" id="data">(.*?)</script>', text, re.DOTALL)
        shown = json.loads(data[1])["hazards"]
        assert {"wreck", "restricted area"} <= {one["kind"] for one in shown}, name


def test_ranks_in_the_table_on_screen_are_those_of_the_file(demo):
    _, done = demo
    with places(demo)["Ranking"].open(encoding="utf-8-sig", newline="") as stream:
        rows = sorted(csv.DictReader(stream), key=lambda row: int(row["rank"]))
    assert [int(row["rank"]) for row in rows] == list(range(1, len(rows) + 1))
    shown = re.findall(r"^ *(\d+)  (\S.*?)  ", done.stdout, re.MULTILINE)
    assert shown[: len(rows)] == [(row["rank"], row["line"]) for row in rows][:10]
    for row in rows:
        assert float(row["rate_low"]) <= float(row["rate"]) <= float(row["rate_high"])
        assert row["why"]


def test_every_fish_is_in_the_file_tied_or_with_a_reason(demo):
    out, _ = demo
    with (out / "area" / "catches.csv").open(encoding="utf-8-sig", newline="") as stream:
        logged = len(list(csv.DictReader(stream)))
    marked = sum(
        sum(element.tag.endswith("}wpt") for element in ElementTree.parse(path).getroot())
        for path in (out / "area").glob("trip_*.gpx")
    )
    with (out / "trip" / "tied_catches.csv").open(encoding="utf-8-sig", newline="") as stream:
        caught = list(csv.DictReader(stream))
    assert len(caught) == logged + marked
    assert all(bool(row["drift_id"]) != bool(row["why"]) for row in caught)
    with (out / "trip" / "untied_catches.csv").open(encoding="utf-8-sig", newline="") as stream:
        assert len(list(csv.DictReader(stream))) == sum(not row["drift_id"] for row in caught)


def test_stretches_are_printed_as_they_are_in_the_file(demo):
    out, done = demo
    with (out / "trip" / "stretches.csv").open(encoding="utf-8-sig", newline="") as stream:
        hot = [row for row in csv.DictReader(stream) if row["hot"] == "True"]
    for row in hot:
        assert f"Hot stretch of {row['line']}: {row['why']}" in done.stdout
    assert ("No line shows a hot stretch" in done.stdout) == (not hot)
    for name in ("by_species.csv", "by_what.csv"):
        assert (out / "trip" / name).stat().st_size > 100


def test_marks_are_the_lines_of_the_ranking(demo):
    out, _ = demo
    root = ElementTree.parse(out / "trip" / "marks.gpx").getroot()
    lines = gpd.read_file(out / "trip" / "trip.gpkg", layer="lines")
    assert len(root.findall(f"{GPX}rte")) == len(lines)
    assert len(root.findall(f"{GPX}wpt")) == 2 * len(lines)
    names = [element.text for element in root.iter(f"{GPX}name")][1:]
    assert all(len(name) <= 10 and name.isascii() for name in names)
    assert len({name.upper() for name in names}) == len(names)


def test_effort_is_kept_whole(demo):
    """Rod-hours of the lines are those of the drifts: a sum, not a model."""
    out, _ = demo
    lines = gpd.read_file(out / "trip" / "trip.gpkg", layer="lines")
    drifts = gpd.read_file(out / "trip" / "trip.gpkg", layer="drifts")
    half = 0.5e-4  # files round to the fourth decimal
    assert lines["rod_hours"].sum() == pytest.approx(
        drifts["rod_hours"].sum(), abs=half * (len(lines) + len(drifts))
    )


def test_nothing_is_left_behind(demo):
    out, _ = demo
    assert not list(out.rglob(".writing-*"))
    assert sorted(path.name for path in (out / "scout").iterdir()) == [
        ".seabed-made", "README.txt",
        "banks_and_channels.csv", "doubtful_soundings.csv", "edges.csv", "humps_and_holes.csv",
        "map.html", "marks.gpx",
        "profiles.csv", "ranking.csv", "report.html", "sand_waves.csv", "structure.gpkg",
    ]  # fmt: skip


def test_marks_of_earlier_results(demo, tmp_path, capsys):
    out, _ = demo
    both = (out / "trip" / "trip.gpkg", out / "scout" / "structure.gpkg")
    code, told, said = run(
        capsys, "marks", *both, "--best", "2", "--out", tmp_path / "m.gpx", "--json"
    )
    assert code == 0, said
    counts = json.loads(told)["counts"]
    edges = gpd.read_file(both[1], layer="edges")
    features = gpd.read_file(both[1], layer="features")
    best_edges = int((edges["rank"] <= 10).sum())  # each has a mark of its own
    assert counts == {
        "marks": 4 + len(features) + best_edges,
        "routes": 2,
        "tracks": len(edges),
    }
    best = gpd.read_file(both[0], layer="lines").sort_values("rank")["line"].iloc[0]
    code, _, said = run(capsys, "marks", both[0], "--line", f"{best}x", "--out", tmp_path / "n.gpx")
    assert code == 2
    assert "no line named" in said
    assert not (tmp_path / "n.gpx").exists()


def test_check_knows_every_file_of_the_demo(demo, capsys):
    folder = demo[0] / "area"
    files = sorted(folder.glob("[!.]*"))
    code, told, _ = run(capsys, "check", *files, "--area", folder / "area.toml", "--json")
    assert code == 0, told
    kinds = {Path(item["file"]).name: item["kind"] for item in json.loads(told)["files"]}
    assert kinds["area.toml"] == "area file"
    assert kinds["sound.tif"] == "depth grid"
    assert kinds["catches.csv"] == "catch log"
    assert kinds["tide_table.csv"] == "table of tide heights"
    assert kinds["current_table.csv"] == "table of currents"
    assert kinds["wind_table.csv"] == "table of wind"
    assert {kind for name, kind in kinds.items() if name.endswith(".gpx")} == {"GPX track"}


def test_units_change_what_is_shown_not_what_is_stored(tmp_path, capsys):
    area = coarse_demo(4) / "area.toml"
    for unit in ("m", "ft"):
        code, _, said = run(
            capsys, "scout", "--area", area, "--units", unit, "--out", tmp_path / unit, "--box", BOX
        )
        assert code == 0, said
    in_metres, in_feet = (tmp_path / unit / "edges.csv" for unit in ("m", "ft"))
    assert in_metres.read_bytes() == in_feet.read_bytes()
    assert " ft down" in (tmp_path / "ft" / "marks.gpx").read_text(encoding="utf-8")
    assert " m down" in (tmp_path / "m" / "marks.gpx").read_text(encoding="utf-8")


def test_json_for_machines(demo, tmp_path, capsys):
    folder = demo[0] / "area"
    code, told, said = run(
        capsys, "trip", folder / "trip_1.gpx", "--catches", folder / "catches.csv", "--timezone",
        "Etc/GMT+2", "--log", tmp_path / "log.gpkg", "--out", tmp_path / "t", "--json",
    )  # fmt: skip
    assert code == 0, said
    answer = json.loads(told, parse_constant=pytest.fail)  # no NaN, which JSON has not
    assert {"files", "cleaning", "drifts", "lines", "untied", "cautions"} <= set(answer)
    cleaning = answer["cleaning"]
    assert cleaning["read"] >= cleaning["kept"] > 0
    logged = {"added": ["2031-06-07"], "replaced": [], "unchanged": [], "backup": None}
    assert answer["logged"] == logged


@pytest.mark.skipif(not THOROUGH, reason="the demo runs once; test_whole_job compares two runs")
def test_the_same_input_gives_the_same_output(demo):
    """Of two runs at once, text files are equal byte for byte."""
    out, _ = demo
    for path in (*out.rglob("*.gpx"), *out.rglob("lines.csv"), *out.rglob("edges.csv")):
        assert (out.parent / "other" / path.relative_to(out)).read_bytes() == path.read_bytes()
