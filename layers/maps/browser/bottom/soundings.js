// Own soundings by run of the sounder, and the lines to sound next.
import { described, table } from "../fishing/cards.js";
import { cased, tapped } from "./overlays.js";
import { markLook } from "../frame/looks.js";

function soundingLayer(state) {
  return L.layerGroup((state.data.soundings || []).map((run) => tapped(
    cased(run.g, markLook(state.view, run.agrees ? "agrees" : "differs")),
    () => table(`Own soundings, run ${run.line + 1}`, [
      ...described("soundings", run, state),
      ["Against the open grid", run.agrees ? "agrees" : "differs by more than their errors explain"],
    ]))));
}

function nextLayer(state) {
  return L.layerGroup((state.data.next_lines || []).map((line) => tapped(
    cased(line.g, markLook(state.view, "way")),
    () => table(`To sound next: ${line.line}`, described("next_lines", line, state)))));
}

export { nextLayer, soundingLayer };
