"""What was worked out of tracks and catches, parted by trip."""

from __future__ import annotations

import pandas as pd
import pytest
from book_tables import made_entry
from shapely.geometry import Point

from layers.logbook import entries_of


def test_entries_part_what_was_worked_out_by_trip():
    """Fish of other days are in no entry; an untied fish of the day is in its trip."""
    day, other = made_entry("2031-06-14"), made_entry("2031-06-21")
    pieces = pd.concat(
        [entry.pieces.assign(outing=i) for i, entry in enumerate((day, other))], ignore_index=True
    )
    pieces["piece_id"] = range(len(pieces))
    drifts = pd.concat([day.drifts, other.drifts], ignore_index=True).assign(
        piece_id=pieces["piece_id"]
    )
    free = day.catches.iloc[[0, 0, 0]].assign(
        drift_id="",
        time=pd.to_datetime(["2031-06-14T20:00Z", "2031-06-30T08:00Z", "2031-06-21T09:30Z"]),
    )
    catches = pd.concat([day.catches, other.catches, free], ignore_index=True)
    first, second = entries_of(
        pieces, drifts, catches, files=["C/x.gpx", "x.gpx"], timezone="Etc/GMT+2"
    )
    assert (first.trip, second.trip) == ("2031-06-14", "2031-06-21")
    assert len(first.catches) == 4 and len(second.catches) == 4
    assert first.files == ("x.gpx",)
    assert first.totals() == {"drifts": 3, "rod_hours": pytest.approx(1.0), "kept": 2, "short": 1,
                              "fish": 4}  # fmt: skip


def test_an_untied_fish_without_a_time_is_in_a_trip(book):
    """With its neighbours in the file; without any, with the track that passes nearest."""
    day, other = made_entry("2031-06-14"), made_entry("2031-06-21")
    pieces = pd.concat(
        [
            day.pieces.assign(outing=0),
            other.pieces.assign(outing=1, geometry=other.pieces.translate(0.5)),
        ],
        ignore_index=True,
    )
    pieces["piece_id"] = range(len(pieces))
    drifts = pd.concat([day.drifts, other.drifts], ignore_index=True).assign(
        piece_id=pieces["piece_id"]
    )
    caught = pd.concat([day.catches, other.catches], ignore_index=True)
    caught["row"] = range(2, len(caught) + 2)
    lone = caught.iloc[[0] * 5].assign(
        drift_id="", time=pd.NaT, species="tasset gurnard",
        file=["catches.csv"] * 3 + ["marks.gpx"] * 2, row=[1, 4, 9, 1, 2],
    )  # fmt: skip
    lone["time"] = pd.to_datetime(lone["time"], utc=True)
    lone.geometry = [Point(), Point(), Point(), Point(-32.9, 46.2), Point(-33.4, 46.2)]
    catches = pd.concat([caught, lone], ignore_index=True)
    catches = catches.assign(longitude=catches.geometry.x, latitude=catches.geometry.y)
    parts = entries_of(pieces, drifts, catches, timezone="Etc/GMT+2")
    assert [sorted(set(part.catches["row"]) & {1, 9}) for part in parts] == [[1], [1, 9]]
    assert [(part.catches["species"] == "tasset gurnard").sum() for part in parts] == [3, 2]
    book.add(parts)
    assert book.add(parts).unchanged == ("2031-06-14", "2031-06-21")
    kept = book.catches()
    assert len(kept) == 11 and kept["time"].isna().sum() == 5
    assert list(book.trips()["fish"]) == [6, 5]
