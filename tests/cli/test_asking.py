"""What files leave open is asked once at a terminal, and kept in the area file."""

from __future__ import annotations

from pathlib import Path

import pytest

from layers.cli import showing
from layers.cli.main import main

TIDE = (
    "time,height,kind\n3/4/2031 03:12,6.2,high\n3/4/2031 09:30,0.3,low\n"
    "3/4/2031 15:40,6,high\n3/4/2031 22:00,0.2,low\n4/4/2031 03:50,6,high\n"
)
AREA = '# mine\n[area]\nname = "North bank"  # of old\n[water]\nheights = "tide.csv"\n'
WORDS = ("tide", "--area", "area.toml", "--date", "2031-04-03", "--every", "180")


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("tide.csv").write_text(TIDE)
    Path("area.toml").write_text(AREA)
    return tmp_path


def ended(*words):
    with pytest.raises(SystemExit) as end:
        main(words)
    return end.value.code or 0


def at_terminal(monkeypatch, *answers):
    """Sit a person down who types these, then nothing."""
    typed = iter(answers)
    monkeypatch.setattr(showing, "_at_terminal", lambda: True)
    monkeypatch.setattr("builtins.input", lambda: next(typed, ""))
    return typed


def test_a_person_is_asked_once_and_the_answers_are_kept(folder, monkeypatch, capsys):
    left = at_terminal(monkeypatch, "perhaps", "dmy", "ft")
    assert ended(*WORDS) == 0
    assert next(left, None) is None
    shown = capsys.readouterr()
    assert "tide.csv, line 2, column 'time'" in shown.err
    assert "3/4/2031 is 3 April 2031" in shown.err
    assert "3/4/2031 is 4 March 2031" in shown.err
    assert 'Kept in area.toml: [area] date_order = "dmy", [water] heights_unit = "ft"' in shown.out
    assert Path("area.toml").read_text() == (
        '# mine\n[area]\nname = "North bank"  # of old\ndate_order = "dmy"\n'
        '[water]\nheights = "tide.csv"\nheights_unit = "ft"\n'
    )
    assert ended(*WORDS) == 0  # nobody answers now
    assert "Which?" not in capsys.readouterr().err


def test_who_gives_no_answer_gets_the_message_and_changes_nothing(folder, monkeypatch, capsys):
    at_terminal(monkeypatch, "dmy", "")
    assert ended(*WORDS) == 2
    assert "or set --heights-unit.\n  --heights-unit m: metres\n" in capsys.readouterr().err
    assert Path("area.toml").read_text() == AREA


def test_a_machine_is_never_asked(folder, monkeypatch, capsys):
    assert ended(*WORDS) == 2
    assert "--date-order dmy" in capsys.readouterr().err
    at_terminal(monkeypatch, "dmy", "ft")
    assert ended(*WORDS, "--json") == 2
    assert "Which?" not in capsys.readouterr().err


def test_the_way_of_the_flood_is_asked_for_in_degrees(folder, monkeypatch, capsys):
    Path("currents.csv").write_text(
        "time,event,speed_kn\n2031-06-14 03:12Z,slack,\n2031-06-14 06:30Z,flood,1.2\n"
        "2031-06-14 09:30Z,slack,0\n"
    )
    words = ("tide", "--currents", "currents.csv", "--date", "2031-06-14")
    at_terminal(monkeypatch, "40")
    assert ended(*words) == 0
    assert "next time say --flood-toward 40.0, or name one with --area" in capsys.readouterr().err
    at_terminal(monkeypatch, "north")
    assert ended(*words) == 2


def test_an_option_is_kept_where_the_area_file_does_not_say(folder, capsys):
    """A table of another's, named on the command line, does not speak for the area's own."""
    answers = ("--date-order", "dmy", "--heights-unit", "ft")
    assert ended(*WORDS, "--heights", "tide.csv", *answers) == 0
    assert 'Kept in area.toml: [area] date_order = "dmy".' in capsys.readouterr().out
    assert ended(*WORDS, *answers) == 0
    assert 'Kept in area.toml: [water] heights_unit = "ft".' in capsys.readouterr().out
    kept = Path("area.toml").read_text()
    assert ended(*WORDS, "--heights-unit", "m") == 0
    assert "Kept" not in capsys.readouterr().out
    assert Path("area.toml").read_text() == kept
    assert ended(*WORDS, "--heights-unit", "m", "--keep-answers") == 0
    assert 'heights_unit = "m"\n' in Path("area.toml").read_text()


def test_an_area_file_that_can_not_be_written_is_no_reason_to_stop(folder, monkeypatch, capsys):
    from layers.area import editing
    from seabed.errors import OutputError

    def refuse(*_, **__):
        raise OutputError("can't write", file="area.toml")

    monkeypatch.setattr(editing, "write_text", refuse)
    assert ended(*WORDS, "--date-order", "dmy", "--heights-unit", "ft") == 0
    assert "Your answers are not kept: area.toml: can't write" in capsys.readouterr().out
