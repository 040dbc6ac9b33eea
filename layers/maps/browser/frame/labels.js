// Words and marks on the map that would lie on each other: the lesser gives way until there is room.

const FIRST = ["rank", "plan", "hazard", "stretch", "hump", "hole", "contour"];
const KEPT = 3; // kinds that are never left out
const MOST = 600; // of a crowd larger than this only the first are looked at

function keepLabelsApart(map) {
  let asked = false;
  const ask = () => {
    if (asked) return;
    asked = true;
    setTimeout(() => { asked = false; spread(map.getPane("markerPane")); }, 60);
  };
  map.on("zoomend moveend layeradd layerremove", ask);
  ask();
}

function spread(pane) {
  const rankOf = (sign) => FIRST.findIndex((kind) => sign.classList.contains(kind));
  const signs = [...pane.querySelectorAll(".sign")].map((sign) => ({ sign, rank: rankOf(sign) }))
    .filter(({ rank }) => rank >= 0).sort((a, b) => a.rank - b.rank).slice(0, MOST);
  for (const one of signs) one.box = one.sign.firstChild.getBoundingClientRect();
  const placed = [];
  for (const one of signs) {
    one.hide = one.rank >= KEPT && placed.some((other) => meet(one.box, other));
    if (!one.hide) placed.push(one.box);
  }
  for (const { sign, hide } of signs) sign.style.visibility = hide ? "hidden" : "";
}

function meet(a, b) {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}

export { keepLabelsApart };
