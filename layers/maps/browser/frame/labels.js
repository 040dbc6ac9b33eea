// Marks of text that would be on each other: the lesser moves aside or gives way until there is room.

const FIRST = ["rank", "plan", "hazard", "place", "stretch", "feature", "hours", "contour", "flow"];
const KEPT = 3; // kinds that are moved aside, never left out
const MOST = 900; // of a crowd larger than this only the first are looked at
const ROOM = { contour: 14, feature: 4 }; // pixels kept clear around a kind

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
  const every = [...pane.querySelectorAll(".sign, .flow")].map((mark) => ({ mark, rank: FIRST.findIndex((kind) => mark.classList.contains(kind)) }))
    .filter(({ rank }) => rank >= 0).sort((a, b) => a.rank - b.rank).slice(0, MOST);
  for (const one of every) {
    one.mark.firstChild.style.translate = "";
    one.box = (one.mark.querySelector(".casing") || one.mark.firstChild).getBoundingClientRect(); // of an arrow, itself
  }
  const places = arranged(every.map(({ box, rank }) => ({ box, room: ROOM[FIRST[rank]] || 0, kept: rank < KEPT })));
  every.forEach(({ mark }, i) => {
    mark.style.visibility = places[i] ? "" : "hidden";
    if (places[i]?.some(Boolean)) mark.firstChild.style.translate = `${places[i][0]}px ${places[i][1]}px`;
  });
}

// How far each of some boxes moves, [right, down], those before it first; null for one that gives way.
function arranged(marks) {
  const taken = [];
  return marks.map(({ box, room, kept }) => {
    const { width, height } = box;
    const moves = [[0, 0], ...(kept ? [[width, 0], [-width, 0], [0, height], [0, -height], [width, height], [-width, -height]] : [])];
    const free = moves.find((move) => !taken.some((other) => meet(moved(box, move, room), other)));
    if (!free && !kept) return null;
    const move = free || [0, 0];
    taken.push(moved(box, move, 0));
    return move;
  });
}

function moved(box, [right, down], room) {
  return { left: box.left + right - room, right: box.right + right + room, top: box.top + down - room, bottom: box.bottom + down + room };
}

function meet(a, b) {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}

export { arranged, keepLabelsApart };
