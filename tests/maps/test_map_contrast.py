"""Contrast on the map itself, which the rules of access do not look at, in every view."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.browser

LINE, TEXT = 3.0, 4.5
"""Least contrast of graphical objects (WCAG 2.2, 1.4.11) and of text (1.4.3)."""
INKS = """() => {
  const { picture, view, band, data } = seabedMap;
  const { least, most } = data.depths;
  return Array.from({ length: 400 }, (_, i) => {
    const depth = least + ((most - least) * i) / 399;
    return [depthColour(picture.colours, [least, most], band, depth), contourInk(seabedMap, depth)];
  });
}"""
DRAWN = """async () => {
  const layer = bulkLayers().find((one) => !one.about);
  await layer.drawing;
  const { width, height } = layer._container.firstChild;
  const { data } = layer._container.firstChild.getContext("2d").getImageData(0, 0, width, height);
  return data.filter((part, i) => i % 4 === 3 && part > 100).length;
}"""
LABELS = """() => [...document.querySelectorAll(".sign:is(.contour, .feature) span")].map((one) => {
  const { color, textShadow } = getComputedStyle(one);
  return [color, textShadow];
})"""


def luminance(colour: list[float]) -> float:
    shares = (part / 255 for part in colour)
    light = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in shares]
    return 0.2126 * light[0] + 0.7152 * light[1] + 0.0722 * light[2]


def ratio(one: list[float], other: list[float]) -> float:
    less, more = sorted((luminance(one), luminance(other)))
    return (more + 0.05) / (less + 0.05)


def rgb(css: str) -> list[float]:
    return [float(part) for part in re.findall(r"[\d.]+", css)[:3]]


def blended(over: list[float], under: list[float], share: float) -> list[float]:
    return [share * a + (1 - share) * b for a, b in zip(over, under, strict=True)]


def test_contours_and_labels_stand_out_on_every_depth(
    open_map: Callable[..., Any], map_file: Path
) -> None:
    page = open_map(map_file)
    for view in ("day", "sun", "night"):
        page.get_by_label("View", exact=True).select_option(view)
        inks = page.evaluate(INKS)
        assert len({ink["light"] for _, ink in inks}) == 2 or view == "night"  # it does change
        worst = min(ratio(blended(rgb(ink["ink"]), ground, 0.8), ground) for ground, ink in inks)
        assert worst >= LINE, (view, worst)
        assert page.evaluate(DRAWN) > 500  # pixels of four contours, each some hundred long
        labels = page.evaluate(LABELS)
        assert len(labels) >= 3
        for colour, halo in labels:
            assert ratio(rgb(colour), rgb(halo)) >= TEXT, (view, colour, halo)
    # nothing in full white on the dark water
    page.click("#side-open")
    bright = page.evaluate(
        "[...document.querySelectorAll('#map *')].filter((one) => one.offsetParent &&"
        " [getComputedStyle(one).color, getComputedStyle(one).backgroundColor]"
        ".includes('rgb(255, 255, 255)')).map((one) => one.outerHTML)"
    )
    assert bright == []
