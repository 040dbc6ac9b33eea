"""What looks wrong in tables of the tide that can be read: feet, hours off, summer time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from layers.area import default_area
from layers.jobs.check import check_file


def table(folder, text, name="t.csv"):
    (folder / name).write_text(text, encoding="utf-8")
    return str(folder / name)


TURNS = [("14 03:12", 1.9), ("14 09:30", 0.1), ("14 15:50", 1.8), ("14 22:01", 0.3),
         ("15 04:20", 1.9), ("15 10:35", 0.2), ("15 16:50", 1.8)]  # fmt: skip


def tides(factor: float = 1.0, moved: int | None = None) -> str:
    """A half-daily tide of our own; with one turn three hours late."""
    rows = ["time,height_m"]
    for number, (clock, height) in enumerate(TURNS):
        hour = int(clock[3:5]) + (3 if number == moved else 0)
        rows.append(f"2031-06-{clock[:3]}{hour:02d}{clock[5:]},{height * factor:.2f}")
    return "\n".join(rows)


@pytest.mark.parametrize(
    ("text", "zone", "said"),
    [
        (tides(), "UTC", None),
        (tides(5.0), "UTC", "higher than in most of the world. If its numbers are feet"),
        (tides(moved=3), "UTC", "the turn at 2031-06-15 01:01 is about 3 hours too late"),
        (tides(), "Europe/Lisbon", "read with the summer time of Europe/Lisbon"),
        ("Standard time\n" + tides(), "Europe/Lisbon", "read as UTC, which the table names"),
    ],
)
def test_what_looks_wrong_in_a_tide_table(tmp_path, text, zone, said):
    text = text.replace("2031-06-14 25:01", "2031-06-15 01:01")
    checked = check_file(table(tmp_path, text), replace(default_area(), timezone=zone))
    assert checked.kind == "table of tide heights" and checked.usable
    words = " ".join(f"{what}. {do}" for what, do in checked.wrong)
    assert said in words if said else words == ""


def test_heights_without_a_unit_are_readable_and_the_open_question_is_printed(tmp_path):
    name = table(tmp_path, tides(5.0).replace("height_m", "height"))
    checked = check_file(name, default_area())
    words = " ".join(f"{what}. {do}" for what, do in checked.wrong)
    assert checked.usable and checked.kind == "table of tide heights"
    assert "no unit" in words and "{heights_unit} to m or ft" in words
    assert "higher than" not in words  # metres are not assumed
    feet = replace(default_area().water, heights_unit="ft")
    answered = check_file(name, replace(default_area(), water=feet))
    assert answered.usable and answered.wrong == []


PARTS = {
    "half-daily": [(1.6, 12.4206), (0.55, 12.0), (0.3, 12.6583), (0.1, 23.9345), (0.1, 25.8193)],
    "mixed": [(0.9, 12.4206), (0.25, 12.0), (0.2, 12.6583), (0.4, 23.9345), (0.25, 25.8193)],
}
"""Amplitudes, m, and periods, h (M2, S2, N2, K1, O1), of two invented tides."""


def turns(parts, seed):
    """Times of the turns of two weeks, hours, and their heights, by looking at each minute."""
    chance = np.random.default_rng(seed)
    hours = np.arange(0, 24 * 14, 1 / 60)
    begin = chance.uniform(0, 24 * 28)
    water = sum(
        size * np.cos(2 * np.pi * (hours + begin) / period - chance.uniform(0, 2 * np.pi))
        for size, period in parts
    )
    at = np.flatnonzero(np.diff(water)[:-1] * np.diff(water)[1:] <= 0) + 1
    return hours[at], water[at]


@pytest.mark.parametrize("tide", PARTS)
def test_a_turn_that_is_an_hour_off_is_named_and_right_tables_are_not_doubted(tmp_path, tide):
    first = np.datetime64("2031-06-01T00:00", "m")

    def faults(hours, heights):
        minutes = np.round(hours * 60).astype("timedelta64[m]")
        rows = [f"{first + at},{high:.2f}" for at, high in zip(minutes, heights, strict=True)]
        checked = check_file(table(tmp_path, "\n".join(["time,height_m", *rows])), default_area())
        assert checked.usable
        return [what for what, _ in checked.wrong], first + minutes

    seen = 0
    for seed in range(6):
        hours, heights = turns(PARTS[tide], seed)
        assert faults(hours, heights)[0] == []
        row, by = 10 + seed, (-1) ** seed
        hours[row] += by
        words, times = faults(hours, heights)
        late = "late" if by > 0 else "early"
        clock = str(times[row]).replace("T", " ")
        seen += f"the turn at {clock} is about an hour too {late} for its neighbours" in words
        assert len(words) <= 1
    assert seen >= 5
