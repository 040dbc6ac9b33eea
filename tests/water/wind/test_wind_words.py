"""The wind in words: what is read, what is refused and with which cure; gusts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layers.water import FixedWind, parse_wind, read_currents
from layers.water.sources import parse_current
from layers.water.wind.wind_words import parse_direction, read_wind
from seabed.errors import SeabedError, WaterError

KNOT = 1852 / 3600  # of the definition: a sea mile an hour
AT = "2031-06-14T10:00"
DAY = np.datetime64("2031-06-14", "ns")


def read(*words: str):
    return parse_wind(list(words), "2031-06-14", timezone="UTC", default_unit="kn")


def knots_of(wind, at: str = AT) -> tuple[float, float, float]:
    speed, from_deg = wind.at(at)
    return float(speed) / KNOT, float(from_deg), float(wind.gusts(at)) / KNOT


@pytest.mark.parametrize(
    ("words", "speed", "from_deg", "gust"),
    [
        ("SW 8 kn", 8, 225, 8),
        ("8 kn from 225", 8, 225, 8),
        ("8 kn SW", 8, 225, 8),
        ("SW 8", 8, 225, 8),
        ("270 8", 8, 270, 8),  # 270 is no speed
        ("from SW 8 kn", 8, 225, 8),
        ("8 m/s W", 8 / KNOT, 270, 8 / KNOT),
        ("SW 12 gusting 20 kn", 12, 225, 20),
        ("SW 12 kn gusting 20 kn", 12, 225, 20),
        ("sw 12 kn gusts to 20", 12, 225, 20),
        ("SW 12G20 kn", 12, 225, 20),
        ("12 gusting 20 kn from SW", 12, 225, 20),
        ("6:00 SW 12 gusting 20 kn", 12, 225, 20),
        ("6:00 270 8 kn", 8, 270, 8),
        ("6 SW 8 kn", 8, 225, 8),
        ("SW 100 kn", 100, 225, 100),
        ("calm", 0, 0, 0),
    ],
)
def test_words_of_the_wind(words: str, speed: float, from_deg: float, gust: float) -> None:
    assert knots_of(read(words)) == pytest.approx((speed, from_deg, gust))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("SW -8 kn", r"a wind of -8 kn in 'SW -8 kn' can't be right\. Give 0 to 100 kn"),
        ("SW 200 kn", r"a wind of 200 kn in 'SW 200 kn' can't be right\. Give 0 to 100 kn"),
        ("SW 101 kn", "a wind of 101 kn"),
        ("10 270", r"'10 270' does not say which number is the speed\. Add the unit"),
        ("10 270 kn", r"a wind of 270 kn .*Write where it comes from, then its speed"),
        ("27 10", "does not say which number is the speed"),
        ("25:30 SW 8 kn", r"25:30 in .* is not a time of day\. Write 0:00 to 23:59"),
        ("24:00 SW 8 kn", "24:00 in .* is not a time of day"),
        ("6:75 SW 8 kn", "6:75 in .* is not a time of day"),
        ("60 kn toward 40", r"says where it blows to\. Write where it comes from"),
        ("6:00 8 kn toward 40", "says where it blows to"),
        ("SW 8 kn to 40", "says where it blows to"),
        ("361 8 kn", "'361' is not a wind direction"),
        ("SW 12 gusting 8 kn", "gusts of 8 kn in .* are below the mean wind"),
        ("SW 12 gusting 300 kn", "a gust of 300 kn"),
        ("SW 12 gusting -20 kn", "a gust of -20 kn"),
        ("SW gusting 20 kn", r"can't read the wind 'SW gusting 20 kn'\. Write it like"),
        ("SW 8 kn gusting", "can't read the wind"),
        ("SW nan kn", "can't read the wind"),
        ("SW 8 furlongs", "can't read the wind"),
        ("8 kn", "can't read the wind '8 kn'"),
        ("SW", "can't read the wind 'SW'"),
        ("", "can't read the wind ''"),
    ],
)
def test_words_refused_with_the_cure(words: str, said: str) -> None:
    with pytest.raises(SeabedError, match=said):
        read(words)


def test_the_hours_are_each_bounded() -> None:
    with pytest.raises(WaterError, match="a wind of 200 kn"):
        read("6:00 SW 8 kn", "9:00 SW 200 kn")
    with pytest.raises(WaterError, match=r"30:00 in .* is not a time of day"):
        read("6:00 SW 8 kn", "30:00 SW 8 kn")


@pytest.mark.parametrize("words", [["6:00 SW 8 kn"], ["6:00 SW 8 kn", "9:00 SW 8 kn"]])
def test_hours_need_a_day(words: list[str]) -> None:
    with pytest.raises(WaterError, match="several outings can't be given by hour"):
        parse_wind(words, None, timezone="UTC")


def test_gusts_by_hour_run_from_one_to_the_next() -> None:
    """Midway between 9 kn (no gusts named) and gusts of 21: 15 by hand."""
    wind = read("8:00 SW 9 kn", "12:00 SW 12 gusting 21 kn")
    assert float(wind.gusts(AT)) / KNOT == pytest.approx(15.0)
    assert float(wind.gusts("2031-06-14T13:00")) / KNOT == pytest.approx(21.0)
    assert float(wind.gusts("2031-06-14T01:00")) / KNOT == pytest.approx(9.0)


def written(folder: Path, text: str) -> Path:
    path = folder / "table.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_table_holds_gusts_and_may_leave_some_out(tmp_path: Path) -> None:
    table = "time,speed_kn,from,gust_kn\n2031-06-14 10:00,12,SW,20\n2031-06-14 11:00,10,SW,\n"
    wind = read_wind(written(tmp_path, table))
    assert knots_of(wind) == pytest.approx((12, 225, 20))
    assert knots_of(wind, "2031-06-14T11:00") == pytest.approx((10, 225, 10))
    assert np.isnan(wind.gusts("2031-06-14T09:00"))
    assert knots_of(read(str(written(tmp_path, table)))) == pytest.approx((12, 225, 20))
    assert knots_of(read_wind(written(tmp_path, table.replace("gust_kn", "gust")))) == knots_of(
        wind
    )
    with pytest.raises(WaterError, match="no unit"):
        read_wind(written(tmp_path, table.replace("speed_kn", "speed")))


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        ("time,wind (kn)\n2031-06-14 10:00,W/28\n", (28, 270, 28)),
        ("time,wind (kn),gust\n2031-06-14 10:00,240/12,18\n", (12, 240, 18)),
        ("time,wind\n2031-06-14 10:00,12 kn SW\n", (12, 225, 12)),
        ("Zeit;Wind;Böen (kn)\n14.06.2031 10:00;OSO 4 Bft;20\n", (13.5, 112.5, 20)),
        ("heure;vent;rafales (nd)\n14/06/2031 10h00;OSO 12 nd;18\n", (12, 247.5, 18)),
        ("Fecha;Hora;Viento (nudos);Dirección\n14/06/2031;10:00;12;SO\n", (12, 225, 12)),
        ("Datum;Tijd;Windsnelheid (Bft);Windrichting\n14-06-2031;10:00;4;ZW\n", (13.5, 225, 16)),
        ("tid;vind (m/s);retning\n2031-06-14 10:00;5,144444;NØ\n", (10, 45, 10)),
        ("Data;Hora;Vento (nós);Direção\n14/06/2031;10:00;12;NL\n", (12, 45, 12)),
    ],
)
def test_a_wind_in_one_column_and_points_in_other_languages(tmp_path, table, expected) -> None:
    """Forces by the Beaufort scale: 4 is 11 to 16 knots (WMO-No. 306, code table 1100)."""
    assert knots_of(read_wind(written(tmp_path, table))) == pytest.approx(expected, rel=1e-5)


def test_an_o_that_may_be_east_or_west_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path, "time,wind\n2031-06-14 10:00,SO 12 kn\n")
    with pytest.raises(WaterError, match=r"the O in the wind 'SO' may be east or west.*E or W"):
        read_wind(path)
    assert parse_direction("SO", o_is="east") == 135.0
    assert parse_direction("SO", o_is="west") == 225.0


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("-8,SW,", "line 3: a wind of -8 kn"),
        ("200,SW,", "line 3: a wind of 200 kn"),
        ("12,SW,9", "line 3: gusts of 9 kn are below the mean wind"),
        ("12,SW,150", "line 3: a gust of 150 kn"),
        ("12,SW,much", "line 3, column 'gust_kn': .*much"),
    ],
)
def test_a_row_that_cannot_be_right_is_named(tmp_path: Path, row: str, said: str) -> None:
    table = f"time,speed_kn,from,gust_kn\n2031-06-14 10:00,12,SW,20\n2031-06-14 11:00,{row}\n"
    with pytest.raises(SeabedError, match=said):
        read_wind(written(tmp_path, table))


def test_the_same_wind_has_gusts_of_its_own_speed_where_none_are_named() -> None:
    assert FixedWind(4.0, 225.0).gusts(AT) == 4.0
    assert FixedWind(4.0, 225.0, 7.0).gusts(np.array([AT, AT], "datetime64[ns]")).tolist() == [7, 7]


@pytest.mark.parametrize("words", ["60 kn toward 40", "-1 kn toward 40", "26 kn toward 40"])
def test_no_current_runs_so(words: str) -> None:
    with pytest.raises(WaterError, match=r"a current of .* can't be right\. Give 0 to 25 kn"):
        parse_current(words)


def test_a_table_of_currents_is_bounded_too(tmp_path: Path) -> None:
    table = "time,event,speed_kn\n2031-06-14 00:00,slack,\n2031-06-14 03:00,flood,60\n"
    with pytest.raises(WaterError, match="line 3: a current of 60 kn"):
        read_currents(written(tmp_path, table), flood_toward=40)
    with pytest.raises(WaterError, match="can't run toward 400 degrees"):
        read_currents(written(tmp_path, table.replace("60", "1")), flood_toward=400)


POINTS = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW".split()  # noqa: SIM905
SPEEDS = {"kn": KNOT, "kts": KNOT, "m/s": 1.0, "mph": 1609.344 / 3600, "km/h": 1 / 3.6}
FORMS = (
    "{point} {speed:g} {unit}", "{speed:g} {unit} from the {point}", "{degrees:g} {speed:g} {unit}",
    "{point} {speed:g}{unit}", "{point}/{speed:g} {unit}",
    "{point} {speed:g} {unit} gusting {gust:g} {unit}",
)  # fmt: skip


@given(
    at=st.integers(0, 15), speed=st.integers(1, 60), more=st.integers(0, 20),
    unit=st.sampled_from(sorted(SPEEDS)), form=st.sampled_from(FORMS),
)  # fmt: skip
def test_every_form_is_read_back(at: int, speed: int, more: int, unit: str, form: str) -> None:
    """What is written of a point, a speed and a gust is what is read."""
    words = form.format(
        point=POINTS[at], degrees=22.5 * at, speed=speed / 2, unit=unit, gust=(speed + more) / 2
    )
    wind = parse_wind([words], DAY, timezone="UTC")
    assert isinstance(wind, FixedWind)
    assert wind.from_deg == pytest.approx(22.5 * at)
    assert wind.speed_mps == pytest.approx(speed / 2 * SPEEDS[unit], abs=1e-6)
    if "gust" in form:
        assert wind.gust_mps == pytest.approx((speed + more) / 2 * SPEEDS[unit], abs=1e-6)


BEAUFORT_KN = ((1, 3), (4, 6), (7, 10), (11, 16), (17, 21), (22, 27), (28, 33), (34, 40))
"""Forces 1 to 8 of the published scale (WMO, Manual on Codes, Vol. I.1, section E)."""


@given(
    force=st.integers(1, 8),
    at=st.integers(0, 15),
    form=st.sampled_from(("F{f} {p}", "{p} force {f}")),
)
def test_forces_are_those_of_the_published_scale(force: int, at: int, form: str) -> None:
    wind = parse_wind([form.format(f=force, p=POINTS[at])], DAY, timezone="UTC")
    assert isinstance(wind, FixedWind)
    low, high = BEAUFORT_KN[force - 1]
    assert low - 0.5 <= wind.speed_mps / KNOT <= high + 0.5
    assert wind.from_deg == pytest.approx(22.5 * at)
