"""A plan put into the words and pictures of its sheet, in the area's units and zone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString

from layers.area import Area
from layers.jobs.parts.facts import TEN_MINUTES
from layers.jobs.parts.words import clock
from layers.jobs.plan._plan_result import PlanResult
from layers.jobs.plan.printed_rows import afloat_words, push_words
from layers.planning import PLAN, DayWater
from layers.planning.day.reasons import LEAST_PUSH_MPS
from layers.planning.day.timetable import home_at
from layers.present.sheet.content import (
    BACK_BY_HAND,
    Sheet,
    SheetLine,
    TideCurve,
)
from layers.present.sheet.ground_plan import ground_plan
from layers.present.sheet.pictures import MAP_SIZE
from layers.water import Heights
from layers.water.day.sun import sun_times
from layers.water.heights.stage import turns
from layers.water.motion import set_and_drift, wind_and_water
from layers.water.times import day_bounds, moment
from seabed.errors import without_settings
from seabed.geodesy import step_lengths
from seabed.grid import degree_bounds
from seabed.grid.places import sample
from seabed.units import LENGTH, convert, format_quantity, rounded

ROOM_H: Final = 3.0
"""Hours of tide shown before the first line and after the last."""


def sheet_of(plan: PlanResult) -> Sheet:
    """Put a plan into the words and pictures of its sheet."""
    area, when, lines, safety = plan.area, plan.when, plan.lines, plan.safety
    day = _PaperDay(plan)
    shown = lines[lines["kind"] != "beside"]
    before, after = _strips(area, shown, plan.timetable)
    return Sheet(
        f"{area.name or 'Drift plan'}, {when.day:%A} {when.day}",
        day.wind_words(),
        area.units.depth,
        [day.line(row, before.get(row.plan_id, [])) for row in shown.itertuples()],
        day.tide(shown),
        after,
        _what_if(plan.what_if_days),
        plan.hazards,
        safety.beyond,
        without_settings(safety.warnings),
        _home(area, plan.timetable),
        without_settings(plan.facts),
    )


@dataclass(frozen=True, slots=True)
class _PaperDay:
    """What a day's lines were planned with."""

    plan: PlanResult

    @property
    def area(self) -> Area:
        return self.plan.area

    @property
    def water(self) -> DayWater:
        return self.plan.setting.water

    @property
    def heights(self) -> Heights | None:
        return self.plan.setting.safe.heights

    def wind_words(self) -> str:
        """Say the wind of the hours that are used: least and greatest, gusts, and where from."""
        if self.water.wind is None:
            return "No wind"
        times = np.concatenate(
            [np.arange(a, b, TEN_MINUTES) for a, b in self.plan.safety.hours.spans]
        )
        speed, from_deg = self.water.wind.at(times)
        known = np.isfinite(speed)
        if not known.any():
            return "Wind not known"
        least, greatest = float(np.nanmin(speed)), float(np.nanmax(speed))
        if not greatest > 0:
            return "No wind"
        unit = self.area.units.speed
        wind = format_quantity(greatest, unit)
        if (low := rounded(convert(least, unit))) != wind.split()[0]:
            wind = f"{low} to {wind}"
        gust = float(np.nanmax(self.water.wind.gusts(times)))
        if gust > greatest:
            wind += f", gusts {format_quantity(gust, unit)},"
        first = int(np.argmax(known))
        at = clock(pd.Timestamp(times[first], tz="UTC"), self.area)
        return f"Wind {wind} from {float(from_deg[first]):03.0f}°T at {at}"

    def line(self, row: Any, before: list[str]) -> SheetLine:
        unit = self.area.units.depth
        longitude, latitude = np.array(row.geometry.coords).T[:2]
        tide = self.tide_m(row.slot_start)
        gone = np.concatenate([[0.0], np.cumsum(step_lengths(longitude, latitude))])
        depth = (sample(self.plan.grid, longitude, latitude) + tide) / LENGTH[unit]
        band_m, band = self.area.depths.band_m, None
        if band_m is not None:
            band = ((band_m[0] + tide) / LENGTH[unit], (band_m[1] + tide) / LENGTH[unit])
        ground = ground_plan(
            self.plan.grid,
            row.geometry,
            shape=MAP_SIZE,
            unit=unit,
            others=[one for one in self.ways() if one[0] != row.plan_id],
            hazards=self.plan.charted,
        )
        return SheetLine(
            name=row.plan_id,
            when=f"{clock(row.slot_start, self.area)} to {clock(row.slot_end, self.area)}",
            start=(longitude[0], latitude[0]),
            end=(longitude[-1], latitude[-1]),
            facts=self.facts(row),
            profile=[
                (float(a), float(b)) for a, b in zip(gone, depth, strict=True) if np.isfinite(b)
            ],
            latest=clock(getattr(row, "latest_start", pd.NaT), self.area),
            band=band,
            ground=ground,
            before=before,
            beside=[
                (name, way.coords[0][:2], way.coords[-1][:2])
                for name, way in self.ways()
                if name.startswith(f"{row.plan_id} ")
            ],
            passes=self.passes_of(row),
        )

    def passes_of(self, row: Any) -> list[tuple[str, list[str]]]:
        """Set out what changes from pass to pass of a line and those beside it; [] for one pass."""
        passes = self.plan.plan.passes
        own = passes[passes["plan_id"].str.split().str[0] == row.plan_id]
        if len(own) < 2:
            return []
        depth, speed = self.area.units.depth, self.area.units.speed
        names = [name.partition(" ")[2] for name in own["plan_id"]]
        starts = zip(own["start"], names, strict=True)
        rows = [
            ("Pass at", [f"{clock(start, self.area)} {name}".strip() for start, name in starts]),
            ("minutes", self.column(own, "drift_s")),
            ("toward", [f"{toward}°T" for toward in self.column(own, "bearing_deg")]),
            (f"motor {speed}", [push_words(one, speed) for one in own.itertuples()]),
            (f"least {depth}", self.column(own, "depth_min_m")),
            ("in band", self.column(own, "share_in_band")),
            ("fan", self.column(own, "fan_in_band")),
            ("stopped", [f"{row.fan_stopped} of {row.fan_boats}" for row in own.itertuples()]),
        ]
        return [rows[0], *(row for row in rows[1:] if len(set(row[1])) > 1)]

    def column(self, table: pd.DataFrame, name: str) -> list[str]:
        return [PLAN[name].words(value, asdict(self.area.units)) for value in table[name]]

    def words(self, row: Any, *names: str) -> list[str]:
        """Write values of a line with their units."""
        units = asdict(self.area.units)
        shown = [PLAN[name].shown_unit(units) for name in names]
        values = [PLAN.words(row, name, units) for name in names]
        return [f"{a} {b}".strip() for a, b in zip(values, shown, strict=True)]

    def facts(self, row: Any) -> list[str]:
        units = self.area.units
        start, end = (
            f"motor {format_quantity(mps, units.speed, digits=1)} to {deg:03.0f}°T"
            if mps > LEAST_PUSH_MPS
            else "no motor"
            for mps, deg in ((row.push_mps, row.push_deg), (row.push_end_mps, row.push_end_deg))
        )
        push = start if start == end else f"at first {start}, at the end {end}"
        if push == "no motor":
            push += self.wind_beside(row)
        far, lasts, fast = self.words(row, "distance_m", "drift_s", "sog_mps")
        in_band, fan = self.words(row, "share_in_band", "fan_in_band")
        low = PLAN.words(row, "depth_min_m", asdict(units))
        (water,) = self.words(row, "depth_max_m")
        return [
            f"{row.bearing_deg:03.0f}°T, {far}, {lasts} at {fast}, "
            f"{row.passes} pass{'' if row.passes == 1 else 'es'}",
            f"{low} to {water}, {in_band} in band, {fan} if water and wind differ, "
            f"{row.fan_stopped} of {row.fan_boats} stopped; {push}",
            *filter(None, [afloat_words(row, self.area)]),
        ]

    def wind_beside(self, row: Any) -> str:
        if self.water.wind is None:
            return ""
        _, from_deg = self.water.wind.at(np.array([moment(row.slot_start)]))
        return f", {wind_and_water(row.bearing_deg, float(from_deg[0]))}"

    def ways(self) -> Iterator[tuple[str, LineString]]:
        """Give the lines and those beside them, by name."""
        return zip(self.plan.lines["plan_id"], self.plan.lines.geometry, strict=True)

    def tide_m(self, time: pd.Timestamp) -> float:
        if self.heights is None:
            return 0.0
        height = float(self.heights.height_m(np.array([moment(time)]))[0])
        return height if np.isfinite(height) else 0.0

    def tide(self, shown: gpd.GeoDataFrame) -> TideCurve | None:
        if self.heights is None:
            return None
        unit = self.area.units.depth
        begin, end = day_bounds(self.plan.when.day, self.area.timezone)

        def hours(time: Any) -> float:
            return float((moment(time) - begin) / np.timedelta64(3_600_000_000_000, "ns"))

        slots = [(hours(r.slot_start), hours(r.slot_end), r.plan_id) for r in shown.itertuples()]
        first = slots[0][0] - ROOM_H if slots else 0.0
        last = max(slot[1] for slot in slots) + ROOM_H if slots else hours(end)
        span = np.arange(np.floor(max(first, 0.0)), min(last, hours(end)) + 0.01, 1 / 12)
        times = begin + (span * 3.6e12).astype("timedelta64[ns]")
        extremes = turns(self.heights, times[0], times[-1])
        longitude, latitude = degree_bounds(self.plan.grid).middle
        toward, mps = set_and_drift(*self.water.currents.velocity(times, longitude, latitude))
        day, zone = self.plan.when.day, self.area.timezone
        sun = sun_times(day, zone, longitude=longitude, latitude=latitude)
        named = (("sunrise", sun.rises), ("sunset", sun.sets))
        table = self.plan.timetable
        slack = table[table["what"] == "slack"]
        return TideCurve(
            hours=span.tolist(),
            heights=(self.heights.height_m(times) / LENGTH[unit]).tolist(),
            slots=slots,
            speeds=convert(np.asarray(mps, float), self.area.units.speed).tolist(),
            toward=toward.tolist(),
            speed_unit=self.area.units.speed,
            slack=[(hours(row.start), hours(row.end)) for row in slack.itertuples()],
            sun=[
                (hours(time), f"{name} {clock(pd.Timestamp(time, tz='UTC'), self.area)}")
                for name, time in named
                if time is not None
            ],
            turns=[
                (
                    hours(turn.time),
                    float(convert(turn.height_m, unit)),
                    f"{'High' if turn.high else 'Low'} {clock(turn.time, self.area)}, "
                    f"{format_quantity(turn.height_m, unit, digits=1)}",
                )
                for turn in extremes.itertuples()
            ],
        )


def _strips(
    area: Area, shown: gpd.GeoDataFrame, timetable: pd.DataFrame
) -> tuple[dict[str, list[str]], list[str]]:
    """Say what to do before each line, by its name, and after the last; not each pass."""
    before: dict[str, list[str]] = {}
    after: list[str] = []
    drifts = timetable[timetable["what"] == "drift"]
    drifts = drifts[drifts["plan_id"].isin(shown["plan_id"])]
    begins = drifts.groupby("plan_id")["start"].min().sort_values()
    for row in timetable.itertuples():
        if row.what == "drift" or str(row.words).startswith("Back up"):
            continue
        later = begins[begins >= row.start]
        strips = before.setdefault(str(later.index[0]), []) if len(later) else after
        if row.what == "run" and strips and "spare" in strips[-1]:
            strips[-1] += f"; {_strip(area, row)}"
        else:
            strips.append(_strip(area, row))
    return before, after


def _home(area: Area, timetable: pd.DataFrame) -> str:
    """Say when the boat will be back, for whoever stays ashore."""
    back = home_at(timetable)
    if back is not None:
        return f"Leave a copy ashore: back at the launch by {clock(back, area)}."
    return BACK_BY_HAND


def _what_if(days: pd.DataFrame) -> list[tuple[str, str]]:
    """Say what to do in which case: a row for each thing to do."""
    cases: dict[str, list[str]] = {}
    for row in days.itertuples():
        cases.setdefault(str(row.words), []).append(str(row.scenario).replace(" degrees", "°"))
    return [(f"If {', or '.join(names)}", words) for words, names in cases.items()]


def _strip(area: Area, row: Any) -> str:
    at = clock(row.start, area)
    if row.what == "wait":
        shelter = "shelter" in str(row.words)
        return f"{at}  {'beyond limits: be in shelter' if shelter else 'time to spare'}"
    if row.what == "slack":
        words = str(row.words)[:1].lower() + str(row.words)[1:]
        return f"{at} to {clock(row.end, area)}  {words}"
    far = format_quantity(row.distance_m, area.units.distance, digits=2)
    where = f"to {row.plan_id}" if row.plan_id else "home"
    caution = f": {row.caution}" if row.caution else ""
    return f"{at}  run {where}, {far} toward {row.bearing_deg:03.0f}°T{caution}"
