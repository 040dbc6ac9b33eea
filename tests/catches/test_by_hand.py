"""Fish put right by hand, in the file of corrections; truth is what the lines say."""

import numpy as np
import pandas as pd
import pytest

from layers.catches import as_catches
from layers.catches.by_hand import correct_fish
from layers.tracks.corrections import parse_corrections
from seabed.errors import TrackError


@pytest.fixture
def fish():
    rows = [
        {"time": pd.Timestamp("2031-06-14T08:05Z"), "species": "ling", "length_m": 0.5},
        {"time": pd.Timestamp("2031-06-14T08:05Z"), "species": "flounder", "length_m": 0.4},
        {"time": pd.Timestamp("2031-06-14T08:05Z"), "species": "flounder", "length_m": 0.3},
        {"time": pd.NaT, "species": "flounder", "length_m": 0.3},
    ]
    rest = dict.fromkeys(("person", "bait", "lead", "note"), "")
    rest |= {"kept": True, "rod": "1", "longitude": np.nan, "latitude": np.nan}
    return as_catches(row | rest | {"file": "log.csv", "row": at} for at, row in enumerate(rows, 2))


def corrected(fish, text, ahead_s=0.0):
    lines = parse_corrections(text, "boat.corrections.txt")
    return correct_fish(fish, np.full(len(fish), ahead_s), lines, default_unit="cm")


@pytest.mark.parametrize(
    ("words", "left"),
    [("", [3, 4, 5]), (": flounder", [2, 4, 5]), (": flounder, 30 cm", [2, 3, 5])],
)
def test_one_fish_is_taken_out(fish, words, left):
    table, _, unused = corrected(fish, f"2031-06-14 08:05 no fish{words}")
    assert table["row"].tolist() == left
    assert unused == []


def test_the_time_is_the_right_one_where_the_log_was_ahead(fish):
    table, ahead, unused = corrected(fish, "2031-06-14 07:05 no fish: ling", 3600.0)
    assert (len(table), len(unused), ahead.tolist()) == (3, 0, [3600.0] * 3)
    assert len(corrected(fish, "2031-06-14 08:05 no fish: ling", 3600.0)[2]) == 1


def test_a_fish_is_added_with_all_that_is_said_of_it(fish):
    words = "Ling, 61.5, short, rod 2, bait squid strip, note 2 in a minute, back at once"
    line = f"2031-06-14 08:01:30 fish: {words}"
    table, ahead, _ = corrected(fish, line, 60.0)
    added = table.iloc[0]  # the earliest
    assert (added.species, added.kept, added.rod) == ("ling", False, "2")
    assert (added.bait, added.person, added.lead) == ("squid strip", "", "")
    assert added.length_m == pytest.approx(0.615)
    assert added.note == "2 in a minute, back at once"
    assert (added.file, added.row, ahead[0], ahead[1]) == ("boat.corrections.txt", 1, 0.0, 60.0)


def test_a_later_line_takes_back_an_earlier_one(fish):
    text = "2031-06-14 08:01 fish: ling\n08:01 no fish: ling\n08:01 no fish: ling"
    table, _, unused = corrected(fish, text)
    assert len(table) == len(fish)
    assert unused == ["boat.corrections.txt, line 3: no such fish is there; it was left out"]


@pytest.mark.parametrize("length", ["16 furlongs", "9 m", "0"])
def test_a_length_that_no_fish_has(fish, length):
    with pytest.raises(TrackError, match="line 1"):
        corrected(fish, f"2031-06-14 08:01 fish: ling, {length}")
