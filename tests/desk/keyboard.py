"""A keyboard on a page of the desk: each stop of Tab shows its focus, and none is a trap."""

from itertools import pairwise

import pytest
from page_steps import saved
from playwright.sync_api import TimeoutError, expect

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


def goes_round(keys):
    """Tab round the page that is shown: past each control, in the order of the page."""
    page = keys.page
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


def stays_in_view(keys, control, address, wanted):
    """Tab to a control at the lower rim; what is at an address comes only then, and above it."""
    page, late = keys.page, []
    size = page.viewport_size
    # so tall that nothing scrolls on the way: where somebody scrolls away, the page stays
    page.set_viewport_size({"width": size["width"], "height": 3000})
    page.route(address, lambda route: late.append(route))  # noqa: PLW0108 (no built-in)
    page.reload()
    keys.ready()
    keys.to(control)
    assert page.evaluate("scrollY") == 0
    below = page.evaluate("Math.ceil(document.activeElement.getBoundingClientRect().bottom)")
    page.set_viewport_size({"width": size["width"], "height": below})
    assert page.evaluate(SEEN) and page.evaluate("scrollY") == 0
    late.pop().continue_()
    page.wait_for_selector(wanted)
    page.wait_for_function(SEEN)
    assert page.evaluate("scrollY") > 0
    page.unroute(address)
    page.set_viewport_size(size)


def plan_a_day(keys):
    """Plan an hour on Today; the focus stays where it is, on the page of the plan too."""
    page = keys.page
    expect(page.locator(".dial output")).to_have_text("…")  # no wind that nobody gave
    keys.to("[name=date]")
    page.keyboard.type("06142031")
    keys.write("[name=begin]", "7:00")
    keys.write("[name=end]", "8:00")
    keys.write("[name=wind]", "SSW 8 kn")
    keys.back(".dial input")
    expect(page.get_by_role("slider", name="Wind from")).to_have_attribute("aria-valuetext", "SSW")
    keys.back(".dial svg")
    keys.press("ArrowRight")
    expect(page.locator("[name=wind]")).to_have_value("SW 8 kn")
    keys.follow("#day > button")
    assert keys.at("#day > button")
    keys.done()
    assert keys.at("#day > button")
    assert page.locator(".times [data-name=P1]").count()


def save_the_plan(keys):
    """Choose a line, and save marks and sheet; give the two files."""
    page = keys.page
    keys.to(".times [data-name=P1]")
    page.frame_locator(".bottom-map iframe").locator("body[data-ready=yes]").wait_for()
    keys.press("Space")  # its card opens on the map, which leaves the focus alone
    expect(page.locator(".times [data-name=P1]").first).to_have_attribute("aria-pressed", "true")
    keys.follow("#plotter > .fields > button")
    page.get_by_role("link", name="Save the file for the plotter").wait_for()
    keys.to("a[download].button")  # the address names this card: Tab goes on from there
    marks = saved(page, lambda: keys.press("Enter"))
    keys.to("[aria-label='Save alone: Sheet to print']")
    return marks, saved(page, lambda: keys.press("Enter"))
