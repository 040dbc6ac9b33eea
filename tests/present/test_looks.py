"""The table of looks: contrast by the formula of WCAG 2, one colour a meaning, spelled once."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

import layers
from layers.present.looks import (
    INKS,
    MARKS,
    RAMPS,
    VIEWS,
    channels,
    contrast,
    css_variables,
    for_browser,
    ink_on,
    shade,
)

ROOT = Path(layers.__file__).parents[1]
LINE, TEXT = 3.0, 4.5
"""Least contrast of graphical objects (WCAG 2.2, 1.4.11) and of text (1.4.3)."""
DEPTHS = [shade(ramp, step / 64) for ramp in ("depth", "band") for step in range(65)]
NIGHT = [shade("depth_night", step / 64) for step in range(65)]


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 spells it, apart from the code that is tested."""
    total = 0.0
    for start, weight in ((1, 0.2126), (3, 0.7152), (5, 0.0722)):
        share = int(colour[start : start + 2], 16) / 255
        total += weight * (share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4)
    return total


def ratio(one: str, other: str) -> float:
    values = sorted((luminance(one), luminance(other)))
    return (values[1] + 0.05) / (values[0] + 0.05)


def test_contrast_is_that_of_wcag() -> None:
    # the worked pairs of common practice: #767676 is the lightest grey of 4.5 on white
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)
    assert contrast("#ff0000", "#ffffff") == pytest.approx(4.00, abs=0.005)
    for one, other in (("#0a3a9e", "#f4ecd6"), ("#808080", "#1b1b42")):
        assert contrast(one, other) == pytest.approx(ratio(one, other), rel=1e-12)


ON_DEPTHS = sorted(MARKS.keys() - {"slack", "motor", "agrees", "differs", "aside", "band"})


@pytest.mark.parametrize("name", ON_DEPTHS)
def test_a_line_is_seen_on_every_depth(name: str) -> None:
    """The line or its casing contrasts with each depth colour, and the line with its casing."""
    look = MARKS[name]
    for colour, casing, grounds in (
        (look.colour, look.casing, DEPTHS),
        (look.night, look.night_casing, NIGHT),
    ):
        assert ratio(colour, casing) >= TEXT
        worst = min(max(ratio(colour, one), ratio(casing, one)) for one in grounds)
        assert worst >= LINE, f"{name}: {worst:.2f}"


def test_points_and_bars_are_seen_on_paper() -> None:
    for name, look in MARKS.items():
        ground = look.casing if name == "band" else "#ffffff"
        assert ratio(look.colour, ground) >= LINE, name


@pytest.mark.parametrize("depth", DEPTHS + NIGHT)
def test_black_or_white_text_is_read_on_every_depth(depth: str) -> None:
    assert ratio(ink_on(depth), depth) >= TEXT


@pytest.mark.parametrize("view", ["day", *VIEWS])
def test_text_is_read_on_every_page(view: str) -> None:
    inks = INKS | VIEWS.get(view, {})
    pairs = [
        (ink, ground) for ink in ("ink", "soft", "accent") for ground in ("paper", "head", "chosen")
    ]
    pairs += [("bar-ink", "bar"), ("bar-ink", "warning"), ("caution", "bar"), ("label", "halo")]
    for ink, ground in pairs:
        assert ratio(inks[ink], inks[ground]) >= TEXT, f"{view}: {ink} on {ground}"


def test_a_colour_has_one_meaning() -> None:
    """Colours with a hue are of one meaning each; neutrals differ by their shape."""
    alike = {frozenset(pair) for pair in (("fish", "stretch"), ("plan", "way"))}
    for name, look in MARKS.items():
        red, green, blue = (int(look.colour[at : at + 2], 16) for at in (1, 3, 5))
        if max(red, green, blue) - min(red, green, blue) < 30:
            continue
        others = [one for one in MARKS if one != name and MARKS[one].colour == look.colour]
        assert all(frozenset((name, one)) in alike for one in others), name


def test_expected_fish_brighten_with_the_rate_and_stay_dim_at_night() -> None:
    day, night = ([luminance(colour) for colour in RAMPS[ramp]]
                  for ramp in ("expected", "expected_night"))  # fmt: skip
    assert all(np.diff(day) > 0) and all(np.diff(night) > 0)
    # our own bound: no more than what the night's letters give, and under half of the day's
    assert max(night) < min(0.45 * max(day), luminance(VIEWS["night"]["ink"]))
    blue = [channels(colour)[2] / max(channels(colour)[0], 1) for colour in RAMPS["expected_night"]]
    assert max(blue[1:]) < 1.0  # red-safe: more red than blue from the second stop on


def test_ramps_of_depth_darken_all_the_way() -> None:
    for ramp in ("depth", "depth_night"):
        light = [luminance(colour) for colour in RAMPS[ramp]]
        assert light == sorted(light, reverse=True)


def test_css_and_browser_read_the_same_table() -> None:
    css, browser = css_variables(), for_browser()
    root = css.split("}", 1)[0]
    for name, look in MARKS.items():
        assert f"--mark-{name.replace('_', '-')}: {look.colour};" in root
        assert browser["marks"][name]["color"] == look.colour
    assert browser["ramps"]["depth"][0] == [0xF4, 0xEC, 0xD6]


COLOUR = re.compile(r"(?<!&)#(?:[0-9a-fA-F]{8}|[0-9a-fA-F]{6}|[0-9a-fA-F]{3,4})\b|\brgba?\(\s*\d")
TABLE = ROOT / "layers/present/looks.py"
LATER = re.compile(r"layers/(water|tracks|present)/")


def spelled() -> Iterator[str]:
    for room in ("layers", "seabed"):
        for file in sorted((ROOT / room).rglob("*")):
            if file.suffix not in {".py", ".js", ".css", ".html"} or file == TABLE:
                continue
            for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), 1):
                if COLOUR.search(line):
                    yield f"{file.relative_to(ROOT).as_posix()}:{number}: {line.strip()}"


def test_no_colour_is_spelled_outside_the_table() -> None:
    assert [one for one in spelled() if not LATER.match(one)] == []
