"""``seabed trip --photos``: photos of fish on drifts of a demo trip, the camera's clock wrong."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from coarse_demo import coarse_demo
from photo_files import write_photo

from layers.cli.main import main
from layers.tracks import read_fixes

DEMO = coarse_demo(4)
AHEAD = pd.Timedelta(seconds=3600 + 35)


def run(*arguments: str) -> int:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    return int(ended.value.code or 0)


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture
def aboard(tmp_path, monkeypatch) -> list[pd.Timestamp]:
    """The current folder, with photos taken on trip 1; the moments at which they were."""
    monkeypatch.chdir(tmp_path)
    fixes = read_fixes([DEMO / "trip_1.gpx"])
    moments = []
    for number, row in enumerate(np.linspace(300, len(fixes) - 300, 8).astype(int)):
        fix = fixes.iloc[row]
        moments.append(fix["time"])
        clock = fix["time"].tz_convert("Etc/GMT+2") + AHEAD
        # every other one without a place, as of a camera that had not found it yet
        place = None if number % 2 else (fix["longitude"], fix["latitude"])
        name = f"IMG_{2031 + number}.jpg" if number < 6 else f"keeper {15 + number}.jpg"
        write_photo(
            tmp_path / "photos" / name, f"{clock:%Y:%m:%d %H:%M:%S}", place=place,
            description="caught dab" if number == 1 else None,
        )  # fmt: skip
    (tmp_path / "photos" / "torn.jpg").write_bytes(b"\xff\xd8\xff\xe1\x00\x10Exif\0\0MM\0*\0\0")
    return moments


def test_photos_are_fish_on_their_drifts(aboard, capsys):
    arguments = [str(DEMO / "trip_1.gpx"), "--timezone", "Etc/GMT+2", "--photos", "photos"]
    assert run("trip", *arguments, "--out", "out") == 0
    told = capsys.readouterr().out
    assert "9 photos, 3 of fish by their words." in told
    assert "torn.jpg: " in told
    shown = rows_of(Path("out/photos.csv"))
    assert len(shown) == 9 and shown[-1]["problem"]
    away = np.array([
        abs((pd.Timestamp(row["time"]) - moment).total_seconds())
        for row, moment in zip(shown[:6], aboard[:6], strict=True)
    ])  # fmt: skip
    assert (away < 20).all()
    fish = rows_of(Path("out/tied_catches.csv"))
    assert sorted(row["file"].rsplit("/", 1)[-1] for row in fish) == [
        "IMG_2032.jpg", "keeper 21.jpg", "keeper 22.jpg",
    ]  # fmt: skip
    assert all(row["longitude"] for row in fish)  # the track's, where the photo has none


def test_a_given_offset_is_used_and_all_ways_of_naming_photos(aboard, capsys):
    photos = [word for path in sorted(Path("photos").glob("k*.jpg")) for word in ("--photos", path)]
    assert run("trip", str(DEMO / "trip_1.gpx"), *map(str, photos), "--photo-offset", "3635 s",
               "--timezone", "Etc/GMT+2", "--out", "out", "--json") == 0  # fmt: skip
    answer = json.loads(capsys.readouterr().out)
    assert answer["files"]["photos"].endswith("photos.csv")
    times = [pd.Timestamp(row["time"]) for row in rows_of(Path("out/photos.csv"))]
    assert times == [moment.floor("s") for moment in aboard[6:]]
    assert run("trip", str(DEMO / "trip_1.gpx"), "--photos", "none.jpg", "--out", "b") == 0
    assert "none.jpg: there is no such photo" in capsys.readouterr().out
    assert run("trip", str(DEMO / "trip_1.gpx"), "--photos", ".", "--out", "c") == 2
    assert "no photo (JPEG or HEIC) is in this folder" in capsys.readouterr().err


def test_a_shared_copy_says_nothing_of_photos(aboard, capsys):
    assert run("trip", str(DEMO / "trip_1.gpx"), "--photos", "photos", "--log", "log.gpkg",
               "--timezone", "Etc/GMT+2", "--out", "out") == 0  # fmt: skip
    assert b"keeper 21.jpg" in Path("log.gpkg").read_bytes()
    assert b"photos/" not in Path("log.gpkg").read_bytes()  # no folders in the logbook either
    assert run("season", "--log", "log.gpkg", "--share", "shown.gpkg", "--coarse", "2 km") == 0
    content = Path("shown.gpkg").read_bytes()
    assert b".jpg" not in content and b"IMG_" not in content
