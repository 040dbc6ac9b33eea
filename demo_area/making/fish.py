"""The fish: where they lie, which of them bite, and the log of those that did."""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from making.bottom import bump, channel_bearing, channel_centre, on_scarp
from making.clock import ZONE, hours
from making.place import degrees
from making.water import stream_at

BACKGROUND_RATE = 0.25
# Where fish lie: name, centre, half length along and half width across (m), bearing of the long
# axis, fish a rod-hour at the centre, and the stage they feed on (+1 flood, -1 ebb, 0 both).
HAUNTS = [
    ("scarp, north", on_scarp(3250.0, -4.0), 170.0, 40.0, float(channel_bearing(3250.0)), 7.0, -1),
    ("scarp, middle", on_scarp(2560.0, -4.0), 150.0, 40.0, float(channel_bearing(2560.0)), 3.0, 0),
    ("scarp, south", on_scarp(1380.0, -4.0), 170.0, 40.0, float(channel_bearing(1380.0)), 4.5, +1),
    ("outer hump", (4880.0, 2560.0), 130.0, 70.0, 0.0, 2.5, +1),
    ("east edge", (float(channel_centre(3300.0)) + 990.0, 3300.0), 170.0, 50.0,
     float(channel_bearing(3300.0)), 2.0, -1),
]  # fmt: skip


def rate_at(h, east, north):
    """Fish a rod-hour at hours from EPOCH, at a place."""
    speed = stream_at(h)
    rate = np.full(np.broadcast(h, east, north).shape, BACKGROUND_RATE)
    for _, at, along, across, bearing, strength, stage in HAUNTS:
        feeding = 1.0 if stage == 0 else np.clip(stage * speed / 0.35, 0.1, 1.0)
        rate = rate + strength * feeding * bump(east, north, at, along, across, bearing)
    return rate


SPECIES = {"brindle flounder": (0.72, 14.6, 2.1, 14.0), "tasset gurnard": (0.28, 11.0, 1.6, 10.0)}
NOTES = [
    "",
    "",
    "",
    "",
    "strip bait",
    "on the turn of the line",
    "two in a minute",
    "sand grains on the hook",
]


def catch(random, boat):
    rows = []
    for piece in boat.pieces:
        if piece["kind"] != "drift":
            continue
        span = slice(piece["first"], piece["last"] + 1)
        h = np.array([hours(t) for t in boat.seconds[span]])
        places = np.array(boat.places[span])
        per_second = rate_at(h, places[:, 0], places[:, 1]) * piece["rods"] / 3600.0
        piece["expected_fish"] = float(per_second.sum())
        bites = np.flatnonzero(random.random(len(h)) < per_second)
        rows += [fish(random, boat.seconds[span][second], piece["rods"]) for second in bites]
    return rows


def fish(random, time, rods):
    names = list(SPECIES)
    name = names[int(random.random() > SPECIES["brindle flounder"][0])]
    _, mean, spread, least = SPECIES[name]
    length = round(max(6.0, random.normal(mean, spread)) * 4) / 4
    return {"time": time, "species": name, "length_in": length, "kept": length >= least,
            "rod": int(random.integers(1, rods + 1)), "note": str(random.choice(NOTES))}  # fmt: skip


def lucky_fish(boat):
    """One short drift over nothing much gave two good fish: luck, not ground."""
    piece = next(p for p in boat.pieces if p.get("line") == "G")
    return [
        {"time": piece["start"] + timedelta(seconds=after), "species": "brindle flounder",
         "length_in": length, "kept": True, "rod": 1, "note": "no bite before or after"}
        for after, length in ((115, 17.25), (242, 15.5))
    ]  # fmt: skip


def waypoint(boat, row):
    """A fish marked on the plotter instead of in the log."""
    place = boat.places[boat.seconds.index(row["time"])]
    lon, lat = degrees([place])
    word = "keeper" if row["kept"] else "short"
    return row["time"], lon[0], lat[0], f"{word} {row['species']} {row['length_in']:g} in", row


def write_catches(folder, trips):
    """The log as a skipper keeps it: local time, some with the zone, two rows that fit no drift."""
    lines = ["time,species,length_in,kept,rod,note"]
    for number, (boat, fishes) in enumerate(trips):
        for i, row in enumerate(sorted(fishes, key=lambda r: r["time"])):
            zone = "-02:00" if (i + number) % 3 == 0 else ""
            time = (row["time"] + ZONE).strftime("%Y-%m-%d %H:%M:%S") + zone
            kept = ("yes", "no") if number % 2 == 0 else ("kept", "short")
            lines.append(f"{time},{row['species']},{row['length_in']:g},"
                         f"{kept[0] if row['kept'] else kept[1]},{row['rod']},{row['note']}")  # fmt: skip
        if number in (0, 3):
            run = [p for p in boat.pieces if p["kind"] == "run"][-1]
            time = (run["start"] + (run["end"] - run["start"]) / 2 + ZONE).strftime(
                "%Y-%m-%d %H:%M:%S"
            )
            lines.append(f"{time},tasset gurnard,10.5,yes,1,trolled on the way home")
    (folder / "catches.csv").write_text("\n".join(lines) + "\n", newline="\n")
