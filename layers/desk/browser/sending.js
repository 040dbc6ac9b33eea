// Sends files that were dropped or chosen, one after the other.
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
  form.addEventListener("submit", (event) => event.preventDefault());
  input.addEventListener("change", () => send([...input.files]));

  async function send(files) {
    const wrong = [];
    let last = null;
    for (const file of files) {
      status.textContent = file.name;
      const address = new URL(form.dataset.send, location.href);
      address.searchParams.set("name", file.name);
      const answer = await fetch(address, { method: "POST", body: file, headers: { accept: "application/json" } });
      const said = await answer.json().catch(() => ({ message: answer.statusText }));
      if (answer.ok) last = said;
      else wrong.push(said.message);
    }
    if (last !== null && form.dataset.then !== undefined) {
      await fetch(form.dataset.then, { method: "POST", body: new URLSearchParams({ grid: last.name }) });
    }
    if (wrong.length === 0) location.reload();
    status.className = wrong.length ? "wrong" : "";
    status.textContent = wrong.join(" ");
  }
}
