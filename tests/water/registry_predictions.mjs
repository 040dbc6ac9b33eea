// Stations of every kind of tide from the open tide database, and what an independent predictor
// says of them through a year: JSON on standard output.
import { allStations } from "@neaps/tide-database";
import { createTidePredictor } from "@neaps/tide-predictor";

const [year, perKind, currents] = process.argv.slice(2).map(Number);
const start = new Date(Date.UTC(year, 0, 1));
const end = new Date(Date.UTC(year + 1, 0, 1));

// How the two programs treat these differs (see the test), so neither predicts with them.
const LEFT_OUT = new Set(["M1", "MSQM", "MTM", "R3", "3L2", "3N2"]);

const amplitude = (station, name) =>
  station.harmonic_constituents.find((c) => c.name === name)?.amplitude ?? 0;
// Form number of Courtier (1938): (K1 + O1) / (M2 + S2).
const form = (s) =>
  (amplitude(s, "K1") + amplitude(s, "O1")) / (amplitude(s, "M2") + amplitude(s, "S2") || 1e-9);
const kindOf = (s) =>
  s.kind === "current" ? "current"
  : s.type === "subordinate" ? `subordinate, ${s.offsets.height.type}`
  : form(s) < 0.25 ? "semidiurnal"
  : form(s) < 1.5 ? "mixed, mainly semidiurnal"
  : form(s) < 3 ? "mixed, mainly diurnal"
  : "diurnal";

const byKind = new Map();
for (const station of [...allStations].sort((a, b) => (a.id < b.id ? -1 : 1))) {
  const usable =
    (station.type === "reference" ||
      (station.kind === "tide" && station.datums.MSL !== undefined)) &&
    station.license?.commercial_use &&
    station.harmonic_constituents.length > 8 &&
    (station.kind === "tide"
      ? station.quality?.accepted
      : station.current?.flood_direction !== undefined);
  if (!usable) continue;
  const kind = kindOf(station);
  byKind.set(kind, [...(byKind.get(kind) ?? []), station]);
}

const chosen = [];
for (const [kind, stations] of byKind) {
  const wanted = kind === "current" ? currents : kind.startsWith("sub") ? 3 : perKind;
  for (let i = 0; i < wanted; i += 1) {
    chosen.push([kind, stations[Math.floor(((i + 0.5) * stations.length) / wanted)]]);
  }
}

const answers = chosen.map(([kind, station]) => {
  const constituents = station.harmonic_constituents.filter((c) => !LEFT_OUT.has(c.name));
  // Differences are of heights above chart datum; others are compared about their mean.
  const offsets = station.type === "subordinate" ? station.offsets : undefined;
  const offset = offsets && station.datums.MSL - station.datums[station.chart_datum];
  const predictor = createTidePredictor(constituents, {
    nodeCorrections: "schureman",
    offset: offset ?? false,
  });
  const hourly = predictor.getTimelinePrediction({ start, end, timeFidelity: 3600 });
  const extremes = predictor.getExtremesPrediction({ start, end, offsets });
  return {
    kind,
    record: { ...station, harmonic_constituents: constituents },
    hourly: hourly.map((point) => Number(point.level.toFixed(5))),
    extremes: extremes.map((e) => [e.time.getTime(), e.high ? 1 : 0, Number(e.level.toFixed(4))]),
  };
});
process.stdout.write(JSON.stringify(answers));
