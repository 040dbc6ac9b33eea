// Follows the tasks of a water, and stops them.
const ENDED = new Set(["done", "wrong", "stopped", "broken"]);

export function followTasks(water) {
  const running = document.querySelector('[data-task]:is([data-state="waiting"],[data-state="working"])');
  markFields();
  if (running === null) return;
  const heard = new EventSource(`/w/${encodeURIComponent(water)}/events`);
  const offline = document.getElementById("offline");
  heard.addEventListener("open", () => { offline.hidden = true; refresh(water, running.dataset.task); });
  heard.addEventListener("error", () => { offline.hidden = false; });
  heard.addEventListener("task", (event) => {
    const [id, state] = event.data.split(" ");
    if (id !== running.dataset.task) return;
    if (ENDED.has(state)) location.reload();
    else refresh(water, id);
  });
  document.addEventListener("click", (event) => {
    const address = event.target.closest("[data-cancel]")?.dataset.cancel;
    if (address === undefined) return;
    event.target.disabled = true;
    fetch(address, { method: "POST" });
  });
}

let asking = false;

async function refresh(water, id) {
  if (asking) return;
  asking = true;
  try {
    const answer = await fetch(`/w/${encodeURIComponent(water)}/tasks/${id}`);
    if (!answer.ok) return;
    const panel = document.querySelector(`[data-task="${id}"]`);
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("[data-task]");
    if (fresh === null || panel === null) return;
    if (ENDED.has(fresh.dataset.state)) { location.reload(); return; }
    update(panel, fresh);
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

// A key of the area file comes with its section: boat_rods; a page of its own may leave that out.
function fieldOf(key) {
  const names = [key, OTHERS[key], key.replace(/^[a-z]+_/, "")].filter(Boolean);
  return names.map((name) => document.querySelector(`[name="${CSS.escape(name)}"]`)).find((field) => field !== null) ?? null;
}

// A message is beside the fields that it is about as well; what was typed there stays.
function markFields() {
  for (const message of document.querySelectorAll("[data-keys]")) {
    for (const [name, value] of Object.entries(JSON.parse(message.dataset.typed ?? "{}"))) {
      const field = document.querySelector(`form[action="${message.dataset.form}"] [name="${CSS.escape(name)}"]:is(input:not([type=hidden], [type=checkbox], [type=radio], [type=file]), select, textarea)`);
      if (field !== null) field.value = value;
    }
    for (const key of message.dataset.keys.split(" ").filter(Boolean)) {
      const field = fieldOf(key);
      if (field === null) continue;
      const around = field.closest("details");
      if (around !== null) around.open = true;
      field.setAttribute("aria-invalid", "true");
      message.id ||= "what-is-wrong";
      field.setAttribute("aria-errormessage", message.id);
      field.closest("label")?.append(Object.assign(document.createElement("span"), { className: "wrong", textContent: message.textContent }));
    }
  }
}
