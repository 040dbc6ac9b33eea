// A table that is typed or pasted into; what is wrong is under its row, and the cell is marked.
const FEWEST = 6;
const PAUSE_MS = 500;

export async function typedTable(place) {
  const body = place.querySelector("tbody");
  const unit = place.querySelector("select");
  const status = place.querySelector("[role=status]");
  const ask = async (way, content) => {
    const sent = content && { method: "POST", body: JSON.stringify(content), headers: { accept: "application/json", "content-type": "application/json" } };
    return (await fetch(place.dataset.table + way, sent)).json();
  };
  let waiting = 0;
  const typed = () => [...body.rows].filter((row) => !row.classList.contains("fault"));
  const cellsOf = (row) => [...row.querySelectorAll("input")];
  const filled = () => ({ rows: typed().map((row) => cellsOf(row).map((cell) => cell.value.trim())), unit: unit.value });

  function add(values = []) {
    const row = body.insertRow();
    for (const [at, label] of place.dataset.columns.split("|").entries()) {
      const cell = Object.assign(document.createElement("input"), { value: values[at] ?? "", autocomplete: "off" });
      cell.setAttribute("aria-label", `${label}, ${row.rowIndex}`);
      row.insertCell().append(cell);
    }
  }
  function fill(all) {
    body.replaceChildren();
    for (const values of all) add(values);
    while (typed().length < FEWEST) add();
    add();
  }
  function mark(faults) {
    for (const row of body.querySelectorAll(".fault")) row.remove();
    for (const cell of body.querySelectorAll("[aria-invalid]")) for (const name of ["aria-invalid", "aria-describedby"]) cell.removeAttribute(name);
    const all = typed();
    for (const [number, { row, column, words }] of faults.entries()) {
      if (all[row] === undefined) continue;
      const cell = cellsOf(all[row])[column ?? 2];
      const note = Object.assign(document.createElement("td"), { colSpan: 4, className: "wrong", textContent: words, id: `${place.id}-${number}` });
      const under = Object.assign(document.createElement("tr"), { className: "fault" });
      under.append(note);
      all[row].after(under);
      cell.setAttribute("aria-invalid", "true");
      cell.setAttribute("aria-describedby", note.id);
    }
    const loose = faults.find(({ row }) => row === null);
    status.textContent = loose?.words ?? (faults.length ? place.dataset.wrong : "");
    status.className = faults.length ? "wrong" : "";
  }
  const check = async () => {
    const mine = ++waiting;
    const answer = await ask("/check", filled());
    if (mine === waiting) mark(answer.faults ?? [{ row: null, words: answer.wrong }]);
  };
  function later() {
    const mine = ++waiting;
    setTimeout(() => mine === waiting && check(), PAUSE_MS);
  }
  async function paste(event) {
    const text = event.clipboardData.getData("text");
    if (!/[\n\t]/.test(text.trim())) return;
    event.preventDefault();
    const at = [typed().indexOf(event.target.closest("tr")), event.target.closest("td").cellIndex];
    const answer = await ask("", { text, unit: unit.value });
    if (answer.rows?.length) fill(answer.rows);
    else spread(text, ...at);
    check();
  }
  // Cells of a spreadsheet, from the one that has the focus.
  function spread(text, down, right) {
    for (const [number, line] of text.trim().split(/\r?\n/).entries()) {
      while (typed().length <= down + number + 1) add();
      const cells = cellsOf(typed()[down + number]);
      for (const [at, value] of line.split(/[\t;]/).entries()) if (cells[right + at]) cells[right + at].value = value.trim();
    }
  }
  body.addEventListener("input", () => {
    if (cellsOf(typed().at(-1))[0].value) add();
    later();
  });
  body.addEventListener("paste", paste);
  body.addEventListener("keydown", (event) => {
    const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (step === undefined) return;
    event.preventDefault();
    const [all, row, column] = [typed(), event.target.closest("tr"), event.target.closest("td").cellIndex];
    const next = all[all.indexOf(row) + step];
    if (next !== undefined) cellsOf(next)[column].focus();
  });
  unit.addEventListener("change", later);
  place.querySelector("button").addEventListener("click", async () => {
    const answer = await ask("/save", filled());
    const faults = answer.faults ?? [{ row: null, words: answer.wrong }];
    waiting++;
    mark(faults);
    if (faults.length) body.querySelector("[aria-invalid]")?.focus();
    else location.href = place.dataset.done;
  });
  const before = await ask("");
  unit.value = before.unit;
  fill(before.rows ?? []);
  place.dataset.filled = "yes";
}
