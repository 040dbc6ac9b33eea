// The trip that is ticked: its pieces and fish as they are cut, and corrections of them by hand.
import { showFish } from "./fish.js";
import { forgetClocks } from "./sending.js";
import { makeMap } from "./trackmap.js";
import { makeTimeline } from "./timeline.js";
import { clockOf, dayOf, fill, lasts, span, stamp, underDays } from "./words.js";

const CLOSEST = 64;
const AFTER_TICKS_MS = 250;

export function followTrip(form) {
  const editor = document.getElementById("editor");
  const at = (name) => document.getElementById(name);
  const trip = { sketch: null, t: 0, piece: null, fish: null, zoom: 1, undone: [], clock: null, day: null };
  const views = [makeMap(editor.querySelector(".trackmap"), trip, choose), makeTimeline(editor.querySelector(".timeline"), trip, choose, move)];
  const fish = showFish(trip, choose, correct);
  let asked = 0;
  let timer = 0;

  function query() {
    const values = [...new FormData(form)].filter(([name, value]) => value !== "" && ["tracks", "catches", "photos", "rods", "clock_offset", "track_clock", "photo_offset", "salvage"].includes(name));
    return `?${new URLSearchParams(values)}`;
  }

  // Files that are ticked one after the other are read at once.
  function soon() {
    clearTimeout(timer);
    timer = setTimeout(look, AFTER_TICKS_MS);
    busy();
  }

  function busy() {
    const ticked = form.querySelector("[name=tracks]:checked") !== null;
    at("editor-empty").textContent = at("editor-empty").dataset[ticked ? "busy" : "none"];
    if (ticked) editor.setAttribute("aria-busy", "true");
  }

  async function look() {
    const mine = ++asked;
    busy();
    const answer = await fetch(editor.dataset.sketch + query(), { headers: { accept: "application/json" } });
    const sketch = await answer.json();
    if (mine !== asked) return;
    editor.removeAttribute("aria-busy");
    take(answer.ok ? sketch : { wrong: sketch.message, keys: sketch.keys ?? [] });
  }

  // Only what there is of a sketch is shown; what is wrong is beside its field.
  function take(sketch) {
    say(at("trip-wrong"), sketch.wrong ?? "");
    if (sketch.changed !== undefined) {
      at("trip-stale").querySelector("p").textContent = sketch.changed;
      at("trip-stale").hidden = sketch.changed === "";
    }
    for (const field of form.querySelectorAll("[name]")) {
      const wrong = (sketch.keys ?? []).includes(field.name);
      if (wrong) field.setAttribute("aria-invalid", "true"); else field.removeAttribute("aria-invalid");
      if (wrong && field.closest("details") !== null) field.closest("details").open = true;
    }
    const whole = sketch.pieces !== undefined;
    if (!whole) at("editor-empty").textContent = at("editor-empty").dataset[sketch.wrong ? "wrong" : "none"];
    at("editor-whole").hidden = !whole;
    at("editor-empty").hidden = whole;
    for (const card of ["pieces-card", "fish-card"]) at(card).hidden = !whole;
    trip.sketch = whole ? sketch : null;
    askClock(sketch.clock ?? null);
    if (!whole) return;
    [trip.clock, trip.day] = [clockOf(sketch.zone), dayOf(sketch.zone)];
    const track = sketch.track.t;
    if (trip.t < track[0] || trip.t > track.at(-1)) trip.t = track[0];
    trip.piece = trip.piece === null ? null : pieceAt(trip.t);
    if (trip.fish !== null) trip.fish = null;
    draw();
  }

  const pieceAt = (t) => {
    const within = trip.sketch.pieces.findIndex((one) => one.start <= t && t < one.end);
    return within < 0 ? trip.sketch.pieces.length - 1 : within;
  };

  function choose({ t = trip.t, piece = pieceAt(t), one = trip.fish }) {
    Object.assign(trip, { t, piece, fish: one });
    draw();
  }

  async function correct(lines, keep = []) {
    const body = new URLSearchParams(lines.length ? lines.map((line) => ["line", line]) : [["undo", "yes"]]);
    editor.setAttribute("aria-busy", "true");
    const answer = await fetch(editor.dataset.right + query(), { method: "POST", body, headers: { accept: "application/json" } });
    const sketch = await answer.json();
    editor.removeAttribute("aria-busy");
    const wrong = answer.ok && sketch.pieces !== undefined ? "" : (sketch.message ?? sketch.wrong);
    say(at("editor-wrong"), wrong);
    say(at("fish-wrong"), wrong);
    if (wrong !== "") { draw(); return false; }
    trip.undone = sketch.taken === undefined ? keep : [...trip.undone, sketch.taken];
    const focus = document.activeElement?.id ?? "";
    take(sketch);
    stayAt(focus);
    return true;
  }

  // A button that can do no more gives the focus to the moment on the time-line.
  function stayAt(id) {
    const one = document.getElementById(id);
    if (one !== null) (one.disabled || one.hidden ? at("end-cursor") : one).focus({ preventScroll: true });
  }

  // The end between a piece and the one before it goes to another moment.
  function move(number, t) {
    const [before, after] = [trip.sketch.pieces[number - 1], trip.sketch.pieces[number]];
    trip.t = number === trip.piece ? t : Math.min(t, trip.t);
    if (before.kind === after.kind) return correct([span(before.start, after.end, before.kind), `${stamp(t)} cut`]);
    return correct([t > after.start ? span(before.start, t, before.kind) : span(t, after.end, after.kind)]);
  }

  const next = () => {
    const own = trip.sketch.pieces[trip.piece];
    return trip.sketch.pieces.find((one, number) => number > trip.piece && one.kind === own.kind && one.outing === own.outing);
  };

  const deeds = {
    cut: () => correct([`${stamp(trip.t)} cut`]),
    join: () => correct([span(trip.sketch.pieces[trip.piece].start, next().end, next().kind)]),
    up: () => correct([span(trip.sketch.pieces[trip.piece].start, trip.sketch.pieces[trip.piece].end, "lines up")]),
    fish: () => { trip.fish = null; draw(); fish.begin(); },
    undo: () => correct([]),
    redo: () => correct(trip.undone.at(-1), trip.undone.slice(0, -1)),
    closer: () => { trip.zoom = Math.min(CLOSEST, trip.zoom * 2); draw(true); stayAt("do-closer"); },
    wider: () => { trip.zoom = Math.max(1, trip.zoom / 2); draw(true); stayAt("do-wider"); },
  };
  for (const button of editor.querySelectorAll("[data-do]")) {
    button.id = `do-${button.dataset.do}`;
    button.addEventListener("click", () => deeds[button.dataset.do]());
  }
  for (const kind of editor.querySelectorAll("[name=piece-kind]")) {
    kind.id = `kind-${kind.value}`;
    kind.addEventListener("change", () => {
      const own = trip.sketch.pieces[trip.piece];
      correct([span(own.start, own.end, kind.value)]);
    });
  }

  function draw(centred = false) {
    for (const view of views) view(centred);
    fish.draw();
    list();
    tools();
  }

  const words = (one) => fill(at("chosen").dataset.words, {
    from: trip.clock(one.start), to: trip.clock(one.end), lasts: lasts(one.end - one.start),
    speed: `${one.speed.toFixed(1)} ${trip.sketch.speed_unit}`,
  });

  function list() {
    const head = (day) => Object.assign(document.createElement("li"), { className: "day", textContent: day });
    const show = (one) => {
      const number = trip.sketch.pieces.indexOf(one);
      const button = Object.assign(document.createElement("button"), { type: "button", id: `piece-${one.start}`, className: `second ${one.kind}` });
      const kind = Object.assign(document.createElement("strong"), { textContent: word(one) });
      button.append(kind, ` ${words(one)}`);
      button.setAttribute("aria-pressed", number === trip.piece);
      button.addEventListener("click", () => { choose({ t: one.start, piece: number }); document.getElementById(button.id).focus(); });
      const row = document.createElement("li");
      row.append(button);
      return row;
    };
    at("pieces-list").replaceChildren(...underDays(trip.sketch.pieces, (one) => one.start, trip.day, show, head));
    at("by-hand").hidden = trip.sketch.by_hand.length === 0;
    at("by-hand").querySelector("ol").replaceChildren(...trip.sketch.by_hand.map((one) => Object.assign(document.createElement("li"), {
      textContent: `${trip.clock(one.start)}${one.end === one.start ? "" : `–${trip.clock(one.end)}`} ${one.what} ${one.words}`,
    })));
  }

  const word = (one) => `${document.querySelector(`#kind-${one.kind}`).dataset.word}${one.name === "" ? "" : ` ${one.name.split(" ").at(-1)}`}`;

  function tools() {
    const own = trip.piece === null ? null : trip.sketch.pieces[trip.piece];
    const button = (name, can, values = {}) => {
      const one = editor.querySelector(`[data-do=${name}]`);
      one.disabled = !can;
      if (one.dataset.words !== undefined) { one.textContent = fill(one.dataset.words, values); one.hidden = !can; }
    };
    if (own !== null) {
      const up = own.lines_up_s > 0 ? `, ${fill(at("chosen").dataset.up, { lasts: lasts(own.lines_up_s) })}` : "";
      at("chosen").textContent = `${word(own)}: ${words(own)}${up}`;
    }
    for (const kind of editor.querySelectorAll("[name=piece-kind]")) Object.assign(kind, { disabled: own === null, checked: own?.kind === kind.value });
    const moment = { time: trip.clock(trip.t) };
    const later = own === null ? undefined : next();
    button("cut", own !== null && own.start < trip.t && trip.t < own.end, moment);
    button("join", later !== undefined, { kind: later === undefined ? "" : word(later), time: later === undefined ? "" : trip.clock(later.start) });
    button("up", own !== null && own.lines_up_s < own.end - own.start);
    button("fish", own !== null, moment);
    button("undo", trip.sketch.by_hand.length > 0);
    button("redo", trip.undone.length > 0);
    button("closer", trip.zoom < CLOSEST);
    button("wider", trip.zoom > 1);
  }

  function askClock(clock) {
    const place = at("clock-question");
    place.hidden = clock === null || sessionStorage.getItem("clock-left") === query();
    if (place.hidden) return;
    const amount = clock.words.replace("-", "");
    const said = at("clock-words");
    said.textContent = fill(clock.words.startsWith("-") ? said.dataset.behind : said.dataset.ahead, { ...clock, amount });
    for (const button of place.querySelectorAll("[data-words]")) {
      button.textContent = fill(button.dataset.words, { amount: clock.words });
      button.dataset.value = button.dataset.shift === "clock_offset" ? clock.words : clock.words.startsWith("-") ? amount : `-${amount}`;
    }
    place.querySelector("[data-shift=track_clock]").hidden = !clock.of_zone;
  }

  for (const button of form.querySelectorAll("[data-shift]")) {
    button.addEventListener("click", () => {
      if (button.dataset.shift === "") {
        sessionStorage.setItem("clock-left", query());
        at("clock-question").hidden = true;
        form.elements.preview.focus();
        return;
      }
      const field = form.elements[button.dataset.shift];
      field.value = button.dataset.value;
      field.closest("details").open = true;
      field.focus();
      look();
    });
  }
  form.addEventListener("change", (event) => {
    if (event.target.dataset.kind !== undefined) forgetClocks(form);
    if (event.target.dataset.heading === undefined) { if (event.target.form === form) soon(); return; }
    const body = new URLSearchParams({ heading: event.target.dataset.heading, meaning: event.target.value });
    fetch(`${editor.dataset.sketch.replace(/sketch$/u, "columns")}`, { method: "POST", body, headers: { accept: "application/json" } }).then(async (answer) => {
      if (answer.ok) look();
      else say(at("trip-wrong"), (await answer.json()).message);
    });
  });
  for (const button of document.querySelectorAll("[data-view]:is(button)")) {
    button.addEventListener("click", () => {
      for (const one of document.querySelectorAll("button[data-view]")) one.setAttribute("aria-pressed", one === button);
      editor.hidden = button.dataset.view !== "drifts";
      at("result-map").hidden = !editor.hidden;
      if (!editor.hidden && trip.sketch !== null) draw(true);
    });
  }
  addEventListener("resize", () => { if (trip.sketch !== null) draw(); });
  look();
}

function say(place, words) {
  place.textContent = words;
  place.hidden = words === "";
}
