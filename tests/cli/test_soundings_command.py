"""``seabed soundings`` as a user runs it, on a simulated survey over the demo's bottom."""

from __future__ import annotations

import json
import re

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
from simulated_survey import DEMO, survey, true_bottom, write_nmea

from layers.cli.main import main
from layers.jobs.soundings._answer import chart_lines
from seabed.loaders import open_surface
from seabed.soundings import flagged, read_soundings
from seabed.soundings.checks.tide_check import ChartFit


def run(capsys, *words):
    """Exit code, what was printed, the messages on standard error."""
    with pytest.raises(SystemExit) as stopped:
        main([str(word) for word in words])
    out, err = capsys.readouterr()
    return stopped.value.code or 0, out, err


@pytest.fixture(scope="module")
def sailed():
    return survey(
        box=(2900.0, 2000.0, 3300.0, 2400.0), spacing_m=40.0, cross_m=100.0, visits=1,
        tide_error_m=0.0,
    )  # fmt: skip


@pytest.fixture
def water(tmp_path, sailed):
    """A log, an open grid of 20 m cells about it, 0.3 m too deep, and the tide known."""
    truth = true_bottom().sel(x=slice(468_400, 469_900), y=slice(5_116_500, 5_115_100))
    rows, columns = (n // 5 * 5 for n in truth.shape)
    means = truth.values[:rows, :columns].reshape(rows // 5, 5, columns // 5, 5).mean(axis=(1, 3))
    transform = rasterio.transform.from_origin(
        float(truth.x[0]) - 2.0, float(truth.y[0]) + 2.0, 20.0, 20.0
    )
    with rasterio.open(
        tmp_path / "open.tif", "w", driver="GTiff", height=means.shape[0], width=means.shape[1],
        count=1, dtype="float32", crs="EPSG:32625", transform=transform, nodata=-9999.0,
    ) as file:  # fmt: skip
        file.write((means + 0.3).astype(np.float32), 1)
        file.update_tags(positive="down")
        file.set_band_description(1, "depth")
    write_nmea(sailed, tmp_path / "boat.nmea")
    return tmp_path


def options(water, *more):
    return (
        "soundings", water / "boat.nmea", "--grid", water / "open.tif", "--out", water / "out",
        "--heights", DEMO / "tide_table.csv", "--timezone", "Etc/GMT+2", "--transducer", "0.4 m",
        *more,
    )  # fmt: skip


def test_the_whole_job(water, sailed, capsys):
    code, out, err = run(capsys, *options(water, "--next", "1 nm"))
    assert (code, err) == (0, "")
    assert "set aside, none deleted" in out
    assert "Not for navigation" in out
    late = re.search(r"The sounder is (-?[\d.]+) s late", out)
    assert late is not None
    assert float(late[1]) == pytest.approx(sailed.lag_s, abs=0.25)
    bias = re.search(r"Own depths are ([\d.]+) ft shallower .* \(± [\d.]+ ft\)", out)
    assert bias is not None  # in feet, as all depths are
    assert 0.5 < float(bias[1]) < 1.3  # 0.3 m, within what the tide table is wrong by
    assert not re.search(r"\d\.\d\d m\b", out)
    folder = water / "out"
    assert sorted(path.name for path in folder.iterdir()) == [
        ".seabed-made", "README.txt",
        "crossovers.csv", "map.html", "merged_depth.tif", "next_lines.gpx", "own_depth.tif",
        "soundings.fgb", "soundings.svg",
    ]  # fmt: skip
    points = gpd.read_file(folder / "soundings.fgb")
    assert len(points) == len(sailed.hours)
    assert (points["flag"] != "").sum() > 20
    assert len(pd.read_csv(folder / "crossovers.csv")) > 10
    page = (folder / "map.html").read_text(encoding="utf-8")
    assert "Not for navigation" in page
    runs = re.search(r"soundings in (\d+) line", out)
    off = [float(metres) for metres in re.findall(r'"off_m": ?(-?[\d.]+)', page)]
    assert len(off) == int(runs[1])
    assert np.median(off) == pytest.approx(-0.3, abs=0.1)  # so much too deep is the open grid
    picture = (folder / "soundings.svg").read_text(encoding="utf-8")
    assert "Not for navigation" in picture
    assert not re.search(r"(?:href|src)=\"https?:", picture)
    merged = open_surface([folder / "merged_depth.tif"])
    own = open_surface([folder / "own_depth.tif"])
    assert merged.uncertainty is not None
    truth = true_bottom()
    told = own.depth
    at = truth.sel(x=told.x, y=told.y, method="nearest").values
    known = np.isfinite(told.values)
    # the tide table is the demo's own, half-cosines between turns: wrong by some centimetres
    assert np.sqrt(np.mean((told.values - at)[known] ** 2)) < 0.3


@pytest.mark.parametrize(
    ("offset", "told"),
    [(0.41, "agree with the open grid as far as they show"), (0.6, "are 1.97 ft deeper than the")],
)
def test_a_difference_is_claimed_only_where_it_is_sure(offset, told):
    fit = ChartFit(offset_m=offset, sigma_m=0.23, scale=0.0, late_s=0.0, pieces=25)
    (line,) = chart_lines(fit, "ft")
    assert told in line


def test_json_and_no_tide(water, capsys):
    code, out, _ = run(
        capsys, "soundings", water / "boat.nmea", "--grid", water / "open.tif", "--out",
        water / "out", "--no-tide", "--lag", "1 s", "--next", "0 m", "--json",
    )  # fmt: skip
    answer = json.loads(out)
    assert code == 0
    assert answer["lag"]["taken_off_s"] == 1.0
    assert answer["soundings"] == sum(answer["flags"].values())
    assert "no tide was taken off" in " ".join(answer["notes"])
    assert answer["next_lines"] == 0
    assert not (water / "out" / "next_lines.gpx").exists()


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (["--lag", "soon"], "--lag"),
        (["--lag", "5 min"], "more than a minute"),
        (["--depths-from", "mast"], "--depths-from"),
        (["--transducer", "deep"], "--transducer"),
        (["--draft", "-1 m"], "--draft"),
        (["--cell", "0 m"], "--cell"),
        (["--date", "someday"], "--date"),
        (["--no-tide"], "--heights: means nothing with --no-tide"),
        (["--no-tide", "--tide-error", "1 m"], "--tide-error: means nothing with --no-tide"),
    ],
)
def test_an_input_problem_is_reported_before_any_work(water, capsys, more, message):
    code, out, err = run(capsys, *options(water, *more))
    assert code == 2
    assert out == ""
    assert message in err
    assert not (water / "out").exists()


def test_bad_files(water, capsys):
    (water / "empty.log").write_text("")
    (water / "gps.nmea").write_text("$GPGLL,3130.0,S,02430.0,W,080000,A\n")
    for name, message in (("empty.log", "empty"), ("gps.nmea", "no depths"), ("no.nmea", "can't")):
        words = ["soundings", water / name, "--grid", water / "open.tif", "--no-tide"]
        code, _, err = run(capsys, *words, "--out", water / "out")
        assert code == 2, name
        assert name in err
        assert message in err
    code, _, err = run(capsys, "soundings", water / "boat.nmea", "--grid", water / "open.tif")
    assert code == 2
    assert "--no-tide" in err
    code, _, err = run(capsys, *options(water)[:-4], "--heights", water / "no.csv")
    assert code == 2


def test_a_log_without_a_good_sounding_says_why(water, capsys):
    head = "time,Latitude [deg],Longitude [deg],Depth (m)"
    rows = [f"2031-06-14T09:00:0{i}Z,46.18,-33.41,0" for i in range(3)]
    (water / "lost.csv").write_text("\n".join([head, *rows]))
    words = ["soundings", water / "lost.csv", "--grid", water / "open.tif", "--no-tide"]
    code, out, err = run(capsys, *words, "--out", water / "out")
    assert code == 2
    assert out == ""
    assert "none of 3 soundings is good: 3 lost bottom" in err
    assert list((water / "out").glob("*")) == []


def test_a_log_is_not_written_over(water, capsys):
    (water / "boat.nmea").rename(water / "soundings.fgb")
    words = ["soundings", water / "soundings.fgb", "--grid", water / "open.tif", "--no-tide"]
    code, _, err = run(capsys, *words, "--out", water)
    assert code == 2
    assert "is an input" in err


def test_check_says_what_a_sounders_log_is(water, capsys):
    _, out, _ = run(capsys, "check", water / "boat.nmea")
    assert "boat.nmea: sounder's log" in out
    log = flagged(read_soundings(water / "boat.nmea").soundings)[0]
    assert f"{len(log)} in {log['line'].nunique()} lines" in out
    assert "spike" in out
