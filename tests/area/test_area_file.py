"""The area file.  No outside truth: what is checked is our own contract, and TOML 1.0 itself."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from layers.area import SpeciesRule, default_area, load_area, write_template
from layers.area._template import template_text
from layers.area.loading import keys_of, sections
from layers.area.model import Area
from layers.water import CRAFT
from seabed.errors import AreaError, OutputError

EVERY_KEY = [
    *keys_of(Area).values(),
    *(spec for kind in sections().values() for spec in keys_of(kind).values()),
    *keys_of(SpeciesRule).values(),
]


def load(folder: Path, text: str) -> Area:
    path = folder / "area.toml"
    path.write_text(text, encoding="utf-8")
    return load_area(path)


def test_an_empty_file_is_the_defaults(tmp_path):
    assert replace(load(tmp_path, ""), file=None) == default_area()


def test_the_template_loads_back_to_the_defaults(tmp_path):
    loaded = load(tmp_path, template_text())
    assert replace(loaded, file=None) == default_area()


def test_the_template_has_every_key_and_its_line(tmp_path):
    text = template_text()
    tables = tomllib.loads(text)
    for name, kind in {"area": Area, **sections()}.items():
        for spec in keys_of(kind).values():
            assert f"# {spec.doc.split('{')[0]}" in text
            assert (spec.name in tables[name]) == (spec.default is not None)


def test_the_template_names_every_craft():
    line = next(line for line in template_text().splitlines() if line.startswith("# How the wind"))
    assert line.rstrip(".").split(": ", 1)[1].split("; ") == sorted(CRAFT, key=line.index)


def test_each_example_in_the_template_is_taken(tmp_path):
    """Uncommenting what is commented out gives a file that loads."""
    text = template_text()
    for line in text.splitlines():
        if line.startswith(("# flood_toward =", "# ebb_toward =", "# [species", "# min_length =",
                            "# daily_bag =", "# checked =")):  # fmt: skip
            text = text.replace(line, line[2:])
    area = load(tmp_path, text)
    assert (area.water.flood_toward_deg, area.water.ebb_toward_deg) == (40.0, 220.0)
    rule = area.species["brindle flounder"]
    assert rule.min_length_m == pytest.approx(14 * 0.0254)  # the inch is 25.4 mm by definition
    assert (rule.daily_bag, rule.checked) == (4, date(2031, 5, 1))


@pytest.mark.parametrize("spec", EVERY_KEY, ids=lambda spec: spec.name)
def test_every_key_has_a_line_about_it(spec):
    assert spec.doc.endswith(".")
    assert spec.default is not None or spec.example


def test_values_are_si(tmp_path):
    area = load(
        tmp_path,
        """
        [area]
        timezone = "Etc/GMT+2"
        [grid]
        files = ["a.tif", "sub/b.tif", "https://example.org/c.tif"]
        offset = "-1.5 ft"
        [charts]
        files = ["XX5SOUND.000"]
        [depths]
        band = "18-26 ft"
        contours = "10,15 ft"
        [boat]
        running_speed = "20 kn"
        [tracks]
        drift_speed = "0.1-2.5 kn"
        longest_gap = "2 min"
        [wind]
        from = 360
        """,
    )
    # Exact by definition: foot 0.3048 m, knot 1852/3600 m/s (BIPM SI brochure, 9th ed., table 8).
    assert area.depths.band_m == pytest.approx((5.4864, 7.9248))
    assert area.depths.contours_m == pytest.approx((3.048, 4.572))
    assert area.grid.offset_m == pytest.approx(-0.4572)
    assert area.boat.running_speed_mps == pytest.approx(10.288889, abs=1e-6)
    assert area.tracks.drift_speed_mps == pytest.approx((0.0514444, 1.2861111), abs=1e-6)
    assert area.tracks.longest_gap_s == 120.0
    assert area.wind.from_deg == 0.0
    assert area.grid.files == (
        tmp_path / "a.tif",
        tmp_path / "sub" / "b.tif",
        "https://example.org/c.tif",
    )
    assert area.charts.files == (tmp_path / "XX5SOUND.000",)


def test_a_chart_at_a_web_address_is_refused(tmp_path):
    with pytest.raises(AreaError, match=r"\[charts\] files.*Download it first"):
        load(tmp_path, '[charts]\nfiles = ["https://example.org/cell.000"]')


def test_track_defaults_are_those_of_the_cutting():
    from dataclasses import asdict

    from layers.tracks import CutSettings

    ours, theirs = asdict(default_area().tracks), asdict(CutSettings())
    assert list(ours) == list(theirs)
    for name, value in ours.items():
        assert value == pytest.approx(theirs[name]), name


def test_a_key_of_an_older_file_is_read_under_its_older_name(tmp_path):
    """``[tracks] shortest_drift`` cut tracks before a plan had a shortest drift of its own."""
    area = load(tmp_path, '[tracks]\nshortest_drift = "75 s"\n')
    assert area.tracks.shortest_slow_s == 75.0
    assert area.plan.shortest_drift_s == default_area().plan.shortest_drift_s
    assert "shortest_slow" in template_text()
    with pytest.raises(AreaError, match="is an older name of shortest_slow"):
        load(tmp_path, '[tracks]\nshortest_drift = "75 s"\nshortest_slow = "80 s"\n')


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[depth]\n", r"unknown section \[depth\]. Did you mean depths\?"),
        ("[zzz]\n", r"unknown section \[zzz\]. Known here: area, species, units"),
        ('[boat]\ncrft = "x"\n', r"\[boat\]: unknown key crft. Did you mean craft\?"),
        ("[boat]\nrods = 0\n", r"\[boat\] rods: 0 can't be right. Write a whole number from 1"),
        (
            '[boat]\nwind_limit = "-5 kn"\n',
            r"\[boat\] wind_limit: .* Write more than 0 and no more",
        ),
        ('[boat]\nwind_limit = "0 kn"\n', r"\[boat\] wind_limit: .* Write more than 0"),
        ('[boat]\nwind_limit = "200 kn"\n', r"wind_limit: .* no more than 100 kn, like '20 kn'"),
        (
            "[boat]\nwind_limit = 20\n",
            r"wind_limit: 20 can't be right. Write a number and its unit",
        ),
        ('[boat]\ngust_limit = "much"\n', r"\[boat\] gust_limit: 'much' can't be right"),
        ('[boat]\ncurrent_limit = "26 kn"\n', r"current_limit: .* no more than 25 kn"),
        ('[boat]\ndarkness_limit = "dusk"\n', r"darkness_limit: .* one of sunset, civil twilight"),
        ('[boat]\nwind_limt = "9 kn"\n', r"unknown key wind_limt. Did you mean wind_limit\?"),
        ('[wind]\nspeed = "200 kn"\n', r"\[wind\] speed: .* no more than 100 kn"),
        ('[wind]\ngust = "-1 kn"\n', r"\[wind\] gust: .* Write 0 or more"),
        ("[boat]\nrods = true\n", r"\[boat\] rods: True can't be right"),
        ('[boat]\nrods = "2"\n', r"rods: '2' can't be right. .* without quotes"),
        ('[depths]\nband = "25 fet"\n', r"\[depths\] band: .*6-9 m"),
        ('[depths]\nband = "18-26"\n', r"\[depths\] band: .*has no unit"),
        ("[depths]\nband = 17\n", r"band: 17 can't be right. Write two depths and a unit"),
        ('[depths]\ncontours = "10,15 fet"\n', r"\[depths\] contours: unknown unit 'fet'"),
        ("[grid]\nfiles = [1]\n", r'\[grid\] files: \[1\] can.t be right. .*\["sound.tif"\]'),
        (
            '[grid]\nsign = "up"\n',
            r"sign: 'up' can't be right. Write one of auto, elevation, depth",
        ),
        ('[grid]\noffset = "2"\n', r"offset: '2' can't be right. Write a number and its unit"),
        ('[area]\ntimezone = "Mars/Olympus"\n', r"\[area\] timezone: 'Mars/Olympus' can't be"),
        ('[area]\ntimezone = "../../etc/passwd"\n', r"\[area\] timezone: .* can't be right"),
        ("[water]\nflood_toward = 400\n", r"\[water\] flood_toward: 400 .*0 to 360"),
        ('[wind]\nfrom = "SW"\n', r"\[wind\] from: 'SW' .*SW is 225"),
        ('[wind]\nspeed = "-3 kn"\n', r"\[wind\] speed: '-3 kn' can't be right. Write 0 or more"),
        ('[tracks]\ndrift_speed = "2.5-0.1 kn"\n', r"drift_speed: .*two rising speeds"),
        ('[plan]\ncorrect_every = "30 s"\n', r"correct_every: '30 s' .*1 to 60 min .*or never"),
        ('[plan]\ncorrect_every = "2 h"\n', r"correct_every: '2 h' .*1 to 60 min"),
        ("[plan]\ncorrect_every = 5\n", r"correct_every: 5 .*like '5 min'"),
        ('[tracks]\nlongest_gap = "2 days"\n', r"longest_gap: '2 days' .*'90 s', '2 min' or '4 h'"),
        ('[tracks]\nlongest_gap = "nan s"\n', r"longest_gap: 'nan s' can't be right"),
        ('[structure]\nedge_scale = "0 m"\n', r"edge_scale: '0 m' .*more than 0 m"),
        ('[plan]\nshortest_drift = "31 min"\n', r"shortest_drift: '31 min' .*at most '30 min'"),
        (
            "[species]\nflounder = 3\n",
            r'\[species\] flounder: 3 is not a rule. .*\[species."brindle',
        ),
        (
            '[species.x]\nmin_lenght = "1 in"\n',
            r"unknown key min_lenght. Did you mean min_length\?",
        ),
        ('[species.x]\nchecked = "May"\n', r'\[species."x"\] checked: .*2031-05-01'),
        ("[area\n", r"not TOML: .*line 1"),
        ("area = 3\n", r"area is outside a section"),
    ],
)
def test_a_fault_is_reported_with_its_place_and_cure(tmp_path, text, said):
    with pytest.raises(AreaError, match=said) as caught:
        load(tmp_path, text)
    assert str(caught.value).startswith(str(tmp_path / "area.toml"))


def test_windows_notepad_and_line_ends_are_taken(tmp_path):
    path = tmp_path / "area.toml"
    path.write_bytes('\ufeff[area]\r\nname = "Ås fjord"\r\n'.encode())
    assert load_area(path).name == "Ås fjord"


def test_no_such_file_and_no_text(tmp_path):
    with pytest.raises(AreaError, match=r"no such area file. Write one with seabed area"):
        load_area(tmp_path / "none.toml")
    (tmp_path / "latin.toml").write_bytes('[area]\nname = "Å"\n'.encode("latin-1"))
    with pytest.raises(AreaError, match=r"not UTF-8 text. Save it as UTF-8"):
        load_area(tmp_path / "latin.toml")
    with pytest.raises(AreaError, match="can't be read"):
        load_area(tmp_path)


def test_a_template_never_replaces_unasked(tmp_path):
    path = tmp_path / "new" / "area.toml"
    write_template(path, {("area", "name"): 'Sound "A" \\ ö'})
    assert load_area(path).name == 'Sound "A" \\ ö'
    with pytest.raises(OutputError, match="a file of that name exists already"):
        write_template(path)
    write_template(path, replace=True)
    assert load_area(path).name == ""
