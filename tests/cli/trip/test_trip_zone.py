"""``seabed trip`` says when it took a log's clock for UTC because nobody named its zone."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from coarse_demo import coarse_demo

from layers.cli.main import main

DEMO = coarse_demo(4)
SAID = "Times without a zone were read as UTC; give --timezone"


def told(capsys: pytest.CaptureFixture[str], out: Path, *words: object) -> str:
    with pytest.raises(SystemExit) as ended:
        main(["trip", str(DEMO / "trip_2a.gpx"), "--out", str(out), *map(str, words)])
    assert not ended.value.code
    return capsys.readouterr().out


@pytest.mark.parametrize(
    ("row", "words", "said"),
    [
        ("2031-06-07 08:30", (), True),
        ("2031-06-07 08:30", ("--timezone", "Etc/GMT+2"), False),
        ("2031-06-07 08:30", ("--timezone", "UTC"), False),
        ("2031-06-07T08:30-02:00", (), False),
    ],
)
def test_a_zone_that_nobody_named(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    row: str,
    words: tuple[str, ...],
    said: bool,
) -> None:
    log = tmp_path / "log.csv"
    log.write_text(f"time,species\n{row},dab\n", encoding="utf-8")
    assert (SAID in told(capsys, tmp_path / "out", "--catches", log, *words)) is said


def test_the_answer_for_machines_has_it_too(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "log.csv"
    log.write_text("time,species\n2031-06-07 08:30,dab\n", encoding="utf-8")
    answer = json.loads(told(capsys, tmp_path / "out", "--catches", log, "--json"))
    assert [note for note in answer["notes"] if note.startswith(SAID)]
    answer = json.loads(told(capsys, tmp_path / "out2", "--json"))
    assert not [note for note in answer["notes"] if note.startswith(SAID)]


def test_an_order_without_fish_is_said_to_say_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = "Without a catch log the order of the lines means nothing"
    assert said in told(capsys, tmp_path / "none")
    log = tmp_path / "log.csv"
    log.write_text("time,species\n2031-06-07T08:30-02:00,dab\n", encoding="utf-8")
    assert said not in told(capsys, tmp_path / "one", "--catches", log)
