"""What the forms of Today and This water ask for, without a browser."""

import os
import shutil
import tomllib
from pathlib import Path

import pytest
from starlette.datastructures import QueryParams

from layers.area._template import template_text, write_template
from layers.area.loading import key_named, load_area
from layers.area.model import Area
from layers.catches.clocks import LogClock
from layers.desk.looks import kinds, misfits
from layers.desk.pages.front import DEMO_DAY, IN_METRES
from layers.desk.pages.shared import _sentence
from layers.desk.pages.this_water import ELSEWHERE, GROUPS, AreaField, _wind_table
from layers.desk.pages.today import _asked, _weather
from layers.desk.sketches import sketch
from layers.desk.tasks import Task, plain_request, request_from
from layers.desk.texts import as_typed, error_words, hint
from layers.desk.waters import Water
from layers.jobs.check import check_file
from layers.jobs.trip import read_fish
from seabed.errors import SeabedError

DEMO = Path(__file__).parents[2] / "demo_area"
FIELDS = [name for names in GROUPS.values() for name in names]
SEEN = "7:40 0.5 kn toward 340; 8:10 30 deg toward 160, 1.5 oz, 25 ft"


@pytest.fixture
def water(tmp_path):
    (tmp_path / "tracks").mkdir()
    (tmp_path / "tracks" / "this morning.gpx").touch()
    return Water(tmp_path.resolve())


def weather(water, **given):
    return _weather(water, QueryParams(given))


def test_each_sighting_is_one_of_the_request_and_a_track_is_the_last(water):
    given = weather(water, seen=SEEN, seen_track="this morning.gpx", pressure=" 998 hPa ")
    track = str(water.folder / "tracks" / "this morning.gpx")
    assert given["seen"] == [*SEEN.split("; "), track]
    assert given["pressure"] == "998 hPa"
    assert weather(water) == {"wind": [], "seen": [], "pressure": ""}


@pytest.mark.parametrize("job", ["plan", "tide"])
def test_the_form_comes_back_as_it_was_asked(water, job):
    given = weather(water, wind="SW 8 kn", seen=SEEN, seen_track="this morning.gpx", pressure="998")
    kept = plain_request(request_from(job, {**given, "out": "out"}))
    form = _asked([Task(id="1", job=job, request=kept)])
    assert (form["wind"], form["seen"], form["pressure"]) == ("SW 8 kn", SEEN, "998")
    assert form["seen_track"] == "this morning.gpx"
    assert _asked([])["seen"] == _asked([])["seen_track"] == _asked([])["pressure"] == ""


def test_no_file_is_named_in_words_and_no_track_outside_the_water(water):
    outside = water.folder.parent / "outside.gpx"
    outside.touch()
    for words in (str(outside), "tracks/this morning.gpx", f"7:40 0.5 kn toward 340; {outside}"):
        with pytest.raises(SeabedError) as refused:
            weather(water, seen=words)
        assert refused.value.keys == ("seen",)
    with pytest.raises(SeabedError):
        weather(water, seen_track="../../outside.gpx")
    assert weather(water, seen="x" * 5000)["seen"] == ["x" * 5000]


def test_a_wind_that_names_a_table_names_one_of_the_water(water):
    (water.folder / "tides").mkdir()
    (water.folder / "tides" / "wind.csv").touch()
    outside = water.folder.parent / "wind.csv"
    outside.touch()
    (water.folder / "link.csv").symlink_to(outside)
    for words in ("tides/wind.csv", "6:00 SW 8 kn; 12:00 W 12 kn", "x" * 5000):
        assert weather(water, wind=words)["wind"] == words.split("; ")
    for words in (str(outside), "../wind.csv", "link.csv", "other.csv", "SW 8 kn; ../wind.csv"):
        with pytest.raises(SeabedError, match="has no table") as refused:
            weather(water, wind=words)
        assert refused.value.keys == ("wind",)


def test_every_key_of_the_area_file_is_on_a_page():
    """The template writes every key: those without a value as comments."""
    text = template_text().split("# Local rules")[0]
    keys, section = set(), ""
    for line in text.splitlines():
        section = line[1:-1] if line.startswith("[") else section
        name, equals, _ = line.removeprefix("# ").partition(" = ")
        if equals and section and name.isidentifier():
            keys.add(f"{section}_{name}")
    assert len(FIELDS) == len(set(FIELDS))
    assert set(FIELDS) | ELSEWHERE == keys
    assert not set(FIELDS) & ELSEWHERE


@pytest.mark.parametrize("name", FIELDS)
def test_what_a_field_shows_is_read_back_as_the_same_value(name):
    spec = key_named(*name.split("_", 1))[1]
    usual = [tomllib.loads(f"v = {spec.example}")["v"]] if spec.example else []
    for value in [*usual, spec.default]:
        if value in (None, "", []):
            continue
        given = AreaField(name, spec, "").given(as_typed(value))
        assert spec.read(given, Path()) == spec.read(value, Path())
    words = hint(spec)
    assert words.startswith(spec.doc.split("{")[0])
    assert not set('["') & set(words)


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("boat_motor_readings", "1 kn 8 A, 2 kn 40 A"),
        ("wind_from", "225"),
        ("structure_significance", "4.5"),
        ("tracks_drift_toward", "200"),
        ("plan_launch_faces", "200"),
    ],
)
def test_a_typed_value_loads(tmp_path, name, typed):
    from layers.area.editing import change_area

    section, key = name.split("_", 1)
    field, spec = key_named(section, key)
    file = tmp_path / "area.toml"
    file.write_text("")
    change_area(file, {(section, key): AreaField(name, spec, "").given(typed)})
    assert getattr(getattr(load_area(file), section), field) != getattr(
        getattr(Area(), section), field
    )


def test_the_invented_water_opens_on_a_day_of_its_tables(tmp_path):
    """Its tables are years ahead: tomorrow is not in them."""
    water = Water(tmp_path.resolve())
    water.keep("day", DEMO_DAY)
    form = _asked([], water)
    for name in ("tide_table.csv", "current_table.csv"):
        rows = (DEMO / name).read_text(encoding="utf-8").splitlines()
        assert any(form["date"] in row for row in rows[1:-1])
    assert form["wind"] == DEMO_DAY["wind"] != _asked([])["wind"]
    water.keep("day", DEMO_DAY | {"date": "2001-06-14"})  # a day that is over
    assert _asked([], water)["date"] > "2001-06-14"
    (tmp_path / ".day.json").write_text("[]")
    assert _asked([], water)["wind"] == ""


def test_a_sentence_begins_with_a_capital_and_a_file_with_its_own_letter():
    assert _sentence("no depth grid is named.") == "No depth grid is named."
    assert _sentence("tide_table.csv: it is empty.") == "tide_table.csv: it is empty."


@pytest.mark.parametrize(
    ("section", "key", "value", "said"),
    [
        ("water", "heights", "none.csv", "none.csv: no such file"),
        ("water", "currents", str(DEMO / "sound.tif"), "sound.tif: this is a depth grid"),
        ("grid", "files", str(DEMO / "trip_1.gpx"), "trip_1.gpx: this is a GPX track"),
        ("charts", "files", str(DEMO / "sound.tif"), "where a chart is wanted"),
        ("boat", "craft", "bathtub", "bathtub"),
    ],
)
def test_what_names_nothing_that_can_be_used_is_told_of_its_field(
    tmp_path, section, key, value, said
):
    area = tmp_path / "area.toml"
    area.write_text(f'[{section}]\n{key} = "{value}"\n')
    with pytest.raises(SeabedError) as refused:
        misfits(str(area), [f"{section}_{key}"])
    assert said in error_words(refused.value)
    assert refused.value.keys == (f"{section}_{key}",)
    assert misfits(str(area), ["boat_rods"]) == {}


def test_what_can_be_used_and_what_a_field_can_cure_is_kept(tmp_path):
    """A table without a unit is asked for it on the page, so it stays."""
    (tmp_path / "bare.csv").write_text(
        "time,height,kind\n2031-06-14 06:00,1.2,low\n2031-06-14 12:10,6.1,high\n"
    )
    learned = DEMO.parent / "tests" / "of_0_1" / "learned_current.json"
    area = tmp_path / "area.toml"
    area.write_text(f'[water]\nheights = "bare.csv"\ncurrents = "{learned}"\n')
    assert misfits(str(area), ["water_heights", "water_currents"]) == {}


def test_a_table_of_wind_is_known_by_its_headings_whatever_its_name(water):
    tides = water.folder / "tides"
    tides.mkdir()
    (tides / "wind_of_june.csv").write_text("time,height_m\n")
    (tides / "current.csv").write_text("time;speed_kn;event\n")
    assert _wind_table(water) == ""
    (tides / "june.csv").write_text("Zeit;Windgeschwindigkeit;aus\n")
    (tides / "forecast.csv").write_text("time,speed_kn,from,gust_kn\n")
    os.utime(tides / "june.csv", (0, 0))
    assert _wind_table(water) == "tides/forecast.csv"


def test_a_file_is_offered_for_what_it_fits_alone(tmp_path):
    area = tmp_path / "area.toml"
    area.write_text("")
    names = ["tide_table.csv", "current_table.csv", "wind_table.csv", "trip_1.gpx", "sound.tif"]
    broken = tmp_path / "tide_table.csv"
    broken.write_text("time,height_m,kind\n2031-06-14 06:00,one,low\n")
    looked = kinds([*(str(DEMO / name) for name in names), str(broken)], str(area))
    assert [one["fits"] for one in looked] == [
        ["water_heights"], ["water_currents"], [], [], ["grid_files"], [],
    ]  # fmt: skip


def test_a_file_is_checked_once_until_it_or_what_it_is_read_with_changes(tmp_path, monkeypatch):
    file, area = tmp_path / "catches.csv", tmp_path / "area.toml"
    file.write_text("time,species\n2031-06-14 08:00,ling\n")
    checked = []
    monkeypatch.setattr(
        "layers.desk.looks.check_file", lambda *given: checked.append(given) or check_file(*given)
    )

    def facts():
        (shown,) = kinds([str(file)], str(area))
        return shown["facts"]

    assert facts() == facts()
    assert len(checked) == 1
    file.write_text(file.read_text() + "2031-06-14 09:00,ling\n")
    assert facts()["fish"].startswith("2,")
    area.write_text('[area]\ntimezone = "Etc/GMT+2"\n')
    assert facts()["time span"].endswith("(Etc/GMT+2)")
    file.with_suffix(".prj").write_text("")  # of a grid, it gives the coordinate system
    assert facts()
    assert len(checked) == 4


def test_the_editor_reads_fish_once_until_a_log_or_the_area_file_changes(tmp_path, monkeypatch):
    for name in ("trip_1.gpx", "catches.csv", "area.toml"):
        shutil.copy(DEMO / name, tmp_path)
    track, log, area = (tmp_path / name for name in ("trip_1.gpx", "catches.csv", "area.toml"))
    asked = {"tracks": [str(track)], "catches": [str(log)], "area": str(area)}
    read = []
    monkeypatch.setattr(
        "layers.desk.sketches.read_fish", lambda *given: read.append(given) or read_fish(*given)
    )
    first = sketch(asked)["fish"]
    assert sketch(asked)["fish"] == first
    assert len(read) == 1
    log.write_text(log.read_text() + "2031-06-07 08:30:00-02:00,ling,,,,\n")
    assert len(sketch(asked)["fish"]) == len(first) + 1
    area.write_text(area.read_text() + "\n")
    sketch(asked)
    assert len(read) == 3


def test_a_preview_says_that_drifts_cannot_check_the_clock(tmp_path, monkeypatch):
    for name in ("trip_1.gpx", "catches.csv"):
        shutil.copy(DEMO / name, tmp_path)
    doubt = LogClock(0.0, 5, 6, or_s=3600.0)
    monkeypatch.setattr("layers.jobs.trip._catches.log_clock", lambda *_: doubt)
    files = {"tracks": [str(tmp_path / "trip_1.gpx")], "catches": [str(tmp_path / "catches.csv")]}
    shown = sketch(files | {"timezone": "Etc/GMT+2"})
    (words,) = (note for note in shown["notes"] if "cannot check the log's clock" in note)
    assert 'Give the catch log\'s clock "1 h" if it is.' in words
    assert shown["clock"] is None


def test_a_water_in_metres_names_no_feet_and_its_limits_are_no_weaker(tmp_path):
    usual, metric = tmp_path / "usual.toml", tmp_path / "metric.toml"
    write_template(usual)
    write_template(metric, IN_METRES)
    values = [line for line in metric.read_text().splitlines() if not line.startswith("#")]
    assert not [line for line in values if line.endswith((' ft"', ' in"'))]
    ours, theirs = load_area(metric), load_area(usual)
    assert ours.plan.least_water_m >= theirs.plan.least_water_m
    assert ours.boat.wave_limit_m <= theirs.boat.wave_limit_m
