"""The desk in Firefox, where there is one; ``test_map_in_firefox.py`` opens each of its pages."""

from __future__ import annotations

import base64
import io
import shutil
import time
from pathlib import Path
from typing import Any

import pytest
from thoroughness import THOROUGH

from layers.logbook import Logbook

if not THOROUGH:
    pytest.skip("make test-all only: Chromium does the same in make test", allow_module_level=True)

pytestmark = pytest.mark.browser


def until(driver: Any, script: str) -> Any:
    """Give what a script gives, once that is something."""
    for _ in range(1800):  # a busy machine is no fault
        if value := driver.execute_script(f"return {script}", sandbox=None):
            return value
        time.sleep(0.1)
    pytest.fail(f"not in three minutes: {script}")


def ends(driver: Any) -> list[str]:
    words = "[...document.querySelectorAll('#pieces-list button')].map((one) => one.textContent)"
    return until(driver, words)


def drag(driver: Any, name: str, right_px: int) -> None:
    """Drag something to the side by the mouse."""
    from marionette_driver.marionette import ActionSequence

    until(driver, "document.getElementById('editor').getAttribute('aria-busy') === null")
    box = f"document.getElementById('{name}').getBoundingClientRect()"
    place = until(driver, f"[Math.round({box}.x + 4), Math.round({box}.y + 10)]")
    mouse = ActionSequence(driver, "pointer", "mouse", {"pointerType": "mouse"})
    mouse.pointer_move(*place).pointer_down()
    mouse.pointer_move(place[0] + right_px // 2, place[1]).pointer_move(
        place[0] + right_px, place[1]
    )
    mouse.pointer_up().perform()


def printed(driver: Any) -> str:
    """Give the words of the page as Firefox prints it."""
    import pypdf

    pdf = base64.b64decode(driver._send_message("WebDriver:Print", {}, key="value"))
    return "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def test_a_trip_is_put_right_and_logged_in_firefox(
    firefox: Any, root: Path, address: str, demo: Path
) -> None:
    water = root / "sound"
    water.mkdir(parents=True)
    (water / "area.toml").write_text('[area]\ntimezone = "Etc/GMT+2"\n')
    firefox.navigate(address)
    firefox.navigate(address.split("/?", maxsplit=1)[0] + "/w/sound/trips")
    for name in ("trip_1.gpx", "catches.csv"):
        until(firefox, "document.body.dataset.ready === 'yes' && scrollY + 1")
        shutil.copy(demo / name, root)
        field = firefox.find_element("css selector", "form.drop input[type=file]")
        firefox.execute_script("document.body.dataset.ready = 'old'", sandbox=None)
        field.send_keys(str((root / name).resolve()))
        until(firefox, f"document.querySelector(`[data-kind$='{name}']`)?.checked")
    first = ends(firefox)
    firefox.execute_script("document.querySelectorAll('#pieces-list .drift')[1].click()")
    key = "new KeyboardEvent('keydown', { key: 'ArrowLeft', shiftKey: true, bubbles: true })"
    firefox.execute_script(f"document.getElementById('end-to').dispatchEvent({key})")
    changed = "document.querySelectorAll('#by-hand li').length === 1"
    until(firefox, changed)
    moved = [a != b for a, b in zip(first, ends(firefox), strict=True)]
    assert moved.count(True) == 2
    drag(firefox, "end-to", -16)
    until(firefox, "document.querySelectorAll('#by-hand li').length === 2")
    firefox.execute_script("document.querySelector('[data-do=undo]').click()")
    until(firefox, changed)
    corrections = water / "tracks" / "trip_1.corrections.txt"
    assert corrections.read_text().rstrip().endswith("run")
    firefox.execute_script("document.querySelector('[data-do=undo]').click()")
    until(firefox, "document.getElementById('by-hand').hidden")
    assert ends(firefox) == first
    firefox.execute_script("document.querySelector('[name=log]').click()")
    until(firefox, "document.querySelector('[data-state=done]') !== null")
    assert Logbook(water / "logbook.gpkg").trips()["trip"].tolist() == ["2031-06-07"]
    asked = "performance.getEntriesByType('resource').map((one) => one.name)"
    outside = [one for one in until(firefox, asked) if not one.startswith(("http://127.", "data:"))]
    assert outside == []


def fill(driver: Any, name: str, value: str) -> None:
    """Fill a field as somebody who types does."""
    field = f"document.querySelector('[name={name}]')"
    change = f"{field}.dispatchEvent(new Event('change', {{ bubbles: true }}))"
    driver.execute_script(f"{field}.value = '{value}'; {change}", sandbox=None)


def test_a_day_is_planned_again_for_another_wind_and_a_season_ranked(
    firefox: Any, root: Path, address: str, demo: Path
) -> None:
    water = root / "sound"
    shutil.copytree(demo, water, dirs_exist_ok=True, ignore=shutil.ignore_patterns("trip*"))
    site = address.split("/?", maxsplit=1)[0]
    firefox.navigate(f"{site}/w/sound/today")
    until(firefox, "document.body.dataset.ready === 'yes'")
    given = {"date": "2031-06-14", "begin": "7:00", "end": "8:00", "wind": "SW 8 kn"}
    for name, value in given.items():
        fill(firefox, name, value)
    until(firefox, "document.querySelector('.strip svg')?.checkVisibility()")
    firefox.execute_script("document.querySelector('#day > button').click()")
    until(firefox, "document.querySelector('.times')?.dataset.wind === 'SW 8 kn'")
    until(firefox, "document.body.dataset.ready === 'yes'")
    shown = "document.querySelector('.dial svg').getAttribute('aria-valuetext')"
    until(firefox, f"{shown} === 'SW'")
    key = "new KeyboardEvent('KIND', { key: 'ArrowRight', bubbles: true })"
    for kind in ("keydown", "keyup"):
        turn = f".dispatchEvent({key.replace('KIND', kind)})"
        firefox.execute_script(f"document.querySelector('.dial svg'){turn}")
    until(firefox, "document.querySelector('#drifts.earlier') !== null")
    until(firefox, "document.querySelector('.times').dataset.wind === 'WSW 8 kn'")
    until(firefox, "document.querySelector('#drifts.earlier') === null")

    assert "Run to P1" in printed(firefox)
    firefox.navigate(until(firefox, "document.querySelector('.bottom-map iframe').src"))
    until(firefox, "document.body.dataset.ready === 'yes'")
    assert "Not for navigation" in printed(firefox)

    firefox.navigate(f"{site}/w/sound/season")
    until(firefox, "document.body.dataset.ready === 'yes'")
    firefox.execute_script("document.querySelector('[name=what][value=rank]').click()")
    until(firefox, "document.querySelector('[data-state=done]') !== null")
    assert until(firefox, "document.querySelectorAll('.lines li').length") > 0
