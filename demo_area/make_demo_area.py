"""Make the demo area: an invented sound, four invented trips, and the hidden truth behind them.

Everything is drawn from one seed, with nothing of the toolkit in it, so that tests may ask whether
the toolkit finds what was put here.  Run it from anywhere::

    python demo_area/make_demo_area.py [FOLDER]
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from making.bottom import make_bottom, write_grid
from making.chart import write_chart
from making.fish import catch, lucky_fish, waypoint, write_catches
from making.outings import PLANS, sail
from making.tables import write_tables
from making.tracks import write_trip
from making.truth import write_truth

SEED = 20310614


def main():
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    folder.mkdir(parents=True, exist_ok=True)
    random = np.random.default_rng(SEED)
    bottom = make_bottom(random)
    write_grid(folder, bottom)
    write_chart(folder, bottom)
    write_tables(folder, PLANS)
    trips = []
    for plan in PLANS:
        boat = sail(random, bottom, plan)
        fishes = catch(random, boat)
        marks = []
        if plan["name"] == "trip_2":
            fishes += lucky_fish(boat)
            marks = [waypoint(boat, fishes.pop(0)) for _ in range(2)]
        files = write_trip(folder, random, boat, marks)
        told = fishes + [m[4] for m in marks]
        trips.append((boat, fishes, told, files))
    write_catches(folder, [(boat, fishes) for boat, fishes, _, _ in trips])
    write_truth(folder, [(boat, told, files) for boat, _, told, files in trips], bottom, seed=SEED)


if __name__ == "__main__":
    main()
