"""The hidden truth of the outings, of the ground and of the water."""

from __future__ import annotations

import json
from datetime import timedelta

import numpy as np

from making.boat import LEEWAY_SHARE
from making.bottom import FEATURES, channel_centre, depth_under, on_scarp
from making.clock import EPOCH, stamp
from making.fish import BACKGROUND_RATE, HAUNTS
from making.outings import LINES
from making.place import CRS, lonlat
from making.water import CURRENT_LEADS_HOURS, MEAN_LEVEL_M, SHORE_LEAD_HOURS, TIDES, current_at


def write_truth(folder, trips, bottom, *, seed):
    features = features_truth()
    out = {
        "seed": seed,
        "crs": CRS,
        "note": "hidden truth of an invented place",
        "trips": [trip_truth(*trip) for trip in trips],
        "haunts": haunts_truth(),
        "humps": features["humps"],
        **lengthwise_truth(),
        "lines": lines_truth(trips),
        "hole": features["hole"],
        "scarp_drop_m": 2.9,
        "scarp_width_m": 46.0,
        "sand_waves": features["sand_waves"],
        "current": current_truth(bottom),
        "leeway_share": LEEWAY_SHARE,
        "background_rate": BACKGROUND_RATE,
        "tides": tides_truth(),
    }
    (folder / "truth.json").write_text(json.dumps(out, indent=1) + "\n", newline="\n")


def trip_truth(boat, fishes, files):
    """What one outing was: every second's kind, its wind, its rods."""
    return {
        "files": [f"{name}.gpx" for name in files],
        "pieces": [piece_truth(piece) for piece in boat.pieces],
        "rods": boat.plan["rods"],
        "wind_kn": boat.plan["wind_kn"],
        "wind_from": boat.plan["wind_from"],
        "fish": len(fishes),
    }


def piece_truth(piece):
    out = {"kind": piece["kind"], "start": stamp(piece["start"]), "end": stamp(piece["end"])}
    if piece["kind"] == "drift":
        out["line"], out["rods"] = piece["line"], piece["rods"]
        out["expected_fish"] = round(piece["expected_fish"], 3)
    return out


def lines_truth(trips):
    """What a rod-hour on each line was worth, and what came of it, over all outings."""
    totals = {}
    for boat, fishes, _ in trips:
        for piece in boat.pieces:
            if piece["kind"] == "drift":
                total = totals.setdefault(piece["line"], [0.0, 0.0, 0])
                total[0] += piece["expected_fish"]
                total[1] += piece["rods"] * (piece["end"] - piece["start"]).total_seconds() / 3600
                total[2] += sum(piece["start"] <= f["time"] <= piece["end"] for f in fishes)
    return {
        name: {"fish_per_rod_hour": round(expected / hours, 3), "rod_hours": round(hours, 3),
               "fish": fish, "start_lon_lat": lonlat(LINES[name].start), "stage": LINES[name].stage}
        for name, (expected, hours, fish) in sorted(totals.items())
    }  # fmt: skip


def haunts_truth():
    return [
        {"name": name, "lon_lat": lonlat(at), "along_m": along, "across_m": across,
         "bearing_deg": round(bearing, 2), "rate": rate, "stage": stage}
        for name, at, along, across, bearing, rate, stage in HAUNTS
    ]  # fmt: skip


def features_truth():
    """Humps, hole and sand waves."""
    hole = FEATURES["hole"]
    return {
        "humps": [
            {"name": hump["name"], "lon_lat": lonlat(hump["at"]), "height_m": hump["height_m"]}
            for hump in FEATURES["humps"]
        ],
        "hole": {"name": hole["name"], "lon_lat": lonlat(hole["at"]), "depth_m": hole["depth_m"]},
        "sand_waves": {
            "wavelength_m": 64.0,
            "height_m": 1.0,
            "lon_lat": lonlat((float(channel_centre(1100.0)), 1100.0)),
        },
    }


def lengthwise_truth():
    """The scarp's middle and the channel's, every 100 m from south to north."""
    norths = [float(north) for north in range(300, 4600, 100)]
    return {
        "scarp": [lonlat(on_scarp(north)) for north in norths],
        "channel": [lonlat((float(channel_centre(north)), north)) for north in norths],
    }


def current_truth(bottom):
    """The hidden current by hour at mid-channel and over the scarp, in a table."""
    places = {"channel": (float(channel_centre(2400.0)), 2400.0), "scarp": on_scarp(2560.0)}
    h = np.arange(6 * 24.0, 30 * 24.0)
    out = {"hours_from": stamp(EPOCH + timedelta(hours=144)), "places": {}}
    for name, at in places.items():
        u, v = current_at(h, *at, depth_under(bottom, at))
        out["places"][name] = {"lon_lat": lonlat(at), "east_mps": np.round(u, 3).tolist(),
                               "north_mps": np.round(v, 3).tolist()}  # fmt: skip
    return out


def tides_truth():
    return {
        "hours_from": stamp(EPOCH), "mean_level_m": MEAN_LEVEL_M,
        "current_leads_hours": CURRENT_LEADS_HOURS, "shore_lead_hours": SHORE_LEAD_HOURS,
        "constituents": {
            name: {"period_h": period, "height_m": height, "current_mps": current, "phase_h": phase}
            for name, (period, height, current, phase) in TIDES.items()
        },
    }  # fmt: skip
