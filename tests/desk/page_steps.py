"""What tests of the desk do on its pages again and again."""

import csv
import json
from datetime import datetime, timedelta
from pathlib import Path

DEMO = Path(__file__).parents[2] / "demo_area"


def ended(page):
    """Wait for the task on the page, which must be done."""
    page.wait_for_selector(
        "[data-state=done], [data-state=wrong], [data-state=broken]", timeout=600_000
    )
    words = page.locator("[data-task]").first.inner_text()
    assert page.locator("[data-state=done]").count(), words


def send(page, *files):
    page.wait_for_selector("body[data-ready=yes]")
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.locator("form.drop input[type=file]").first.set_input_files(list(files))


def follow(page, role, name, **how):
    """Press a link or a button that leads to another page."""
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.get_by_role(role, name=name, **how).click()


def saved(page, act):
    """Do something that saves a file; give the file."""
    with page.expect_download() as download:
        act()
    return Path(download.value.path())


def plans(water):
    """Records of the plans, in the order in which they were asked for."""
    files = (water / "results").glob("*-plan*.json")
    records = [json.loads(file.read_text()) for file in files if "answer" not in file.name]
    return sorted(records, key=lambda one: one["begun"])


def changed(page, act):
    """Do something to a trip, and wait until the page has what came of it."""
    with page.expect_response(lambda answer: "/trips/right" in answer.url) as answer:
        act()
    assert answer.value.ok, answer.value.text()
    page.wait_for_selector("#editor:not([aria-busy])")


def drag_end(page, right_px):
    """Take the end of the chosen piece by the mouse, and hold it so far to the side."""
    box = page.locator("#end-to").bounding_box()
    x, y = box["x"] + 4, box["y"] + 10
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + right_px, y, steps=4)


def open_card(page, name):
    """Open a card of the page on the water, if it is shut."""
    page.wait_for_selector("body[data-ready=yes]")
    page.locator(f"details#{name}").evaluate("card => { card.open = true; }")


def give_wind(page, words):
    page.get_by_label("Wind in words").fill(words)
    page.get_by_label("Wind in words").blur()


def dial_places(page, *shares):
    """Places on a dial that is drawn and scrolled to, and waits for nothing."""
    from playwright.sync_api import expect

    dial = page.get_by_role("slider", name="Wind from")
    expect(dial).to_have_attribute("aria-valuetext", "SW")
    expect(page.locator("[aria-busy=true]")).to_have_count(0)
    dial.scroll_into_view_if_needed()
    box = dial.bounding_box()
    return [
        (box["x"] + box["width"] * (0.5 + east), box["y"] + box["height"] * (0.5 + south))
        for east, south in shares
    ]


def turn_by_finger(page, *shares):
    """Turn the dial by touch; the page stays under the finger."""
    first, *others = dial_places(page, *shares)
    finger = page.context.new_cdp_session(page)

    def touch(kind, *fingers):
        points = [{"x": x, "y": y} for x, y in fingers]
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    top = page.evaluate("scrollY")
    touch("touchStart", first)
    for place in others:
        touch("touchMove", place)
    assert page.evaluate("scrollY") == top
    touch("touchEnd")


def broken_rules(page):
    """Rules of axe-core that a page breaks, and where; maps in it are tried by themselves.

    What keeps its rules is not described: that takes a quarter of the time.
    """
    from axe_playwright_python.sync_playwright import Axe

    asked = {"iframes": False, "resultTypes": ["violations"]}
    broken = Axe().run(page, options=asked).response["violations"]
    return [(rule["id"], [node["html"][:100] for node in rule["nodes"]]) for rule in broken]


def command_of(task, out, book):
    """Write what was asked of the desk as the words of a command, with other places for results."""
    from layers.jobs import requests
    from layers.jobs.options import options_of

    options = options_of(getattr(requests, f"{task.job.capitalize()}Request"))
    asked = task.request | {"out": str(out)} | ({"log": str(book)} if "log" in task.request else {})
    words = [task.job]
    for name, value in asked.items():
        option = options[name]
        values = value if isinstance(value, list) else [value]
        flag = f"--{(option.name or name).replace('_', '-')}"
        for one in values:
            words += [one] if option.argument else [flag] if one is True else [flag, str(one)]
    return words


def paste(cell, text):
    """Paste as a browser does, where no clipboard may be read."""
    cell.evaluate(
        """(cell, text) => {
            const clipboardData = new DataTransfer();
            clipboardData.setData("text", text);
            const about = { clipboardData, bubbles: true, cancelable: true };
            cell.dispatchEvent(new ClipboardEvent("paste", about));
        }""",
        text,
    )


def catches_in_utc(path):
    """Write the fish of the first trip in UTC, where the water's clocks are two hours behind."""
    import openpyxl

    book = openpyxl.Workbook()
    with (DEMO / "catches.csv").open(newline="", encoding="utf-8") as stream:
        head, *rows = csv.reader(stream)
    book.active.append(head)
    for row in rows:
        if row[0].startswith("2031-06-07"):
            time = datetime.fromisoformat(row[0][:19]) + timedelta(hours=2)
            book.active.append([time, row[1], float(row[2]), *row[3:]])
    book.save(path)
    return path


def shift_the_fish(page):
    """Answer the question about a catch log that is two hours ahead."""
    question = page.locator("#clock-question")
    question.wait_for()
    words = question.inner_text()
    assert "12 of 13 fish are 2 h ahead of the track; 3 are on a drift now" in words
    assert page.locator("#fish-table small").count() == 10  # on no drift
    with page.expect_response(lambda answer: "/trips/sketch" in answer.url):
        question.get_by_role("button", name="Shift the fish: their clock was off by 2 h").click()
    question.wait_for(state="hidden")
    assert page.locator("#fish-table small").count() == 1  # one was caught on a run
    assert page.get_by_label("The catch log's clock was ahead by").input_value() == "2 h"
