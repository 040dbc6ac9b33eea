// Sends files that were dropped, chosen or pasted as text, one after the other; takes files away.
const SENT = "sent";

// Files that came in just now are ticked.
export function tickSent() {
  const sent = JSON.parse(sessionStorage.getItem(SENT) ?? "[]");
  sessionStorage.removeItem(SENT);
  for (const tick of document.querySelectorAll("[data-kind]")) {
    if (!sent.includes(tick.dataset.kind)) continue;
    tick.checked = true;
    forgetClocks(tick.form);
  }
}

// How far a clock was off holds for its own files only.
export function forgetClocks(form) {
  for (const name of ["clock_offset", "track_clock", "photo_offset"]) if (form.elements[name]) form.elements[name].value = "";
}

export function takeAway(button) {
  button.addEventListener("click", async () => {
    const answer = await fetch(button.dataset.remove, { method: "POST", headers: { accept: "application/json" } });
    if (answer.ok) location.reload();
  });
}

export function sendFiles(form) {
  const input = form.querySelector("input[type=file]");
  const status = form.querySelector("[role=status]");
  for (const name of ["dragover", "dragleave", "drop"]) {
    form.addEventListener(name, (event) => {
      event.preventDefault();
      form.classList.toggle("over", name === "dragover");
    });
  }
  form.addEventListener("drop", (event) => send([...event.dataTransfer.files]));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const text = form.querySelector("textarea")?.value ?? "";
    if (text.trim() !== "") send([new File([text], "pasted table.txt")]);
  });
  input.addEventListener("change", () => send([...input.files]));

  async function send(files) {
    const wrong = [];
    const sent = [];
    for (const file of files) {
      status.textContent = file.name;
      const address = new URL(form.dataset.send, location.href);
      address.searchParams.set("name", file.name);
      const answer = await fetch(address, { method: "POST", body: file, headers: { accept: "application/json" } });
      const said = await answer.json().catch(() => ({ message: answer.statusText }));
      if (answer.ok) sent.push(said);
      else wrong.push(said.message);
    }
    sessionStorage.setItem(SENT, JSON.stringify(sent.map((file) => `${file.kind}/${file.name}`)));
    if (sent.length > 0 && form.dataset.then !== undefined) {
      for (const { kind, name } of sent) {
        const used = await fetch(form.dataset.then, { method: "POST", body: new URLSearchParams({ as: form.dataset.as, file: `${kind}/${name}` }), headers: { accept: "application/json" } });
        if (used.ok) continue;
        wrong.push((await used.json()).message);
        await fetch(`${new URL(form.dataset.send, location.href).pathname}/${kind}/${encodeURIComponent(name)}/remove`, { method: "POST" });
      }
    }
    if (wrong.length === 0) location.reload();
    status.className = wrong.length ? "wrong" : "";
    status.textContent = wrong.join(" ");
  }
}
