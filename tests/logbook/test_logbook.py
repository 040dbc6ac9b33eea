"""Trips go into the logbook, once each, come out as they went in, and are taken out whole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from book_tables import made_entry

from seabed.errors import LogbookError


def test_the_same_trip_again_changes_nothing(book):
    entries = [made_entry("2031-06-14"), made_entry("2031-06-21")]
    assert book.add(entries).added == ("2031-06-14", "2031-06-21")
    before = book.trips()
    again = book.add(entries)
    assert again.unchanged == ("2031-06-14", "2031-06-21")
    assert not again.added and not again.replaced
    pd.testing.assert_frame_equal(book.trips(), before)
    assert len(book.drifts()) == 6 and len(book.catches()) == 6


def test_a_corrected_trip_takes_the_place_of_the_old_one_whole(book):
    book.add([made_entry("2031-06-14", drifts=5), made_entry("2031-06-21")])
    corrected = made_entry("2031-06-14", drifts=2, seed=7)
    with pytest.raises(LogbookError, match=r"2031-06-14: 3 of 5 fish, 60 min of track"):
        book.add([corrected])
    assert list(book.trips()["drifts"]) == [5, 3]
    assert book.add([corrected], replace=True).replaced == ("2031-06-14",)
    assert len(book.drifts("2031-06-14")) == len(book.catches("2031-06-14")) == 2
    assert len(book.drifts("2031-06-21")) == 3
    assert list(book.trips()["drifts"]) == [2, 3]


def test_an_evening_after_a_morning_is_a_trip_of_its_own(book):
    morning, evening = made_entry("2031-06-14"), made_entry("2031-06-14", hour=17)
    book.add([morning])
    assert book.add([evening]).added == ("2031-06-14 b",)
    assert list(book.drifts()["drift_id"].str.split(" #").str[0].unique()) == [
        "2031-06-14", "2031-06-14 b",
    ]  # fmt: skip
    assert set(book.catches("2031-06-14 b")["drift_id"]) == set(
        book.drifts("2031-06-14 b")["drift_id"]
    )
    assert book.add([evening]).unchanged == ("2031-06-14 b",)
    whole = replace(morning, end=evening.end)
    with pytest.raises(LogbookError, match=r"2031-06-14 and 2031-06-14 b: .*2 trips becoming one"):
        book.add([whole])
    assert book.add([whole], replace=True).replaced == ("2031-06-14",)
    assert list(book.trips()["trip"]) == ["2031-06-14"]


def test_logging_half_of_a_trip_again_is_refused_and_names_what_would_be_lost(book):
    """Without its catch log; without its first file; without one in the middle."""
    whole = made_entry("2031-06-14", drifts=6)
    book.add([whole])
    before = book.path.read_bytes()
    no_fish = replace(whole, catches=whole.catches.iloc[:0])
    second = replace(
        whole,
        start=whole.drifts["start"].iloc[3],
        drifts=whole.drifts.iloc[3:],
        pieces=whole.pieces.iloc[3:],
    )
    middle = [0, 1, 4, 5]
    holed = replace(whole, drifts=whole.drifts.iloc[middle], pieces=whole.pieces.iloc[middle])
    gap = replace(whole, pieces=whole.pieces.assign(kind=["gap"] * 2 + ["drift"] * 4))
    for less, lost in (
        (no_fish, "6 of 6 fish"),
        (second, "60 min of track"),
        (holed, "20 min of track"),
        (gap, "20 min of track"),
    ):
        with pytest.raises(LogbookError, match=f"2031-06-14: {lost}. Log each.*nothing was chang"):
            book.add([made_entry("2031-06-21"), less])
        assert book.path.read_bytes() == before
    more = replace(whole, pieces=whole.pieces.assign(kind="hold"))  # cut anew: nothing is lost
    assert book.add([more]).replaced == ("2031-06-14",)
    assert book.add([no_fish], replace=True).replaced == ("2031-06-14",)
    assert len(book.catches()) == 0


@pytest.mark.parametrize("gaps", [[1, 2], [0], [5]])
def test_a_gap_has_no_track_to_lose(book, gaps):
    """Of six pieces of ten minutes some are gaps, without a fix: another cut may leave them out."""
    whole = made_entry("2031-06-14", drifts=6)
    kinds = ["gap" if i in gaps else "drift" for i in range(6)]
    others = [i for i in range(6) if i not in gaps]
    book.add([replace(whole, pieces=whole.pieces.assign(kind=kinds))])
    without = replace(whole, pieces=whole.pieces.iloc[others])
    assert book.add([without]).replaced == ("2031-06-14",)
    less = replace(whole, pieces=whole.pieces.iloc[others[1:]])
    with pytest.raises(LogbookError, match=r"2031-06-14: 10 min of track"):
        book.add([less])


def test_any_number_of_outings_of_one_date_find_a_name(book):
    outings = [made_entry("2031-06-14", drifts=1, points=2) for _ in range(30)]
    moved = []
    for number, outing in enumerate(outings):
        by = pd.Timedelta(minutes=20 * number)
        moved.append(replace(outing, start=outing.start + by, end=outing.end + by))
    names = book.add(moved).added
    assert names[:2] == ("2031-06-14", "2031-06-14 b")
    assert names[25:28] == ("2031-06-14 z", "2031-06-14 aa", "2031-06-14 ab")
    assert len(set(names)) == 30


def test_what_comes_out_is_what_went_in(book):
    entry = made_entry("2031-06-14")
    book.add([entry])
    back = book.entry("2031-06-14")
    assert back.digest() == entry.digest()
    assert back.files == entry.files
    assert list(back.catches["kept"]) == [True, False, pd.NA]
    assert back.drifts["in_band_s"].isna().all()
    assert np.allclose(back.drifts["hours_from_high"], entry.drifts["hours_from_high"], atol=1e-6)
    assert (back.drifts.geometry.to_numpy() == entry.drifts.geometry.to_numpy()).all()
    assert list(back.drifts["start"]) == list(entry.drifts["start"])


def test_tackle_and_a_second_drift_come_out_as_they_went_in(book):
    entry = made_entry("2031-06-14", drifts=3)
    blank = {"person": "", "bait": "", "lead": "", "or_drift_id": "", "sure": np.nan}
    assert replace(entry, catches=entry.catches.assign(**blank)).digest() == entry.digest()
    ids = entry.drifts["drift_id"]
    given = {
        "person": ["a", "", "b"], "bait": ["worm", "", ""], "lead": ["", "", "60 g"],
        "or_drift_id": ["", ids.iloc[2], ""], "sure": [np.nan, 0.7, np.nan],
    }  # fmt: skip
    book.add([replace(entry, catches=entry.catches.assign(**given))])
    fish = book.catches()
    for name, values in given.items():
        pd.testing.assert_series_equal(fish[name], pd.Series(values, name=name))
    book.add([made_entry("2031-06-21")])
    assert book.catches("2031-06-21")["bait"].tolist() == [""] * 3
