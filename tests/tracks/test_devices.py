"""Plotter and phone at once: one track, nothing doubled, the sounder's depths kept."""

import numpy as np
import pandas as pd
import pytest
from simulated import Boat, Sea

from layers.tracks import CutSettings, clean, cut, drifts_of
from layers.tracks.devices import doubled_fixes


def morning(file: str, sampling_s: int, seed: int) -> pd.DataFrame:
    """The same boat seen by a device of its own noise."""
    boat = Boat(np.random.default_rng(1), Sea(sampling_s=sampling_s, noise_m=3.0))
    boat.run(300, 20, 0)
    boat.drift(900, 0.8, 180)
    boat.run(120, 15, 0)
    boat.drift(900, 0.8, 180)
    boat.run(300, 20, 180)
    boat.rng = np.random.default_rng(seed)
    return boat.trip(file=file).fixes


def test_two_devices_are_not_doubled():
    plotter, phone = morning("plotter.gpx", 2, 2), morning("phone.gpx", 1, 3)
    alone = cut(clean(phone)[0])
    fixes, report = clean(pd.concat([plotter, phone], ignore_index=True))
    pieces = cut(fixes)
    assert pieces["kind"].tolist() == alone["kind"].tolist() == ["run", "drift"] * 2 + ["run"]
    assert report.other_device in (len(plotter), len(phone) - 1, len(phone))
    assert drifts_of(pieces, fixes)["rod_hours"].sum() == pytest.approx(0.5, abs=0.03)


def test_the_second_fills_the_gaps_of_the_first():
    plotter, phone = morning("plotter.gpx", 2, 2), morning("phone.gpx", 1, 3)
    start = plotter["time"].iloc[0]
    since = (plotter["time"] - start).dt.total_seconds()
    lost = plotter[(since < 500) | (since > 1000)]
    late = phone[(phone["time"] - start).dt.total_seconds() > 400]
    fixes, report = clean(pd.concat([lost, late]))
    assert report.gaps == 0
    own = (fixes["time"] - start).dt.total_seconds()
    assert set(fixes["file"][(own > 501) & (own < 999)]) == {"phone.gpx"}
    assert set(fixes["file"][own < 400]) == {"plotter.gpx"}
    assert np.diff(own).max() <= 2
    assert cut(fixes)["kind"].tolist() == ["run", "drift"] * 2 + ["run"]


def test_depths_of_the_other_device_are_kept():
    plotter, phone = morning("plotter.gpx", 5, 2), morning("phone.gpx", 1, 3)
    plotter["depth_m"] = np.arange(len(plotter), dtype=float)
    plotter["temperature_c"] = 12.0
    whole = phone.assign(time=phone["time"] + pd.Timedelta(milliseconds=300))
    fixes, report = clean(pd.concat([plotter.iloc[10:-10], whole]))
    assert set(fixes["file"]) == {"phone.gpx"}
    assert report.other_device == len(plotter) - 20
    since = (fixes["time"] - plotter["time"].iloc[0]).dt.total_seconds()
    known = fixes["depth_m"].notna()
    # Within 5 s of a plotter's fix, and the nearest one's.
    assert (known == ((since >= 45) & (since <= 5 * (len(plotter) - 11) + 5))).all()
    assert (np.abs(fixes["depth_m"] * 5 - since)[known] <= 5.0).all()
    inner = known & (since > 50) & (since < 5 * (len(plotter) - 12))
    assert (np.abs(fixes["depth_m"] * 5 - since)[inner] <= 2.5 + 1e-6).all()
    assert (fixes["temperature_c"][known] == 12).all()


def test_the_leading_device_keeps_fixes_that_the_other_repeats():
    """Two receivers of one antenna: the plotter's every other fix is, now and then, the phone's."""
    phone = morning("phone.gpx", 2, 3)
    plotter = phone.iloc[11:-10:2].assign(file="plotter.gpx", depth_m=7.0)
    moved = np.arange(len(plotter)) % 2 == 1
    plotter.loc[moved, "latitude"] += 1e-5
    for both in ([plotter, phone], [phone, plotter]):
        fixes, report = clean(pd.concat(both, ignore_index=True))
        assert fixes["file"].eq("phone.gpx").all()
        assert fixes["time"].tolist() == phone["time"].tolist()
        assert report.other_device == moved.sum()
        assert report.duplicate == (~moved).sum()
        assert fixes["depth_m"].iloc[11:-10].eq(7.0).all()


def test_one_file_after_the_other_and_the_same_file_twice():
    phone = morning("phone.gpx", 1, 3)
    halves = pd.concat([phone.iloc[:1000].assign(file="a.gpx"), phone.iloc[1000:]])
    assert clean(halves)[1].dropped == 0
    fixes, report = clean(pd.concat([phone, phone.assign(file="copy.gpx")]))
    assert report.dropped == report.duplicate == len(phone)
    assert len(fixes) == len(phone)


def test_against_brute_force():
    """A fix is doubled when a device that recorded longer has a span without a gap around it."""
    rng = np.random.default_rng(4)
    settings = CutSettings(longest_gap_s=10.0)
    for _ in range(100):
        count = int(rng.integers(4, 60))
        time_s = np.cumsum(rng.choice([0.5, 3.0, 15.0], count))
        device = rng.integers(0, 3, count)
        spans: dict[int, list[tuple[float, float]]] = {}
        for d in np.unique(device):
            own = time_s[device == d]
            spans[int(d)] = []
            for t in own:
                if spans[int(d)] and t - spans[int(d)][-1][1] <= 10.0:
                    spans[int(d)][-1] = (spans[int(d)][-1][0], t)
                else:
                    spans[int(d)].append((t, t))
        long = {d: sum(b - a for a, b in s) for d, s in spans.items()}
        if len(set(long.values())) < len(long):
            continue  # which of two equals leads is open
        truth = [
            any(long[o] > long[int(d)] and any(a <= t <= b for a, b in spans[o]) for o in spans)
            for t, d in zip(time_s, device, strict=True)
        ]
        assert doubled_fixes(time_s, device, settings).tolist() == truth
