"""Tables of currents under check: units left open, events in ten languages, learned ones."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from layers.area import default_area
from layers.cli.main import main
from layers.jobs.check import check_file
from layers.water import read_currents

CURRENTS = (
    "time,event,{}\n2031-06-14 03:12Z,slack,\n2031-06-14 06:30Z,flood,1.2\n"
    "2031-06-14 09:30Z,slack,0\n"
)


def test_speeds_without_a_unit_are_readable_and_other_commands_name_the_option(tmp_path, capsys):
    path = tmp_path / "currents.csv"
    path.write_text(CURRENTS.format("speed"))
    area = default_area()
    checked = check_file(str(path), replace(area, timezone="America/New_York"))
    assert (checked.kind, checked.usable) == ("table of currents", True)
    assert any("{currents_unit} to kn or m/s" in cure for _, cure in checked.wrong)
    assert checked.facts["up to"] == "1.2"
    assert checked.facts["time span"] == "2031-06-13 23:12 to 2031-06-14 05:30 (America/New_York)"
    words = ("tide", "--currents", str(path), "--flood-toward", "40", "--date", "2031-06-14")
    assert ended(*words) == 2
    assert "'1.2' has no unit" in (said := capsys.readouterr().err)
    assert "set --currents-unit.\n  --currents-unit kn: knots" in said
    assert ended(*words, "--currents-unit", "kn") == 0
    named = tmp_path / "named.csv"
    named.write_text(CURRENTS.format("speed_kn"))
    assert not any("unit" in cure for _, cure in check_file(str(named), area).wrong)


def ended(*words):
    with pytest.raises(SystemExit) as end:
        main(words)
    return end.value.code or 0


def test_answers_are_kept_of_commands_that_succeed_and_need_an_area_file(tmp_path, capsys):
    tide, area = tmp_path / "tide.csv", tmp_path / "area.toml"
    tide.write_text("time,height,kind\n2031-04-03 03:12,6.2,high\n2031-04-03 09:30,0.3,low\n")
    area.write_text(text := '[water]\nheights = "tide.csv"\n')
    words = ("tide", "--date", "2031-04-03", "--heights-unit", "ft", "--keep-answers")
    assert ended(*words, "--area", str(area), "--every", "500") == 2
    assert area.read_text() == text
    assert ended(*words, "--heights", str(tide)) == 2
    assert "there is no area file to keep them in" in capsys.readouterr().err


def test_a_plan_of_a_day_that_no_table_holds_is_refused_before_any_work(monkeypatch, capsys):
    import layers.jobs.plan as plan

    monkeypatch.setattr(plan, "work_out", lambda *_: pytest.fail("it was worked out"))
    area = str(Path(__file__).parents[2] / "demo_area" / "area.toml")
    assert ended("plan", "--area", area, "--date", "2035-06-14") == 2
    assert "runs from 2031-06-01" in capsys.readouterr().err


def test_a_learned_current_is_known(capsys):
    kept = Path(__file__).parents[1] / "of_0_1" / "learned_current.json"
    checked = check_file(str(kept), default_area())
    assert (checked.kind, checked.usable) == ("learned current", True)
    assert checked.facts["learned from"] == "22 drifts of 3 outings"


EVENTS = {
    "de": "Stauwasser, Flut, Kenterung, max. Ebbe", "fr": "étale, flot, étale, jusant",
    "nl": "kentering, vloed, kentering, eb", "da": "stille vand, flod, strømstille, ebbe",
    "no": "stille vann, flo, stille vann, ebbe", "sv": "stillvatten, flod, stillvatten, ebb",
    "es": "estoa, creciente, repunte, vaciante", "pt": "estofo, enchente, estofa, vazante",
    "it": "stanca, flusso, stanca, riflusso", "en": "Slack water, Max flood, slack, Max ebb",
}  # fmt: skip


@pytest.mark.parametrize("language", EVENTS)
def test_events_of_currents_in_ten_languages(tmp_path, language):
    path = tmp_path / "c.csv"
    speeds = ("", "1,2", "0", "1,4")
    rows = [
        f"2031-06-14 {3 * at:02d}:10;{event};{speed}"
        for at, (event, speed) in enumerate(zip(EVENTS[language].split(", "), speeds, strict=True))
    ]
    path.write_text("\n".join(["time;event;speed (kn)", *rows]), encoding="utf-8")
    along = read_currents(path, flood_toward=40).along_mps / 0.514444
    np.testing.assert_allclose(along, [0, 1.2, 0, -1.4], rtol=1e-5)
    assert check_file(str(path), default_area()).kind == "table of currents"
