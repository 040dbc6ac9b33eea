// What the parts share has one owner.
import assert from "node:assert/strict";
import test from "node:test";

globalThis.L = { ImageOverlay: { extend: () => null } };
const { State } = await import("../../../layers/maps/browser/frame/state.js");

test("a change is heard by those who listen, until they stop", () => {
  const state = new State({ units: {}, band_m: null }, null);
  const heard = [];
  const deaf = state.on("band units", () => heard.push(state.band));
  state.set({ band: [1, 2] });
  deaf();
  state.set({ band: null });
  assert.deepEqual(heard, [[1, 2]]);
});

test("only what is meant to change can", () => {
  const state = new State({ units: {}, band_m: null }, null);
  assert.throws(() => state.set({ data: {} }), /no part may change data/);
  assert.throws(() => state.set({ bnd: null }), /no part may change bnd/);
});

test("a card that gives way to another leaves the other's thing chosen", () => {
  const state = new State({ units: {}, band_m: null }, null);
  const [one, two] = [{}, {}];
  state.set({ chosen: { kind: "lines", thing: one } });
  state.set({ chosen: { kind: "plan", thing: two } });
  state.leave(one);
  assert.equal(state.chosenOf("plan"), two);
  assert.equal(state.chosenOf("lines"), null);
  state.leave(two);
  assert.equal(state.chosen, null);
});

test("the hour begins on the first planned line, else in the middle, in steps of five minutes", () => {
  const water = { start: 0, step: 120, count: 361, height_m: null };
  const moment = (plan) => new State({ units: {}, water: { ...water }, plan }, null).moment;
  assert.equal(moment([{ slot: [7333, 9000] }]), 7200);
  assert.equal(moment([]), 21600);
  assert.equal(moment([{ slot: [-5, 0] }]), 0);
});
