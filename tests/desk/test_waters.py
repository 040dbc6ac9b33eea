"""Paths stay within their water; names are cleaned; files that come in are whole or absent."""

import os
from pathlib import Path

import pytest
from coroutines import run_apart
from hypothesis import given
from hypothesis import strategies as st

from layers.desk.pages import files
from layers.desk.waters import FOLDERS, Water, Waters, clean_name
from seabed.errors import SeabedError


@pytest.fixture
def water(tmp_path):
    folder = tmp_path / "sound"
    folder.mkdir()
    (folder / "area.toml").write_text("[area]\n")
    return Water(folder.resolve())


@given(st.text(max_size=200))
def test_a_cleaned_name_is_one_plain_name(name):
    plain = clean_name(name)
    assert plain
    assert plain == Path(plain).name
    assert plain not in (".", "..")
    assert not plain.startswith((".", " "))
    assert not plain.endswith((".", " "))
    assert not set(plain) & set('<>:"/\\|?*\0')
    assert len(plain) <= 90


@given(st.lists(st.text(max_size=30), min_size=1, max_size=4))
def test_no_parts_lead_out_of_a_water(parts):
    water = Water(Waters.of(Path.cwd()).root)
    try:
        path = water.inside(*parts)
    except SeabedError:
        return
    assert path.is_relative_to(water.folder)


@pytest.mark.parametrize(
    "parts", [("..",), ("..", "other"), ("/etc/passwd",), ("a", "../../x"), ("a\0b",)]
)
def test_paths_that_lead_out_are_refused(water, parts):
    with pytest.raises(SeabedError, match="no such file in this water"):
        water.inside(*parts)


@pytest.mark.skipif(not hasattr(os, "symlink"), reason="no symbolic links here")
def test_links_that_lead_out_are_refused_and_not_listed(water, tmp_path):
    (tmp_path / "secret.gpx").write_text("secret")
    (water.folder / "tracks").mkdir()
    (water.folder / "tracks" / "mine.gpx").symlink_to(tmp_path / "secret.gpx")
    (water.folder / "way_out").symlink_to(tmp_path)
    with pytest.raises(SeabedError):
        water.inside("tracks", "mine.gpx")
    with pytest.raises(SeabedError):
        water.inside("way_out", "secret.gpx")
    assert water.files("tracks") == []


def test_a_folder_that_is_a_water_holds_itself(water):
    assert Waters.of(water.folder).all() == [water]
    assert Waters.of(water.folder.parent).all() == [water]
    assert Waters.of(water.folder / "nowhere").all() == []


def test_new_files_never_take_a_name_that_is_there(water):
    async def send(words):
        async def chunks():
            yield words

        return await files.receive(chunks(), water.place_for("tracks", "../../trip.gpx"))

    first, second = run_apart(send, b"one"), run_apart(send, b"two")
    assert (first.name, second.name) == ("trip.gpx", "trip 2.gpx")
    assert (first.read_bytes(), second.read_bytes()) == (b"one", b"two")
    assert first.parent == water.folder / "tracks"


@pytest.mark.parametrize(("chunks", "words"), [([], "empty"), ([b"x" * 600] * 2, "larger")])
def test_a_file_that_is_empty_or_too_large_leaves_nothing(water, monkeypatch, chunks, words):
    monkeypatch.setitem(files.LARGEST, "tracks", 1000)

    async def send():
        async def given():
            for chunk in chunks:
                yield chunk

        await files.receive(given(), water.place_for("tracks", "trip.gpx"))

    with pytest.raises(SeabedError, match=words):
        run_apart(send)
    assert water.files("tracks") == []


def test_files_beside_the_area_file_are_listed_by_their_kinds(tmp_path):
    """A folder as the commands like it: nothing is in folders of kinds."""
    demo = Path(__file__).parents[2] / "demo_area"
    water = Waters.of(demo).water("demo_area")
    names = {kind: sorted(path.name for path in water.files(kind)) for kind in FOLDERS}
    assert names["grids"] == ["sound.tif"]
    assert names["charts"] == ["XX5TOLLI.000"]
    assert names["tracks"] == [f"trip_{name}.gpx" for name in ("1", "2a", "2b", "3", "4")]
    assert names["catches"] == ["catches.csv"]
    assert names["tides"] == ["current_table.csv", "tide_table.csv", "wind_table.csv"]
    assert water.inside("tracks", "trip_1.gpx") == demo.resolve() / "trip_1.gpx"


def test_a_table_of_wind_is_known_by_its_headings(water):
    (water.folder / "june.csv").write_text("time,speed_kn,from_deg\n2031-06-07 06:00,8,230\n")
    (water.folder / "windy days.csv").write_text("time,species,length_in\n")
    assert [path.name for path in water.files("tides")] == ["june.csv"]
    assert [path.name for path in water.files("catches")] == ["windy days.csv"]


def test_a_file_of_corrections_is_no_track(water):
    (water.folder / "tracks").mkdir(exist_ok=True)
    for name in ("trip.gpx", "trip.corrections.txt"):
        (water.folder / "tracks" / name).write_text("x")
    assert [path.name for path in water.files("tracks")] == ["trip.gpx"]
