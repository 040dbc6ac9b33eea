"""The shipped catch log, against the hidden fish.

Truth: the hidden field of fish summed again along the shipped tracks, and Poisson's distribution.
"""

from __future__ import annotations

import tomllib
from collections import defaultdict
from datetime import UTC, datetime, timedelta
from xml.etree import ElementTree

import numpy as np
import pytest
from scipy.stats import poisson
from shipped import AREA, GPX, TO_GRID, TRACKS, TRUTH, fixes_of, moment, rows_of, stream


def local(text):
    """A time of the catch log, which without a zone is the sound's own, two hours behind UTC."""
    time = datetime.fromisoformat(text)
    return time.astimezone(UTC) if time.tzinfo else time.replace(tzinfo=UTC) + timedelta(hours=2)


def marked():
    """Times of the fish marked on the plotter."""
    return [
        moment(point.findtext(f"{GPX}time"))
        for path in TRACKS
        for point in ElementTree.parse(path).getroot().iter(f"{GPX}wpt")
    ]


def test_fish_came_on_drifts_but_for_two_that_no_drift_explains():
    times = [local(row["time"]) for row in rows_of("catches.csv")] + marked()
    drifts = [
        (moment(piece["start"]), moment(piece["end"]))
        for trip in TRUTH["trips"] for piece in trip["pieces"] if piece["kind"] == "drift"
    ]  # fmt: skip
    loose = [time for time in times if not any(a <= time <= b for a, b in drifts)]
    assert len(marked()) == 2
    assert len(loose) == 2
    assert len(times) - 2 == sum(line["fish"] for line in TRUTH["lines"].values())
    assert {len(row["time"]) for row in rows_of("catches.csv")} == {19, 25}  # without and with zone


def test_kept_fish_keep_the_invented_rule():
    with (AREA / "area.toml").open("rb") as stream:
        rules = tomllib.load(stream)["species"]
    kept = defaultdict(int)
    for row in rows_of("catches.csv"):
        rule = rules[row["species"]]
        least = float(rule["min_length"].removesuffix(" in"))
        took = row["kept"] in {"yes", "kept"}
        assert took == (float(row["length_in"]) >= least), row
        kept[row["time"][:10], row["species"]] += took
    assert all(number <= 2 * rules[name]["daily_bag"] for (_, name), number in kept.items())


def test_counts_are_what_the_hidden_rates_may_give():
    """Poisson limits of 99.9 %, line by line, but for the two fish put there by luck."""
    for name, line in TRUTH["lines"].items():
        expected = line["fish_per_rod_hour"] * line["rod_hours"]
        lucky = 2 if name == "G" else 0
        low, high = poisson.interval(0.999, expected)
        assert low <= line["fish"] - lucky <= high, name


def test_rates_of_lines_are_the_field_of_fish_summed_along_the_tracks():
    """Again from the shipped tracks: fish a rod-hour of the truth's haunts, by place and stage."""
    fish, effort = defaultdict(float), defaultdict(float)
    for trip in TRUTH["trips"]:
        time, x, y = fixes_of(trip["files"])
        speed = stream(time)
        rate = np.full(time.size, TRUTH["background_rate"])
        for haunt in TRUTH["haunts"]:
            east, up = TO_GRID.transform(*haunt["lon_lat"])
            turn = np.radians(haunt["bearing_deg"])
            along = (x - east) * np.sin(turn) + (y - up) * np.cos(turn)
            across = (x - east) * np.cos(turn) - (y - up) * np.sin(turn)
            hungry = np.clip(haunt["stage"] * speed / 0.35, 0.1, 1) if haunt["stage"] else 1.0
            near = np.exp(
                -0.5 * ((along / haunt["along_m"]) ** 2 + (across / haunt["across_m"]) ** 2)
            )
            rate += haunt["rate"] * hungry * near
        for piece in trip["pieces"]:
            if piece["kind"] == "drift":
                start, end = (moment(piece[key]).timestamp() for key in ("start", "end"))
                rod_hours = (end - start) / 3600 * piece["rods"]
                mean = rate[(time >= start) & (time <= end)].mean()
                # positions of 2 to 4 m of error in a field that falls off over 40 m, 2 % together
                assert mean * rod_hours == pytest.approx(piece["expected_fish"], rel=0.03)
                fish[piece["line"]] += mean * rod_hours
                effort[piece["line"]] += rod_hours
    assert set(fish) == set(TRUTH["lines"])
    for name, line in TRUTH["lines"].items():
        assert effort[name] == pytest.approx(line["rod_hours"], abs=0.001)
        assert fish[name] / effort[name] == pytest.approx(line["fish_per_rod_hour"], rel=0.02)


def test_one_line_is_best_and_another_was_lucky():
    rates = {name: line["fish_per_rod_hour"] for name, line in TRUTH["lines"].items()}
    best, second = sorted(rates.values(), reverse=True)[:2]
    assert best > 1.25 * second
    seen = {name: line["fish"] / line["rod_hours"] for name, line in TRUTH["lines"].items()}
    lucky = max(seen, key=seen.get)
    assert rates[lucky] == min(rates.values())
    assert TRUTH["lines"][lucky]["rod_hours"] < 0.5
