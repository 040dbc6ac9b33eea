"""The map in Firefox, where there is one: it opens, tells depths, tries a drift, keeps a fish.

The desk's pages open in it too.
"""

from __future__ import annotations

import re
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from map_content import content_of
from pyproj import Transformer
from thoroughness import THOROUGH

from layers.desk.serving import stop_desk
from layers.maps import water_of_day, write_map
from layers.water import FixedCurrent, FixedWind

pytestmark = pytest.mark.browser


def said(driver: Any, script: str) -> Any:
    return driver.execute_script(script, sandbox=None)


def ready(driver: Any) -> None:
    for _ in range(1800):  # a busy machine is no fault
        if said(driver, "return document.body.dataset.ready === 'yes'"):
            return
        time.sleep(0.1)
    pytest.fail("the page was not ready in three minutes")


def press(driver: Any, selector: str, words: str = "") -> None:
    done = driver.execute_script(
        "const all = [...document.querySelectorAll(arguments[0])];"
        "const one = all.find((e) => e.textContent.includes(arguments[1]));"
        "if (one) one.click(); return Boolean(one)",
        script_args=[selector, words],
        sandbox=None,
    )
    assert done, (selector, words)


def test_the_map_works_in_firefox(firefox: Any, small_grid: xr.DataArray, tmp_path: Path) -> None:
    day = water_of_day(
        np.datetime64("2031-06-14T00:00", "ns"),
        np.datetime64("2031-06-15T00:00", "ns"),
        heights=None,
        currents=FixedCurrent(0.4, 20.0),
        wind=FixedWind(3.0, 200.0),
    )
    write_map(tmp_path / "map.html", content_of(small_grid, water=day))
    firefox.navigate((tmp_path / "map.html").as_uri())
    ready(firefox)
    # a plane of 5 + x / 100 metres, away from the hump: half a cell before 150 m along
    longitude, latitude = Transformer.from_crs(32624, 4326, always_xy=True).transform(
        620150, 5117250
    )
    depth = said(firefox, f"return seabedMap.depths.depth({latitude}, {longitude})")
    assert depth == pytest.approx(6.475, abs=0.02)
    assert said(firefox, "return document.querySelectorAll('#lines .line').length") == 2
    press(firefox, "#lines .line")
    assert said(firefox, "return document.querySelector('#card .ground') !== null")
    press(firefox, "#tool-drift")
    press(firefox, "#card button", "Start at the centre")
    told = said(firefox, "return document.getElementById('card').textContent")
    speed = re.search(r"Mean speed\s*([\d.]+) kn", told)
    # water of 0.4 m/s, 0.78 kn, and a wind from behind it of 3 m/s, of which the boat takes a share
    assert speed and 0.78 <= float(speed[1]) < 1.3, told
    press(firefox, "#tool-fish")
    press(firefox, "#card button", "Kept")
    firefox.refresh()
    ready(firefox)
    press(firefox, "#tool-fish")
    assert said(firefox, "return document.querySelectorAll('.tally li').length") == 1
    asked = said(firefox, "return performance.getEntriesByType('resource').map((r) => r.name)")
    assert [name for name in asked if not name.startswith(("data:", "blob:"))] == []


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[str]:
    """The address of a desk with one water, ``sound``."""
    (tmp_path / "sound").mkdir()
    (tmp_path / "sound" / "area.toml").write_text('[area]\ntimezone = "Etc/GMT+2"\n')
    command = [sys.executable, "-m", "layers.cli.main", "desk", str(tmp_path), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        yield re.findall(r"http://\S+", process.stdout.readline())[0]
        assert stop_desk(tmp_path)
        assert process.wait(600) == 0


@pytest.mark.skipif(not THOROUGH, reason="a second browser: in the thorough set")
def test_every_page_of_the_desk_opens_in_firefox(firefox: Any, desk: str) -> None:
    """A page is ready when its code has run."""
    firefox.navigate(desk)
    ready(firefox)
    for page in ("today", "trips", "season", "bottom", "water"):
        firefox.navigate(f"{desk.partition('/?')[0]}/w/sound/{page}")
        assert said(firefox, "return document.querySelector('h1:not(.wrong)') !== null"), page
        ready(firefox)
    firefox.navigate("about:blank")
