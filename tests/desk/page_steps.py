"""What tests of the desk do on its pages again and again."""

import csv
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


def open_card(page, name):
    """Open a card of the page on the water, if it is shut."""
    page.wait_for_selector("body[data-ready=yes]")
    page.locator(f"details#{name}").evaluate("card => { card.open = true; }")


def give_wind(page, words):
    page.get_by_label("Wind in words").fill(words)
    page.get_by_label("Wind in words").blur()


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
