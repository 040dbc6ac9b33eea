"""A plan on screen: tables and sentences in the area's units and zone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, Final

import geopandas as gpd
import pandas as pd

from layers.area import Area
from layers.jobs.parts.words import clock, say_length, short_unit
from layers.planning import PLAN
from layers.planning.day.reasons import LEAST_PUSH_MPS
from layers.planning.day.timetable import TIMETABLE
from layers.planning.drift.safe_water import closed_depth
from seabed.units import convert, format_quantity, rounded

MOST_APART: Final = 8
"""Lines that have a row of their own in the brief timetable, however few their passes."""


def plan_rows(lines: gpd.GeoDataFrame, area: Area) -> tuple[list[str], list[list[str]]]:
    """Headers and rows of the lines."""
    units = asdict(area.units)
    depth, speed = area.units.depth, area.units.speed
    headers = [
        "line", "from", "latest", "min", "passes", "toward", speed, f"water {depth}", "in band",
        "fan", "stopped", "push", "worth",
    ]  # fmt: skip
    rows = [
        [
            row.plan_id,
            clock(row.slot_start, area),
            clock(row.latest_start, area),
            PLAN.words(row, "drift_s", units),
            str(row.passes),
            PLAN.words(row, "bearing_deg", units),
            PLAN.words(row, "sog_mps", units),
            "-".join(PLAN.words(row, name, units) for name in ("depth_min_m", "depth_max_m")),
            PLAN.words(row, "share_in_band", units),
            PLAN.words(row, "fan_in_band", units),
            f"{row.fan_stopped} of {row.fan_boats}",
            push_words(row, speed),
            f"{row.worth:.2f}",
        ]
        for row in lines.itertuples()
    ]
    return headers, rows


def timetable_rows(table: pd.DataFrame, area: Area) -> tuple[list[str], list[list[str]]]:
    """Headers and rows of the timetable; words of a line's first pass are not repeated."""
    chosen, units = asdict(area.units), area.units
    printed: set[tuple[str, str]] = set()
    headers = [
        "from", "to", "what", units.distance, "toward", "push", f"least {units.depth}", "in words",
    ]  # fmt: skip
    rows = [
        [
            clock(row.start, area),
            clock(row.end, area),
            _what(row),
            TIMETABLE.words(row, "distance_m", chosen),
            TIMETABLE.words(row, "bearing_deg", chosen),
            push_words(row, units.speed) if row.what == "drift" else "",
            TIMETABLE.words(row, "least_water_m", chosen),
            _words(row, area, printed),
        ]
        for row in table.itertuples()
    ]
    return headers, rows


def brief_rows(
    table: pd.DataFrame, lines: gpd.GeoDataFrame, area: Area
) -> tuple[list[str], list[list[str]]]:
    """Give headers and rows of the timetable in brief: one row for all passes of a line.

    Of many lines, those with one pass and no caution share rows.  Ways back up and between lines
    appear only with a caution.
    """
    units, rows = asdict(area.units), list[list[str]]()
    ways = table.index[table["what"] == "run"]
    out_and_home = {*ways[:1], *ways[-1:]}
    drifts: list[Any] = []
    by_name = {line.plan_id: line for line in lines.itertuples()}
    cautioned = {*table.loc[(table["what"] == "drift") & (table["caution"] != ""), "plan_id"]}
    shared = {name for name, line in by_name.items() if line.passes == 1} - cautioned
    shared = shared if len(by_name) > MOST_APART else set()

    def put(row: Any, until: Any, what: str, least_m: float, words: str) -> None:
        least = TIMETABLE.words(row._replace(least_water_m=least_m), "least_water_m", units)
        rows.append([clock(row.start, area), clock(until, area), what, least, words])

    def put_drifts() -> None:
        if drifts:
            of_lines = [by_name[name] for name in dict.fromkeys(one.plan_id for one in drifts)]
            cautions = dict.fromkeys(one.caution for one in drifts if one.caution)
            words = _drifts_words(drifts, of_lines, area)
            least_m = min(one.least_water_m for one in drifts)
            names = _joined([line.plan_id for line in of_lines])
            put(drifts[0], drifts[-1].end, names, least_m, ". ".join([*cautions, words]))
        drifts.clear()

    for row in table.itertuples():
        if row.what == "drift":
            if drifts and not _share_a_row(
                by_name[drifts[0].plan_id], by_name[row.plan_id], shared
            ):
                put_drifts()
            drifts.append(row)
        elif row.what != "run" or row.caution or row.Index in out_and_home:
            put_drifts()
            words = ". ".join(filter(None, (row.caution, row.words)))
            put(row, row.end, row.what, row.least_water_m, words)
    put_drifts()
    return ["from", "to", "what", f"least {area.units.depth}", "in words"], rows


def _share_a_row(one: Any, other: Any, shared: set[str]) -> bool:
    """Say whether two lines share a row: with one pass each, in the same light, sea and gear."""
    if one.plan_id == other.plan_id:
        return True
    alike = all(getattr(one, name) == getattr(other, name) for name in ("light", "lead", "sea"))
    return alike and {one.plan_id, other.plan_id} <= shared


def _joined(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"


def _drifts_words(drifts: Sequence[Any], lines: Sequence[Any], area: Area) -> str:
    """Say when lines go down, and what the line with the highest waves has of light and sea."""
    words = "lines down " + ", ".join(clock(one.start, area) for one in drifts)
    latest = clock(drifts[0].latest_start, area)
    if latest:
        words += f"; no later than {latest}" if len(lines) == 1 else "; no later than above"
    roughest = max(lines, key=lambda line: max(0.0, line.wave_m))  # 0 for NaN
    own = afloat_words(roughest, area, waves="waves up to" if len(lines) > 1 else "waves")
    return f"{words}; {own}" if own else words


def what_if_rows(
    lines: pd.DataFrame, days: pd.DataFrame, area: Area
) -> tuple[list[str], list[list[str]]]:
    """Headers and rows of the day in each scenario: a column a line, with how far its end moves."""
    names = list(dict.fromkeys(lines["plan_id"]))
    say = say_length(area)
    headers = ["if", *names, "worth kept", "new plan", "in words"]
    rows = []
    for day in days.itertuples():
        own = lines[lines["scenario"] == day.scenario].set_index("plan_id")
        cells = [_moved(own.loc[name], say) for name in names]
        rows.append(
            [
                day.scenario, *cells, f"{day.worth_kept:.2f}", f"{day.worth_replanned:.2f}",
                day.words,
            ]
        )  # fmt: skip
    return headers, rows


def afloat_words(row: Any, area: Area, *, waves: str = "waves") -> str:
    """Say in a line what a line of a plan has of light, sea and gear; ``""`` for nothing."""
    parts = [row.light, f"lead {row.lead}" if row.lead else ""]
    height = format_quantity(row.wave_m, short_unit(area), digits=1) if row.wave_m > 0 else "0.0 "
    if not height.startswith("0.0 "):
        seas = [f"{waves} {height}, {row.wave_period_s:.1f} s", row.sea]
        parts.append(" ".join(filter(None, seas)))
    elif row.sea:
        parts.append(f"waves {row.sea}")
    return "; ".join(filter(None, parts))


def hazard_words(hazards: gpd.GeoDataFrame | None, area: Area) -> str | None:
    """Say what was kept clear of; None where no chart was read."""
    if hazards is None:
        return None
    closed = int((closed_depth(hazards) < float("inf")).sum())
    notes = len(hazards) - closed
    clearance = say_length(area)(area.plan.hazard_clearance_m)
    sentence = (
        f"Every line keeps {clearance} or more from {closed} charted hazards that a drift must not "
        "meet at that tide"
    )
    if notes:
        sentence += (
            f"; it does not keep clear of {notes} charted areas and notes that close no water"
        )
    return f"{sentence}. Hold each line against the official chart."


def push_words(row: Any, speed_unit: str) -> str:
    """Write the motor's push, ``"0.3 to 237"``; with its end where that differs."""
    start, end = (
        f"{rounded(convert(mps, speed_unit), 1)} to {deg:03.0f}" if mps > LEAST_PUSH_MPS else "none"
        for mps, deg in ((row.push_mps, row.push_deg), (row.push_end_mps, row.push_end_deg))
    )
    return start if start == end else f"{start}, then {end}"


def with_local(table: pd.DataFrame, area: Area, columns: dict[str, str]) -> pd.DataFrame:
    """Put columns of local clock time beside those of UTC, by the names given."""
    clocks = {local: [clock(time, area) for time in table[utc]] for utc, local in columns.items()}
    return table.assign(**clocks)


def _what(row: Any) -> str:
    if row.what == "drift":
        return f"drift {row.plan_id}, pass {row.pass_number}"
    if row.what == "run":
        return f"run to {row.plan_id}" if row.plan_id else "run home"
    return str(row.what)


def _words(row: Any, area: Area, printed: set[tuple[str, str]]) -> str:
    """Give the words of a row that its line does not have yet."""
    latest = clock(row.latest_start, area)
    parts = [row.words, f"no later than {latest}" if latest else "", row.caution]
    if row.what == "drift":
        parts = [part for part in parts if (row.plan_id, part) not in printed]
        printed.update((row.plan_id, part) for part in parts)
    return "; ".join(part for part in parts if part)


def _moved(row: Any, say: Any) -> str:
    if not row["held"]:
        return "not held"
    if row["drift_s"] <= 0 or pd.isna(row["end_shift_m"]):
        return "stopped"
    return f"{say(row['end_shift_m'])}{'' if row['works'] else ' (no)'}"
