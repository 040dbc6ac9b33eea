"""Jobs asked for as a notebook or a page asks for them.  Our own contract."""

from __future__ import annotations

from pathlib import Path

import pytest
from coarse_demo import coarse_demo

from layers import jobs
from layers.jobs.progress import steps_of
from layers.jobs.requests import AreaRequest, MarksRequest, TripRequest
from seabed.errors import OutputError, SeabedError

DEMO = coarse_demo(4)


def request(folder: Path, **more) -> TripRequest:
    return TripRequest(tracks=(DEMO / "trip_2a.gpx",), timezone="Etc/GMT+2", out=folder, **more)


def test_a_job_prints_nothing_and_tells_how_far_it_is(tmp_path, capsys):
    told: list[tuple[str, float]] = []
    result = jobs.run(request(tmp_path / "out"), lambda *words: told.append(words))
    assert capsys.readouterr() == ("", "")
    shares = [share for _, share in told]
    assert shares == sorted(shares) and shares[0] == 0.0 and shares[-1] <= 1.0
    assert all(words for words, _ in told)
    assert all(path.is_file() for path in result.files.values())
    assert result.trips.lines["drifts"].sum() == len(result.trips.drifts) > 0
    assert result.answer()["files"] == result.files


@pytest.mark.parametrize("at", ["reading tracks", "writing tables and marks", "drawing the map"])
def test_a_job_that_is_cancelled_leaves_nothing_half_written(tmp_path, at):
    def progress(words: str, _share: float) -> None:
        if words == at:
            raise jobs.Cancelled

    with pytest.raises(jobs.Cancelled):
        jobs.run(request(tmp_path / "out"), progress)
    left = [path.name for path in tmp_path.rglob("*")]
    assert "map.html" not in left
    assert not [name for name in left if name.startswith(".writing-")]
    if at != "drawing the map":
        assert left == []


def test_consent_is_a_field_of_the_request(tmp_path):
    (tmp_path / "map.html").write_text("another's")
    with pytest.raises(OutputError, match=r"map\.html: exists already.*say replace"):
        jobs.run(request(tmp_path))
    assert (tmp_path / "map.html").read_text() == "another's"
    jobs.run(request(tmp_path, replace=True))
    assert (tmp_path / "map.html").read_text(encoding="utf-8") != "another's"


def test_an_error_names_the_field(tmp_path):
    with pytest.raises(SeabedError) as caught:
        jobs.run(AreaRequest(out=tmp_path / "a.toml", band="deep"))
    assert caught.value.keys[0] == "band"
    with pytest.raises(SeabedError) as caught:
        jobs.run(MarksRequest(results=(tmp_path / "none.gpkg",), name_length=2))
    assert caught.value.keys == ("name_length",)


def test_steps_never_pass_the_end():
    told = []
    step = steps_of(lambda words, share: told.append(share), 2)
    for words in "abcd":
        step(words)
    assert told == [0.0, 0.5, 1.0, 1.0]
