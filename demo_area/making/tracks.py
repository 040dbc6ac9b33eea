"""The tracks of the outings, as a plotter logs them."""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from making.bottom import depth_between
from making.clock import hours, stamp
from making.place import degrees
from making.water import height_at

GAPS = {"trip_4": ("hold", 1, 6.0, 5.0)}  # kind, which of them, minutes in, minutes long


def gps_noise(random, count):
    """Slowly wandering error of about 2.5 m, metres."""
    white = random.normal(0, 1.0, (count, 2))
    noise = np.zeros((count, 2))
    keep = np.exp(-1 / 40.0)
    for i in range(1, count):
        noise[i] = keep * noise[i - 1] + np.sqrt(1 - keep**2) * white[i]
    return 2.2 * noise + random.normal(0, 0.25, (count, 2))


def gpx(segments, name, waypoints=(), *, sounder=False):
    """GPX 1.1 text; a segment is rows of (time, lon, lat, depth, temperature)."""
    out = ['<?xml version="1.0" encoding="UTF-8"?>']
    ours = ' xmlns:s="https://example.invalid/sounder"' if sounder else ""
    out.append(
        f'<gpx version="1.1" creator="make_demo_area" xmlns="http://www.topografix.com/GPX/1/1"{ours}>'
    )
    for time, lon, lat, label, *_ in waypoints:
        out.append(
            f'<wpt lat="{lat:.6f}" lon="{lon:.6f}"><time>{stamp(time)}</time><name>{label}</name></wpt>'
        )
    out.append(f"<trk><name>{name}</name>")
    for segment in segments:
        out.append("<trkseg>")
        for time, lon, lat, depth, warmth in segment:
            more = (
                f"<extensions><s:depth>{depth:.1f}</s:depth><s:temp>{warmth:.1f}</s:temp></extensions>"
                if sounder
                else ""
            )
            out.append(
                f'<trkpt lat="{lat:.6f}" lon="{lon:.6f}"><time>{stamp(time)}</time>{more}</trkpt>'
            )
        out.append("</trkseg>")
    out.append("</trk></gpx>")
    return "\n".join(out) + "\n"


def write_trip(folder, random, boat, waypoints):
    """Write the track as the plotter logged it; cut its gap out of the truth; give the files' names."""
    plan, every = boat.plan, boat.plan["every_s"]
    noisy = np.array(boat.places) + gps_noise(random, len(boat.places))
    lon, lat = degrees(noisy)
    keep = np.arange(0, len(lon), every)
    gap = GAPS.get(plan["name"])
    rows = []
    for i in keep:
        depth = warmth = 0.0
        if plan["name"] == "trip_3":
            charted = depth_between(boat.bottom, boat.places[i])
            depth = charted + height_at(hours(boat.seconds[i])) + random.normal(0, 0.08)
            warmth = 14.2 + 0.4 * np.sin(i / 4000.0)
        rows.append((boat.seconds[i], lon[i], lat[i], max(depth, 0.1), warmth))
    if gap:
        piece = [p for p in boat.pieces if p["kind"] == gap[0]][gap[1]]
        opening = piece["start"] + timedelta(minutes=gap[2])
        closing = opening + timedelta(minutes=gap[3])
        rows = [r for r in rows if not opening < r[0] < closing]
        cut_out(boat, opening, closing)
    sounder = plan["name"] == "trip_3"
    if plan["name"] == "trip_2":  # the plotter was switched off at the lunch stop: two files
        half = len(rows) // 2
        parts = {"trip_2a": [rows[:half]], "trip_2b": [rows[half:]]}
    else:
        third = len(rows) // 3
        parts = {plan["name"]: [rows[:third], rows[third:]] if plan["name"] == "trip_4" else [rows]}
    for part, segments in parts.items():
        marks = waypoints if part == list(parts)[-1] else ()
        text = gpx(segments, f"Tollivane Sound {plan['date']}", marks, sounder=sounder)
        (folder / f"{part}.gpx").write_text(text, newline="\n")
    return list(parts)


def cut_out(boat, opening, closing):
    """Put a gap into the true pieces."""
    out = []
    for piece in boat.pieces:
        if piece["end"] <= opening or piece["start"] >= closing:
            out.append(piece)
            continue
        if piece["start"] < opening:
            out.append({**piece, "end": opening})
        if piece["end"] > closing:
            out.append({**piece, "start": closing})
    out.append({"kind": "gap", "start": opening, "end": closing})
    boat.pieces = sorted(out, key=lambda piece: piece["start"])
