"""Station files, and stations from other people's JSON."""

from __future__ import annotations

import functools
import http.server
import json
import socket
import threading
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layers.water import read_currents, read_heights
from layers.water.heights.stage import turns
from layers.water.sources import parse_current
from layers.water.stations._records import usable_constituents
from layers.water.stations.importers import import_station
from layers.water.stations.station_file import read_station, write_station
from seabed.errors import WaterError

TIMES = np.arange("2031-06-01", "2031-06-08", dtype="datetime64[h]").astype("datetime64[ns]")


def station_record() -> dict[str, Any]:
    """An invented station, as the page on station files shows it."""
    return {
        "format": "seabed-layers station 1",
        "name": "Kettle Quay",
        "longitude": -33.41,
        "latitude": 46.19,
        "timezone": "Etc/GMT+2",
        "heights": {
            "unit": "ft",
            "phase": "Greenwich",
            "datum": "MLLW",
            "mean_level": 4.4,
            "datums": {"MHHW": 8.8},
            "constituents": [
                {"name": "M2", "amplitude": 3.1, "phase": 90.0},
                {"name": "K1", "amplitude": 0.3, "phase": 120.5},
            ],
        },
        "currents": {
            "unit": "kn",
            "phase": "Greenwich",
            "flood_toward": 352.0,
            "ebb_toward": 170.0,
            "mean": 0.1,
            "constituents": [{"name": "M2", "amplitude": 1.1, "phase": 27.0}],
        },
    }


def written(folder: Path, record: Any) -> Path:
    path = folder / "station.json"
    path.write_text(json.dumps(record), encoding="utf-8")
    return path


def changed(keys: str, value: Any) -> dict[str, Any]:
    record: Any = station_record()
    part = record
    *path, last = keys.split(".")
    for key in path:
        part = part[int(key)] if key.isdigit() else part[key]
    if value is None:
        del part[last]
    else:
        part[last] = value
    return record  # type: ignore[no-any-return]


def test_units_become_si_and_the_file_comes_back_equal(tmp_path: Path) -> None:
    station = read_station(written(tmp_path, station_record()))
    assert station.heights is not None and station.currents is not None
    np.testing.assert_allclose(station.heights.harmonics.amplitude, [3.1 * 0.3048, 0.3 * 0.3048])
    assert station.heights.harmonics.mean == pytest.approx(4.4 * 0.3048)
    assert station.datums_m == {"MHHW": pytest.approx(8.8 * 0.3048)}
    assert station.currents.along.mean == pytest.approx(0.1 * 1852 / 3600)
    again = tmp_path / "again.json"
    write_station(again, station)
    back = read_station(again)
    np.testing.assert_array_equal(back.heights.height_m(TIMES), station.heights.height_m(TIMES))
    np.testing.assert_array_equal(back.currents.velocity(TIMES), station.currents.velocity(TIMES))
    assert (back.name, back.timezone, back.datums_m) == (
        "Kettle Quay",
        "Etc/GMT+2",
        station.datums_m,
    )


def test_readers_tell_it_by_its_ending(tmp_path: Path) -> None:
    path = written(tmp_path, station_record())
    assert np.isfinite(read_heights(path).height_m(TIMES)).all()
    east, north = read_currents(path).velocity(TIMES)
    along = read_station(path).currents.speed_along(TIMES)
    np.testing.assert_allclose(np.hypot(east, north), np.abs(along))
    assert (np.sign(north) == np.sign(along)).all()
    with pytest.raises(WaterError, match="station of currents, not of heights"):
        read_heights(written(tmp_path, changed("heights", None)))
    with pytest.raises(WaterError, match="station of heights, not of currents"):
        read_currents(written(tmp_path, changed("currents", None)))


BAD = {
    "no constituents": (changed("heights.constituents", []), r"heights\.constituents.*missing"),
    "no constituents key": (changed("heights.constituents", None), r"constituents are missing"),
    "phase in local time": (
        changed("heights.phase", "local"),
        r"'local' time.*G = g - zone x speed",
    ),
    "phase not said": (changed("heights.phase", None), r"reference of the phases is missing"),
    "unknown zone": (changed("timezone", "Sea/Nowhere"), r"unknown time zone 'Sea/Nowhere'"),
    "zone of dots": (changed("timezone", "a." * 900 + "a/b"), r"unknown time zone 'a\.a\."),
    "unknown name": (changed("heights.constituents.0.name", "X9"), r"unknown tidal constituent X9"),
    "twice": (changed("heights.constituents.1.name", "m2"), r"constituent M2 is given twice"),
    "amplitude": (changed("heights.constituents.0.amplitude", -1), r"M2 has no valid amplitude"),
    "text for a number": (
        changed("heights.constituents.0.phase", "90"),
        r"constituents\[0\]\.phase: '90' is not a number",
    ),
    "unit": (changed("heights.unit", "cubit"), r"unknown unit 'cubit'"),
    "mean": (changed("heights.mean_level", None), r"heights\.mean_level: None is not a number"),
    "nodal": (changed("heights.nodal", "hourly"), r"'hourly' is neither daily nor yearly"),
    "nothing": ({"format": "seabed-layers station 1"}, r"neither heights nor currents"),
    "a list of no stations": ([1, 2], r"not a station|stations are in it"),
    "something else": ({"a": 1}, r"not a station of a known kind"),
}


@pytest.mark.parametrize("name", BAD)
def test_refused_with_one_clear_message(tmp_path: Path, name: str) -> None:
    record, message = BAD[name]
    with pytest.raises(WaterError, match=message) as caught:
        import_station(written(tmp_path, record))
    assert "\n" not in str(caught.value)


def test_a_later_format_is_not_guessed_at(tmp_path: Path) -> None:
    with pytest.raises(WaterError, match="key format is not 'seabed-layers station 1'"):
        read_station(written(tmp_path, changed("format", "seabed-layers station 9")))


def test_not_json_and_missing(tmp_path: Path) -> None:
    path = tmp_path / "station.json"
    with pytest.raises(WaterError, match="no such file"):
        read_heights(path)
    path.write_text("{", encoding="utf-8")
    with pytest.raises(WaterError, match="not JSON"):
        read_currents(path)


def test_the_agencys_station_and_its_datums(agency_answers: dict[str, Any]) -> None:
    """Seattle: MSL - MLLW = 4.443 - 2.419 m by the agency's own datums; 37 constituents."""
    station = import_station(agency_answers["heights"])
    assert station.name == "Seattle"
    assert station.heights.harmonics.mean == pytest.approx(2.024)
    assert station.datums_m["MHHW"] == pytest.approx(5.882 - 2.419)
    assert station.heights.harmonics.nodal == "yearly"
    on_navd = import_station(agency_answers["heights"], datum="NAVD88")
    assert on_navd.heights.harmonics.mean == pytest.approx(4.443 - 3.134)
    with pytest.raises(WaterError, match="datum 'XYZ' is not in it"):
        import_station(agency_answers["heights"], datum="XYZ")
    with pytest.raises(WaterError, match=r"bin 99 is not in it.*It has .*4 \(6\.52 m down\)"):
        import_station(agency_answers["currents"], depth_bin=99)


def test_a_station_from_an_address_the_user_names(
    agency_answers: dict[str, Any], tmp_path: Path
) -> None:
    """From a server on this machine; a missing page and a dead address give a plain message."""
    folder = agency_answers["heights"].parent

    class Quiet(http.server.SimpleHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            pass

    handler = functools.partial(Quiet, directory=str(folder))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        base = f"http://127.0.0.1:{server.server_port}"
        station = import_station(f"{base}/heights.json")
        assert station.name == "Seattle"
        with pytest.raises(WaterError, match=r"can't be fetched.*404"):
            import_station(f"{base}/nothing.json")
        server.shutdown()
    with pytest.raises(WaterError, match="can't be fetched"):
        import_station(f"{base}/heights.json")


@pytest.mark.parametrize("address", ["http://host:abc/", "http://bad host/", "https://[::1/a"])
def test_an_address_that_is_none(address: str) -> None:
    with pytest.raises(WaterError, match="can't be fetched"):
        import_station(address)


def test_an_answer_that_is_not_of_the_web(tmp_path: Path) -> None:
    """A server that answers with something else than HTTP."""

    def answer() -> None:
        peer = server.accept()[0]
        peer.recv(1000)
        peer.sendall(b"220 mail\r\n")
        peer.close()

    with socket.create_server(("127.0.0.1", 0)) as server:
        threading.Thread(target=answer, daemon=True).start()
        with pytest.raises(WaterError, match="can't be fetched"):
            import_station(f"http://127.0.0.1:{server.getsockname()[1]}/")


def lacking(records: dict[str, Any], key: str) -> dict[str, Any]:
    """A copy whose first row of constituents has no `key`."""
    text = json.dumps(records)
    copy: dict[str, Any] = json.loads(text)
    rows = copy.get("harmonic_constituents") or copy["HarmonicConstituents"]
    del rows[0][key]
    return copy


DATABASE = {"harmonic_constituents": [{"name": "M2", "amplitude": 1.2, "phase": 30.0}]}
AGENCY = {
    "units": "meters",
    "HarmonicConstituents": [{"name": "M2", "amplitude": 1.2, "phase_GMT": 30.0}],
}


@pytest.mark.parametrize(
    ("record", "says"),
    [
        (lacking(DATABASE, "amplitude"), "a record lacks 'amplitude'"),
        (lacking(DATABASE, "phase"), "a record lacks 'phase'"),
        (lacking(AGENCY, "amplitude"), "a record lacks 'amplitude'"),
        (lacking(AGENCY, "phase_GMT"), "a record lacks 'phase_GMT'"),
        ({"harmonic_constituents": [1]}, "can't be used"),
        ({"harmonic_constituents": 3}, "can't be used"),
        ({"harmonic_constituents": [{"name": "M2", "amplitude": None, "phase": 1}]}, "can't be"),
        ({"HarmonicConstituents": [[]]}, "is not whole|can't be used"),
        ({"harmonicConstituents": []}, "is not a station of a known kind"),
        ([1], "is not a station of a known kind"),
        ([], "is not a station of a known kind"),
        (7, "is not a station of a known kind"),
        ({"stations": [1]}, "is not a station of a known kind"),
    ],
)
def test_other_peoples_records_that_are_not_whole(tmp_path: Path, record: Any, says: str) -> None:
    path = tmp_path / "other.json"
    path.write_text(json.dumps(record), encoding="utf-8")
    with pytest.raises(WaterError, match=says) as refused:
        import_station(path)
    assert str(path) in str(refused.value)
    assert refused.value.do


def test_subordinate_stations_name_their_reference(
    registry_predictions: list[dict[str, Any]], tmp_path: Path
) -> None:
    record = registry_predictions[0]["record"] | {
        "type": "subordinate",
        "harmonic_constituents": [],
        "offsets": {"reference": "noaa/1612340"},
    }
    with pytest.raises(WaterError, match="reference station noaa/1612340"):
        import_station(written(tmp_path, record))


def test_a_subordinate_station_survives_its_file(tmp_path: Path) -> None:
    record = changed(
        "heights.differences",
        {"high_minutes": 20, "low_minutes": -5, "high": 0.8, "low": 0.5, "type": "ratio"},
    )
    station = read_station(written(tmp_path, record))
    reference = station.heights.reference
    mine = station.heights.turns(TIMES[24], TIMES[-24])
    theirs = turns(reference, TIMES[12], TIMES[-12])
    first = mine.iloc[0]
    ahead = np.timedelta64(20 if first["high"] else -5, "m")
    match = theirs[(theirs["time"] + ahead - first["time"]).abs() < np.timedelta64(1, "s")].iloc[0]
    factor = 0.8 if first["high"] else 0.5
    assert first["height_m"] == pytest.approx(factor * match["height_m"])
    write_station(tmp_path / "again.json", station)
    again = read_station(tmp_path / "again.json")
    np.testing.assert_array_equal(again.heights.height_m(TIMES), station.heights.height_m(TIMES))
    with pytest.raises(WaterError, match="'double' is neither ratio nor fixed"):
        read_station(written(tmp_path, changed("heights.differences", {"type": "double"})))


def test_a_list_of_stations_needs_an_id(
    registry_predictions: list[dict[str, Any]], tmp_path: Path
) -> None:
    records = [answer["record"] for answer in registry_predictions[:3]]
    path = written(tmp_path, records)
    assert import_station(path, station_id=records[1]["id"]).name == records[1]["name"]
    with pytest.raises(WaterError, match="3 stations are in it"):
        import_station(path)
    with pytest.raises(WaterError, match="no station 'x' in it"):
        import_station(path, station_id="x")
    assert records[1]["license"]["commercial_use"]


def test_left_out_constituents_are_reported(
    registry_predictions: list[dict[str, Any]], tmp_path: Path
) -> None:
    record = dict(registry_predictions[0]["record"])
    record["harmonic_constituents"] = [
        *record["harmonic_constituents"],
        {"name": "X9", "amplitude": 0.001, "phase": 1.0},
    ]
    assert "X9 (0.001)" in import_station(written(tmp_path, record)).notes[0]
    record["harmonic_constituents"][-1]["amplitude"] = 5.0
    with pytest.raises(WaterError, match="unknown constituents X9 make up"):
        import_station(written(tmp_path, record))


def test_a_fixed_current_in_words() -> None:
    current = parse_current("0.8 kn toward 40")
    assert (current.speed_mps, current.toward_deg) == (pytest.approx(0.8 * 1852 / 3600), 40.0)
    for words in ("0.8 kn", "0.8 kn toward N-ish", "0.8 kn toward 400"):
        with pytest.raises(WaterError, match="can't read the current"):
            parse_current(words)


def test_the_page_on_station_files_shows_a_good_one(tmp_path: Path) -> None:
    page = Path(__file__).parents[2] / "docs" / "station_file.md"
    example = page.read_text(encoding="utf-8").split("```json\n")[1].split("```")[0]
    station = read_station(written(tmp_path, json.loads(example)))
    ours = read_station(written(tmp_path, station_record()))
    np.testing.assert_array_equal(station.heights.height_m(TIMES), ours.heights.height_m(TIMES))
    np.testing.assert_array_equal(station.currents.velocity(TIMES), ours.currents.velocity(TIMES))


def test_nothing_is_made_in_the_users_home() -> None:
    """A home that can't be written is no trouble, and importing leaves no folder in it."""
    import os
    import subprocess
    import sys

    with_no_home = {**os.environ, "HOME": __file__, "XDG_CACHE_HOME": __file__}
    with_no_home.pop("PYTMD_CACHE_DIR", None)
    done = subprocess.run(
        [sys.executable, "-c", "import layers.water.stations.harmonics"],
        env=with_no_home,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-500:]


def test_a_twentieth_of_a_tide_may_be_of_unknown_constituents() -> None:
    """0.4 of 10.4 m is left out with a note; 0.6 of 10.6 is refused."""
    *_, notes = usable_constituents([("M2", 10.0, 30.0), ("XYZ9", 0.4, 0.0)], "station.json")
    assert notes == ["Left out, not known: XYZ9 (0.4)."]
    with pytest.raises(WaterError, match="XYZ9 make up 6 % of its tide"):
        usable_constituents([("M2", 10.0, 30.0), ("XYZ9", 0.6, 0.0)], "station.json")
