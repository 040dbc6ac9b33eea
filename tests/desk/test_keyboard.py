"""The whole job by keyboard alone; each stop of Tab shows its focus, and none is a trap."""

import json
import shutil
from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import TimeoutError

pytestmark = pytest.mark.browser

OUTLINED = """() => {
  const style = getComputedStyle(document.activeElement);
  return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
}"""
SEEN = """() => {
  const box = document.activeElement.getBoundingClientRect();
  return box.bottom > 0 && box.right > 0 && box.top < innerHeight && box.left < innerWidth;
}"""
STOP = (
    f"""wanted => {{
  const outlined = ({OUTLINED})(), seen = ({SEEN})();
"""
    + """
  const one = document.activeElement;
  const box = one.getBoundingClientRect();
  const again = one.dataset.reached === "yes";
  one.dataset.reached = "yes";
  const scrolled = one.closest(".pieces, .choices, .scroll") !== null;
  const words = one.getAttribute("aria-label") ?? one.textContent.trim().slice(0, 30);
  return {
    there: one.matches(wanted), kind: one.tagName, again,
    what: `${one.tagName} ${one.id} ${one.name ?? ""} ${words}`,
    top: box.top + scrollY, bottom: box.bottom + scrollY,
    card: !scrolled && one.closest(".cards") !== null, outlined, seen,
  };
}"""
)
MISSED = """() => {
  const all = "a[href], button, input, select, textarea, summary, iframe, [tabindex='0']";
  const can = (one) => one.checkVisibility() && !one.disabled && one.type !== "radio";
  const missed = (one) => can(one) && !one.dataset.reached;
  return [...document.querySelectorAll(all)].filter(missed).map((one) => one.outerHTML);
}"""
MOST = 400


class Keys:
    """A keyboard on a page, and nothing else."""

    def __init__(self, page):
        self.page, self.press = page, page.keyboard.press

    def stop(self, wanted, way="Tab"):
        """Go to the next stop, which must show its focus."""
        self.press(way)
        here = self.page.evaluate(STOP, wanted)
        if here["kind"] == "IFRAME":  # the focus is on something within it, or on its own body
            frame = self.page.evaluate_handle("document.activeElement").as_element().content_frame()
            inside = frame.evaluate("document.activeElement !== document.body")
            assert not inside or frame.evaluate(OUTLINED), frame.evaluate(
                "document.activeElement.outerHTML"
            )
        elif here["kind"] != "BODY":  # between the last stop and the first
            assert here["outlined"], here["what"]
            if not here["seen"]:
                try:
                    self.page.wait_for_function(SEEN)  # the browser scrolls when it next draws
                except TimeoutError as never:
                    raise AssertionError(f"{here} is never seen") from never
        return here

    def to(self, wanted, way="Tab"):
        """Tab to what a selector matches."""
        for _ in range(MOST):
            here = self.stop(wanted, way)
            if here["there"]:
                return
        pytest.fail(f"Tab does not reach {wanted}")

    def back(self, wanted):
        self.to(wanted, "Shift+Tab")

    def write(self, wanted, words):
        self.to(wanted)
        self.press("Control+A")
        self.page.keyboard.type(words)

    def follow(self, wanted, key="Enter", way="Tab"):
        """Press something that leads to another page."""
        self.to(wanted, way)
        with self.page.expect_navigation(wait_until="domcontentloaded"):
            self.press(key)
        self.ready()

    def ready(self):
        self.page.wait_for_selector("body[data-ready=yes]")
        # until then the browser may put the page back to where it was scrolled before
        self.page.wait_for_load_state("load")

    def at(self, wanted):
        """Whether the focus is on what a selector matches."""
        return self.page.evaluate("wanted => document.activeElement.matches(wanted)", wanted)

    def done(self):
        self.page.wait_for_selector("[data-state=done]", timeout=600_000)
        self.ready()


@pytest.fixture(scope="module")
def water(root, demo):
    """The demo water without its trips."""
    folder = root / "sound"
    shutil.copytree(demo, folder, ignore=shutil.ignore_patterns("trip*", "catches*"))
    return folder


@pytest.fixture(scope="module")
def keys(water, open_desk):
    keys = Keys(open_desk())
    keys.ready()
    return keys


def plans(water):
    """Records of the plans, in the order in which they were asked for."""
    files = sorted((water / "results").glob("*-plan*.json"))
    records = [json.loads(file.read_text()) for file in files if "answer" not in file.name]
    return sorted(records, key=lambda one: one["begun"])


def test_a_day_is_planned_and_its_sheet_and_marks_saved(keys, water):
    import pypdf
    from playwright.sync_api import expect

    page = keys.page
    keys.follow("a[href$='/sound/today']")
    expect(page.locator(".dial output")).to_have_text("…")  # no wind that nobody gave
    keys.to("[name=date]")
    page.keyboard.type("06142031")
    keys.write("[name=begin]", "7:00")
    keys.write("[name=end]", "8:00")
    keys.write("[name=wind]", "SSW 8 kn")
    keys.back(".dial input")
    dial = page.get_by_role("slider", name="Wind from")
    expect(dial).to_have_attribute("aria-valuetext", "SSW")
    keys.back(".dial svg")
    keys.press("ArrowRight")
    expect(page.locator("[name=wind]")).to_have_value("SW 8 kn")
    keys.follow("#day > button")
    assert keys.at("#day > button")
    keys.done()
    assert keys.at("#day > button")
    assert page.locator(".times [data-name=P1]").count()

    keys.to(".times [data-name=P1]")
    page.frame_locator(".bottom-map iframe").locator("body[data-ready=yes]").wait_for()
    keys.press("Space")  # its card opens on the map, which leaves the focus alone
    expect(page.locator(".times [data-name=P1]").first).to_have_attribute("aria-pressed", "true")
    keys.follow("#plotter > .fields > button")
    saved = page.get_by_role("link", name="Save the file for the plotter")
    saved.wait_for()  # the address names this card: Tab goes on from there
    keys.to("a[download].button")
    with page.expect_download() as marks:
        keys.press("Enter")
    assert "P1" in Path(marks.value.path()).read_text()
    keys.to("[aria-label='Save alone: Sheet to print']")
    with page.expect_download() as sheet:
        keys.press("Enter")
    assert "P1" in pypdf.PdfReader(sheet.value.path()).pages[0].extract_text()


def test_a_plan_of_the_page_s_own_is_the_user_s_once_it_is_saved(keys, water):
    from playwright.sync_api import expect

    keys.back("#day > button")
    keys.back(".dial svg")
    keys.press("ArrowRight")
    wsw = keys.page.locator(".times[data-wind='WSW 8 kn']")
    expect(wsw).to_be_visible(timeout=600_000)
    assert keys.at(".dial svg")
    assert plans(water)[-1]["by_itself"]
    keys.to("[aria-label='Save alone: Sheet to print']")
    with keys.page.expect_download() as sheet:
        keys.press("Enter")
    assert Path(sheet.value.path()).stat().st_size
    assert not plans(water)[-1]["by_itself"]


def test_a_trip_is_sent_put_right_and_logged(keys, water, demo):
    from playwright.sync_api import expect

    page = keys.page
    keys.follow("nav a[href$='/trips']")  # through the map, and round
    keys.to("form.drop input[type=file]")
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.locator(":focus").set_input_files([demo / "trip_1.gpx", demo / "catches.csv"])
    keys.ready()
    assert keys.at("form.drop input[type=file]")
    page.wait_for_selector("#pieces-list .drift")
    keys.to("#pieces-list .drift")
    keys.press("Enter")
    assert keys.at("#pieces-list .drift[aria-pressed=true]")
    keys.to("#end-to")
    before = page.locator("#chosen").inner_text()

    def changed(key, wanted):
        with page.expect_response(lambda answer: "/trips/right" in answer.url):
            keys.press(key)
        page.wait_for_selector("#editor:not([aria-busy])")
        assert keys.at(wanted)

    changed("Shift+ArrowLeft", "#end-to")
    assert page.locator("#chosen").inner_text() != before
    corrections = water / "tracks" / "trip_1.corrections.txt"
    assert corrections.read_text().rstrip().endswith("run")
    keys.to("[data-do=undo]")
    changed("Enter", "#end-cursor")  # nothing more can be undone
    assert page.locator("#chosen").inner_text() == before
    keys.to("[data-do=redo]")
    changed("Space", "#end-cursor")
    keys.follow("#trip [name=preview]", way="Shift+Tab")
    assert keys.at("#trip [name=preview]:focus-visible")
    keys.done()
    expect(page.locator("#trip [name=preview]")).to_be_focused()
    keys.follow("#trip [name=log]")
    page.get_by_role("row", name="2031-06-07").wait_for(timeout=600_000)
    keys.ready()
    expect(page.locator("#trip [name=log]")).to_be_focused()


def test_the_season_is_ranked(keys):
    keys.follow("nav a[href$='/season']", way="Shift+Tab")
    keys.follow("[name=what][value=rank]")
    keys.done()
    assert keys.at("[name=what][value=rank]")
    assert keys.page.locator(".lines li").count()


def test_the_bottom_is_looked_at_with_another_band(keys, water):
    keys.follow("nav a[href$='/bottom']", way="Shift+Tab")
    keys.page.wait_for_selector(".histogram svg .bar")
    keys.write("[name=band_from]", "18")
    keys.write("[name=band_to]", "24")
    keys.follow("form[action$='/bottom/band'] button")
    assert 'band = "18-24 ft"' in (water / "area.toml").read_text()
    keys.follow("form[action$='/sound/bottom'] button")
    keys.done()
    assert keys.at("form[action$='/sound/bottom'] button")
    keys.follow("#plotter > .fields > button")
    keys.page.get_by_role("link", name="Save the file for the plotter").wait_for()
    keys.ready()
    keys.to("a[download].button")
    with keys.page.expect_download() as marks:
        keys.press("Enter")
    assert "<wpt" in Path(marks.value.path()).read_text()


def test_what_comes_late_leaves_the_keyboards_place_in_view(keys):
    """The depths come while the keyboard is on a button below them, at the lower rim."""
    page, late = keys.page, []
    size = page.viewport_size
    # so tall that nothing scrolls on the way: where somebody scrolls away, the page stays
    page.set_viewport_size({"width": size["width"], "height": 3000})
    page.route("**/bottom/depths", lambda route: late.append(route))  # noqa: PLW0108 (no built-in)
    page.reload()
    keys.ready()
    keys.to("form[action$='/sound/bottom'] button")
    assert page.evaluate("scrollY") == 0
    below = page.evaluate("Math.ceil(document.activeElement.getBoundingClientRect().bottom)")
    page.set_viewport_size({"width": size["width"], "height": below})
    assert page.evaluate(SEEN) and page.evaluate("scrollY") == 0
    late.pop().continue_()
    page.wait_for_selector(".histogram svg .bar")
    page.wait_for_function(SEEN)
    assert page.evaluate("scrollY") > 0
    page.unroute("**/bottom/depths")
    page.set_viewport_size(size)


def test_what_is_known_of_the_water_is_changed_and_a_table_typed(keys, water):
    from playwright.sync_api import expect

    page = keys.page
    keys.follow("nav a[href$='/water']", way="Shift+Tab")
    keys.to("#boat > summary")
    keys.press("Enter")
    keys.write("[name=boat_draft]", "2 ft")
    with page.expect_navigation(wait_until="domcontentloaded"):
        keys.press("Enter")  # in the field itself
    keys.ready()
    assert 'draft = "2 ft"' in (water / "area.toml").read_text()
    keys.follow("form.saved button", way="Shift+Tab")
    assert "draft" not in (water / "area.toml").read_text()

    keys.to("#typed-heights > summary")
    keys.press("Enter")
    page.wait_for_selector("#typed-heights[data-filled]")
    time = "#typed-heights tbody input[aria-label='Time, 1']"
    keys.write(time, "25:00")
    expect(page.locator("#typed-heights .fault")).to_have_count(1)
    keys.back("#typed-heights tbody input[aria-label='Day, 1']")
    keys.write(time, "01:06")
    expect(page.locator("#typed-heights .fault")).to_have_count(0)
    keys.follow("#typed-heights > button", way="Shift+Tab")  # past few stops, not every cell
    assert "01:06" in (water / "tides" / "typed heights.csv").read_text()


def test_a_new_water_is_started(keys, root, demo):
    keys.follow(".where a", way="Shift+Tab")
    keys.write("[name=name]", "Far Bank")
    keys.write("[name=zone]", "Etc/GMT+2")
    keys.to("[name=units]")
    keys.page.keyboard.type("met")
    keys.follow("form[action='/waters'] button")
    assert keys.page.url.endswith("/Far%20Bank/bottom")
    keys.to("form.drop input[type=file]")
    with keys.page.expect_navigation(wait_until="domcontentloaded"):
        keys.page.locator(":focus").set_input_files(demo / "sound.tif")
    keys.ready()
    keys.page.wait_for_selector(".histogram svg .bar")
    area = (root / "Far Bank" / "area.toml").read_text()
    assert 'timezone = "Etc/GMT+2"' in area and "sound.tif" in area
    assert 'depth = "m"' in area and 'fish = "cm"' in area


PAGES = ["", *(f"w/sound/{name}" for name in ("today", "trips", "season", "bottom", "water"))]


@pytest.mark.parametrize("name", PAGES)
def test_tab_reaches_every_control_in_order_and_gets_round_the_page(keys, name):
    from playwright.sync_api import expect

    page = keys.page
    page.goto(f"{page.url.split('/w/')[0].rstrip('/')}/{name}")
    keys.ready()
    expect(page.locator("[aria-busy=true]")).to_have_count(0)
    stops = []
    while len(stops) < MOST and not (stops and stops[-1]["kind"] == "A" and stops[-1]["again"]):
        stops.append(keys.stop(".skip"))
    assert stops[0]["there"], stops[0]["what"]
    assert stops[-1]["there"], "Tab does not get round the page"
    assert page.evaluate(MISSED) == []
    cards = [stop for stop in stops if stop["card"]]
    above = [
        (one["what"], after["what"])
        for one, after in pairwise(cards)
        if after["bottom"] <= one["top"] and after is not cards[-1]
    ]
    assert above == []
