// Keeps the keyboard's place when a page changes: on the same control, else on what came of it.
const KEPT = "focus";
const PLACES = "a, button, input, select, textarea, summary, iframe, [tabindex]";

// What tells one control of a page from the others, on the page before and on the one after.
function nameOf(one) {
  const form = one.closest("form");
  const words = one.matches("a, button, summary") ? one.textContent.trim() : one.matches("[type=checkbox], [type=radio]") ? one.value : "";
  return JSON.stringify([one.tagName, one.id, one.name, one.title, one.getAttribute("aria-label"), words, form?.getAttribute("action") ?? form?.dataset.send]);
}

function place(name) {
  const same = [...document.querySelectorAll(PLACES)].find((one) => nameOf(one) === name && !one.disabled && one.checkVisibility());
  const other = document.querySelector("[data-task] [role=status]") ?? document.querySelector("h1");
  if (same === undefined) other?.setAttribute("tabindex", "-1");
  (same ?? other)?.focus({ preventScroll: same === undefined, focusVisible: true });
}

// Gives what puts the focus back once parts of the page were replaced.
export function keepFocus() {
  const before = document.activeElement;
  const name = before === null || before === document.body ? "" : nameOf(before);
  return () => { if (name !== "" && !before.isConnected) place(name); };
}

// Of the next page only where the keyboard is used: a finger's or a mouse's place is its own.
export function keepFocusOver() {
  const [path, name] = JSON.parse(sessionStorage.getItem(KEPT) ?? "[]");
  sessionStorage.removeItem(KEPT);
  if (path === location.pathname && document.activeElement === document.body) place(name);
  keepInView();
  const before = document.activeElement; // of the keyboard, wherever the browser takes it from
  addEventListener("pagehide", () => {
    const one = document.activeElement;
    const keyboard = one !== document.body && (one === before || one?.matches(":focus-visible"));
    history.scrollRestoration = keyboard ? "manual" : "auto"; // else the browser scrolls away from it
    if (keyboard) sessionStorage.setItem(KEPT, JSON.stringify([location.pathname, nameOf(one)]));
  });
}

// What comes late on a page moves what is below it out of sight, and the browser does not follow.
function keepInView() {
  let kept = null; // what the keyboard is on, until somebody scrolls away from it
  const seen = ({ top, bottom }) => bottom > 0 && top < innerHeight;
  addEventListener("focusin", ({ target }) => { kept = target.matches(":focus-visible") ? target : null; });
  addEventListener("scroll", () => { if (kept !== null && !seen(kept.getBoundingClientRect())) kept = null; });
  new ResizeObserver(() => {
    if (kept !== null && kept === document.activeElement && !seen(kept.getBoundingClientRect())) kept.scrollIntoView({ block: "nearest" });
  }).observe(document.body);
}
