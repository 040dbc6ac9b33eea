// The door between a map in a frame and the page around it.
import assert from "node:assert/strict";
import test from "node:test";

globalThis.L = { ImageOverlay: { extend: () => null }, Polyline: { extend: () => null }, Renderer: { extend: () => null } };
const { State } = await import("../../../layers/maps/browser/frame/state.js");
const { openDoor } = await import("../../../layers/maps/browser/frame/frame_door.js");

// A window in a frame: what it says to the page around it, and a way to speak to it.
function framed() {
  const sent = [];
  const parent = { postMessage: (data, origin) => sent.push([data, origin]) };
  const ears = [];
  const page = { parent, addEventListener: (_, hear) => ears.push(hear) };
  const say = (data, { source = parent, origin = "http://127.0.0.1:8000" } = {}) => ears.forEach((hear) => hear({ data, source, origin }));
  return { page, sent, say };
}

const data = {
  units: {}, band_m: null, lines: [{ line: "N1" }, { line: "S1" }], plan: [{ plan_id: "P1" }],
  edges: [{ rank: 1 }], features: [],
};

function opened() {
  const frame = framed();
  const state = new State(data, null);
  openDoor(state, frame.page);
  return { ...frame, state };
}

test("the page around the map chooses a thing, and hears of it", () => {
  const { state, sent, say } = opened();
  assert.deepEqual(sent.splice(0), [[{ seabed: "ready" }, "*"]]);
  for (const [kind, name, thing] of [["lines", "S1", data.lines[1]], ["plan", "P1", data.plan[0]], ["places", "R1", data.edges[0]]]) {
    say({ seabed: "choose", kind, name });
    assert.equal(state.chosenOf(kind), thing);
    assert.deepEqual(sent.splice(0), [[{ seabed: "chosen", kind, name }, "http://127.0.0.1:8000"]]);
  }
});

test("what is chosen on the map is told to a page that spoke, and to no other", () => {
  const { state, sent, say } = opened();
  sent.length = 0;
  state.set({ chosen: { kind: "lines", thing: data.lines[0] } });
  assert.deepEqual(sent, []);
  say({ seabed: "hello" });
  assert.deepEqual(sent.splice(0)[0][0], { seabed: "chosen", kind: "lines", name: "N1" });
  state.set({ chosen: null });
  assert.deepEqual(sent.splice(0)[0][0], { seabed: "chosen", kind: null, name: null });
});

test("other windows and unknown words are passed over", () => {
  const { state, sent, say } = opened();
  sent.length = 0;
  say({ seabed: "choose", kind: "lines", name: "N1" }, { source: {} });
  say({ seabed: "choose", kind: "constructor", name: "N1" });
  say({ seabed: "choose", kind: "lines", name: "N9" });
  say(null);
  say("choose");
  say({ kind: "lines", name: "N1" });
  assert.equal(state.chosen, null);
  assert.deepEqual(sent.map(([{ name }]) => name), [null, null]);
});

test("the page around the map sets its light", () => {
  const { state, say } = opened();
  say({ seabed: "view", view: "night" });
  assert.equal(state.view, "night");
  say({ seabed: "view", view: "disco" });
  say({ seabed: "view", view: "sun" }, { source: {} });
  assert.equal(state.view, "night");
});

test("a map that is in no frame has no door", () => {
  const page = { addEventListener: () => assert.fail("listens") };
  page.parent = page;
  openDoor(new State(data, null), page);
});
