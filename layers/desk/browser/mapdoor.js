// The map beside the page: what is chosen on one is chosen on the other, in the same light.
export function mapDoor(light) {
  const frame = () => document.querySelector(".bottom-map iframe")?.contentWindow;
  const tell = (message) => frame()?.postMessage(message, "*"); // a frame apart has no origin to name
  const greet = () => {
    tell({ seabed: "hello" });
    tell({ seabed: "view", view: light() });
  };
  addEventListener("message", ({ source, origin, data }) => {
    if (source !== frame() || origin !== "null" || typeof data !== "object" || data === null) return;
    if (data.seabed === "ready") greet();
    if (data.seabed === "chosen") mark(data);
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-choose]");
    if (button !== null) tell({ seabed: "choose", kind: button.dataset.choose, name: button.dataset.name });
  });
  document.addEventListener("light", () => tell({ seabed: "view", view: light() }));
  greet(); // a map that was ready before this page could hear it
}

function mark({ kind, name }) {
  const buttons = [...document.querySelectorAll("[data-choose]")];
  const chosen = buttons.filter((button) => name !== null && button.dataset.choose === kind && button.dataset.name === name);
  for (const button of buttons) button.setAttribute("aria-pressed", chosen.includes(button));
  chosen[0]?.scrollIntoView({ block: "nearest" });
}
