// Words with values put into them, and moments as people and as files of corrections write them.
export const fill = (words, values) => words.replace(/\{(\w+)\}/gu, (_, name) => values[name]);

export const clockOf = (zone) => formatOf("en-GB", { hour: "2-digit", minute: "2-digit", second: "2-digit" }, zone);

export const dayOf = (zone) => formatOf("sv", {}, zone); // 2031-06-14

function formatOf(language, parts, zone) {
  const make = (timeZone) => new Intl.DateTimeFormat(language, { timeZone, ...parts });
  let format = null;
  try { format = make(zone); } catch { format = make("UTC"); }
  return (t) => format.format(t * 1000);
}

// Puts a head before the first of each day, where there is more than one; `of` gives the moment of an item.
export function underDays(items, of, day, show, head) {
  const days = items.map((one) => (of(one) === null ? null : day(of(one))));
  const several = new Set(days.filter((one) => one !== null)).size > 1;
  return items.flatMap((one, at) => (several && days[at] !== null && days[at] !== days[at - 1] ? [head(days[at]), show(one)] : [show(one)]));
}

export const lasts = (seconds) => (seconds < 60 ? `${Math.round(seconds)} s` : `${Math.round(seconds / 60)} min`);

export const stamp = (t) => new Date(Math.round(t * 1000)).toISOString().replace("T", " ").replace(".000Z", "Z");

export function span(start, end, what) {
  const [from, to] = [stamp(start), stamp(end)];
  return `${from}-${from.slice(0, 10) === to.slice(0, 10) ? to.slice(11) : to} ${what}`;
}
