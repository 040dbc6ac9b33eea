// Follows the tasks of a water, stops them, and shows what they made.
import { keepFocus } from "./focus.js";
import { fill } from "./words.js";

const ENDED = new Set(["done", "wrong", "stopped", "broken"]);
let heard = null;

export function followTasks(water) {
  follow(water);
  document.addEventListener("click", (event) => {
    const stop = event.target.closest("[data-cancel]:not([aria-disabled])");
    if (stop === null) return;
    stop.setAttribute("aria-disabled", "true"); // disabled, it would lose the focus
    fetch(stop.dataset.cancel, { method: "POST" });
  });
}

function follow(water) {
  heard?.close();
  const running = document.querySelector('[data-task]:is([data-state="waiting"],[data-state="working"])')?.dataset.task;
  if (running === undefined) return;
  heard = new EventSource(`/w/${encodeURIComponent(water)}/events`);
  const offline = document.getElementById("offline");
  heard.addEventListener("open", () => { offline.hidden = true; refresh(water, running); });
  heard.addEventListener("error", () => { offline.hidden = false; });
  heard.addEventListener("task", (event) => {
    const [id, state] = event.data.split(" ");
    if (id !== running) return;
    if (ENDED.has(state)) renew(water);
    else refresh(water, id);
  });
}

// Ends the task on its way as if it had never been asked for; gives whether there was one.
export async function dropTask() {
  const address = document.querySelector("[data-task] [data-cancel]")?.dataset.cancel;
  if (address === undefined) return false;
  heard?.close();
  await fetch(`${address}?forget`, { method: "POST" });
  return true;
}

// Shows the page as it is now; its form stays where the result has a part of its own.
export async function renew(water, address = location.href) {
  const result = document.getElementById("result");
  if (result === null) { location.reload(); return; }
  heard?.close();
  const answer = await fetch(address, { headers: { accept: "text/html" } });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.getElementById("result");
  if (fresh === null) { location.reload(); return; }
  history.replaceState(null, "", address);
  const focus = keepFocus();
  result.replaceChildren(...fresh.childNodes);
  const [before, now] = [document, page].map((one) => one.querySelector(".bottom-map"));
  if (before.innerHTML.trim() !== now.innerHTML.trim()) before.replaceChildren(...now.childNodes);
  focus();
  for (const field of document.querySelectorAll("[aria-errormessage]")) {
    document.getElementById(field.getAttribute("aria-errormessage"))?.remove();
    for (const name of ["aria-invalid", "aria-errormessage"]) field.removeAttribute(name);
  }
  markFields();
  result.dispatchEvent(new Event("renewed", { bubbles: true }));
  follow(water);
}

let asking = false;

async function refresh(water, id) {
  if (asking) return;
  asking = true;
  try {
    const answer = await fetch(`/w/${encodeURIComponent(water)}/tasks/${id}`);
    const panel = document.querySelector(`[data-task="${id}"]`);
    if (panel === null) return;
    const fresh = answer.ok ? new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("[data-task]") : null;
    if (fresh === null || ENDED.has(fresh.dataset.state)) renew(water);
    else update(panel, fresh);
  } finally {
    asking = false;
  }
}

// Only what changed, so that the focus stays where it is.
function update(panel, fresh) {
  panel.dataset.state = fresh.dataset.state;
  for (const part of ["h2", "p"]) {
    const old = panel.querySelector(part);
    const now = fresh.querySelector(part);
    if (old && now && old.textContent !== now.textContent) old.textContent = now.textContent;
  }
  const bar = panel.querySelector("progress");
  if (bar) bar.value = fresh.querySelector("progress")?.value ?? bar.value;
}

// Fields that have another name than the setting that they give.
const OTHERS = { from: "begin", to: "end", months: "month_from", wind_between: "wind_from", depths_band: "band_from", band: "band_from" };

// A key of the area file comes with its section: boat.rods; a page of its own may leave that out.
function fieldOf(setting) {
  const key = setting.replace(".", "_");
  const names = [key, OTHERS[key], key.replace(/^[a-z]+_/, "")].filter(Boolean);
  return names.map((name) => document.querySelector(`[name="${CSS.escape(name)}"]`)).find((field) => field !== null) ?? null;
}

// A message is beside the first field that it is about, and its place leads there; what was typed stays.
export function markFields() {
  for (const message of document.querySelectorAll("[data-keys]")) {
    for (const [name, value] of Object.entries(JSON.parse(message.dataset.typed ?? "{}"))) {
      const field = document.querySelector(`form[action="${message.dataset.form}"] [name="${CSS.escape(name)}"]:is(input:not([type=hidden], [type=checkbox], [type=radio], [type=file]), select, textarea)`);
      if (field !== null) field.value = value;
    }
    const fields = message.dataset.keys.split(" ").filter(Boolean).map(fieldOf).filter((field) => field !== null);
    if (fields.length === 0) { openAround(document.querySelector(`form[action="${message.dataset.form}"]`)); continue; }
    const words = document.createElement("span");
    words.append(...message.childNodes);
    words.id = `wrong-${fields[0].name}`;
    words.className = "wrong";
    words.setAttribute("role", "alert");
    fields[0].closest("label").after(words);
    for (const field of fields) {
      openAround(field);
      field.setAttribute("aria-invalid", "true");
      field.setAttribute("aria-errormessage", words.id);
    }
    message.removeAttribute("role");
    [message.dataset.keys, message.dataset.typed] = ["", "{}"]; // once
    message.append(wayTo(fields[0], message.dataset.go));
  }
}

export function openAround(one) {
  for (let around = one?.closest("details") ?? null; around !== null; around = around.parentElement.closest("details")) around.open = true;
}

function wayTo(field, words) {
  const way = Object.assign(document.createElement("button"), { type: "button", className: "second", textContent: fill(words, { field: nameOf(field) }) });
  way.addEventListener("click", () => { field.focus(); field.scrollIntoView({ block: "center" }); });
  return way;
}

const nameOf = (field) => field.closest("label").firstChild.textContent.trim();
