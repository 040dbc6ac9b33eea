"""Without a current, the message names every way to one, and each example works unchanged."""

import re
import shlex
import shutil

import pytest
from coarse_demo import coarse_demo

from layers.cli.main import main
from layers.desk.texts import error_words
from layers.jobs import plan
from layers.jobs.requests import PlanRequest
from seabed.errors import WaterError

DEMO = coarse_demo()
DAY = ["--date", "2031-06-14", "--wind", "SW 8 kn"]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """The demo's water with no current named."""
    for name in ("tide_table.csv", "current_table.csv", "trip_1.gpx"):
        shutil.copy(DEMO / name, tmp_path)
    text = (DEMO / "area.toml").read_text(encoding="utf-8")
    for name in ("sound.tif", "XX5TOLLI.000"):  # the demo's own, which is then searched once
        text = text.replace(f'["{name}"]', f"[{str(DEMO / name)!r}]")
    (tmp_path / "area.toml").write_text(
        "".join(line for line in text.splitlines(keepends=True) if not line.startswith("currents"))
    )
    monkeypatch.chdir(tmp_path)
    return tmp_path


def call(*words):
    with pytest.raises(SystemExit) as ended:
        main([*words])
    return ended.value.code


def examples(message):
    quoted = re.findall(r'"([^"]+)"', message)
    assert len(quoted) == 4, message
    return quoted


def test_every_example_works_through_tide_and_plan(folder, capsys):
    assert call("plan", "--area", "area.toml", *DAY, "--out", "plan") == 2
    refused = capsys.readouterr().err
    assert "no current is named" in refused
    assert call("tide", "--area", "area.toml", *DAY) == 0
    noted = capsys.readouterr().out
    assert examples(noted) == examples(refused)
    command = re.search(r"by (seabed tide .*)\.$", refused.strip())[1]
    assert call(*shlex.split(command)[1:], "--wind", "SW 8 kn") == 0
    capsys.readouterr()
    for example in examples(refused):
        assert call("tide", "--area", "area.toml", *DAY, "--currents", example) == 0, example
        assert re.search(r"\d\.\d kn [NESW]+ \(\d{3}\)", capsys.readouterr().out), example


def test_plan_and_the_area_file_take_a_current_in_words(folder, capsys, monkeypatch):
    monkeypatch.setattr("layers.jobs.plan.write_plan", lambda plan, paper: ())
    hours = ["--from", "9:00", "--to", "9:45", "--out", "plan"]
    words = examples_of_words(folder, capsys)
    assert call("plan", "--area", "area.toml", *DAY, *hours, "--currents", words[0]) == 0
    capsys.readouterr()
    area = folder / "area.toml"
    named = area.read_text().replace("[water]\n", f'[water]\ncurrents = "{words[1]}"\n')
    area.write_text(named, encoding="utf-8")
    assert call("plan", "--area", "area.toml", *DAY, *hours, "--replace") == 0
    capsys.readouterr()
    area.write_text(named.replace("toward 340", "northish to 340"), encoding="utf-8")
    assert call("tide", "--area", "area.toml", *DAY) == 2
    message = capsys.readouterr().err
    assert "[water] currents" in message
    assert "0.8 kn toward 40" in message


def examples_of_words(folder, capsys):
    assert call("plan", "--area", "area.toml", *DAY, "--out", "none") == 2
    return examples(capsys.readouterr().err)[1:3]


def test_the_desk_names_the_same_ways_and_the_field(folder):
    with pytest.raises(WaterError) as refused:
        plan.run(PlanRequest(area=folder / "area.toml", date="2031-06-14", out=folder / "plan"))
    message = error_words(refused.value)
    assert "“Learn the current from drifts” (This water)" in message
    assert "0.8 kn toward 40" in message
    assert "HW-5 0.5 kn toward 340" in message
    assert "seabed tide" not in message
    assert refused.value.keys[0] == "water.currents"


def test_check_knows_hours_from_high_water_and_words(folder, capsys):
    rows = ["hours,toward,springs_kn,neaps_kn", "-3,350,1.6,0.8", "0,350,0.4,0.2", "3,170,1.8,0.9"]
    (folder / "diamond.csv").write_text("\n".join(rows))
    area = folder / "area.toml"
    text = area.read_text()
    for named in ("diamond.csv", "0.8 kn toward 40"):
        area.write_text(text.replace("[water]\n", f'[water]\ncurrents = "{named}"\n'))
        assert call("check", "area.toml") == 0
        assert "!" not in capsys.readouterr().out
    assert call("check", "diamond.csv") == 0
    printed = capsys.readouterr().out
    assert "diamond.csv: table of currents" in printed
    assert "-3 to +3" in printed
