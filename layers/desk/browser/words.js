// Words with values put into them, and moments as people and as files of corrections write them.
export const fill = (words, values) => words.replace(/\{(\w+)\}/gu, (_, name) => values[name]);

export function clockOf(zone) {
  const make = (timeZone) => new Intl.DateTimeFormat("en-GB", { timeZone, hour: "2-digit", minute: "2-digit", second: "2-digit" });
  let format = null;
  try { format = make(zone); } catch { format = make("UTC"); }
  return (t) => format.format(t * 1000);
}

export const stamp = (t) => new Date(Math.round(t * 1000)).toISOString().replace("T", " ").replace(".000Z", "Z");

export function span(start, end, what) {
  const [from, to] = [stamp(start), stamp(end)];
  return `${from}-${from.slice(0, 10) === to.slice(0, 10) ? to.slice(11) : to} ${what}`;
}
