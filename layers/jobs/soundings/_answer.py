"""What own soundings show: in sentences for people, in values for machines."""

from __future__ import annotations

from dataclasses import asdict
from math import isfinite
from typing import Any

from layers.area import Area
from layers.jobs.parts.words import counted
from layers.jobs.soundings._sounding import Survey
from seabed.grid import cell_size
from seabed.soundings.checks.tide_check import ChartFit
from seabed.soundings.surface.merging import PROVENANCE
from seabed.units import format_quantity


def sounding_answer(survey: Survey) -> dict[str, Any]:
    """Give a survey as plain values."""
    noise = survey.cleaning.noise
    merged, own = survey.merged, survey.own
    codes, counts = _provenance(survey)
    return {
        "soundings": len(survey.soundings),
        "flags": {name or "good": count for name, count in survey.cleaning.counts.items()},
        "lines": int(survey.soundings["line"].nunique()),
        "noise": {
            "metres": noise.metres,
            "share_of_depth": noise.share,
            "by_speed_mps": [
                {"from": low, "to": high, "times": factor} for low, high, factor in noise.classes()
            ],
        },
        "lag": {**asdict(survey.lag), "known": survey.lag.sure, "taken_off_s": survey.lag_s},
        "crossovers": asdict(survey.statistics),
        "tide": {**asdict(survey.tide), "looks_wrong": survey.tide.wrong},
        "against_open_grid": asdict(survey.chart),
        "own_grid": {"reach_m": own.reach_m, "notes": list(own.notes)},
        "merged": {
            "bias_m": merged.bias_m,
            "bias_sigma_m": merged.bias_sigma_m,
            "shift_m": merged.shift_m,
            "open_sigma_m": merged.open_sigma_m,
            "cells": dict(zip(codes, counts, strict=True)),
            "notes": list(merged.notes),
        },
        "next_lines": 0 if survey.proposals is None else len(survey.proposals),
        "notes": survey.notes,
    }


def sounding_lines(survey: Survey, area: Area, *, tided: bool) -> list[str]:
    """Say what was found, a sentence or two a line, in the area's units."""
    unit = area.units.depth
    return [
        *survey.notes,
        _count_line(survey),
        *_noise_lines(survey, unit),
        _lag_line(survey),
        *_crossover_lines(survey, unit),
        *([survey.tide.words()] if survey.tide.wrong else []),
        *(chart_lines(survey.chart, unit) if tided else []),
        *_grid_lines(survey, unit),
        *_bias_lines(survey, unit),
        _merged_line(survey),
        *_next_line(survey),
    ]


def _count_line(survey: Survey) -> str:
    flags = {name: count for name, count in survey.cleaning.counts.items() if name and count}
    good = int((survey.soundings["flag"] == "").sum())
    listed = ", ".join(f"{count} {name}" for name, count in flags.items())
    lines = counted(int(survey.soundings["line"].nunique()), "line")
    return (
        f"{counted(len(survey.soundings), 'sounding')} in {lines}, {good} good"
        + (f"; set aside, none deleted: {listed}" if listed else "")
        + "."
    )


def _noise_lines(survey: Survey, unit: str) -> list[str]:
    noise = survey.cleaning.noise
    base = f"The sounder's noise: {format_quantity(noise.metres, unit, digits=2)}"
    base += f" and {100 * noise.share:.1f} % of the depth."
    loud = [f"{low * 3600 / 1852:.0f} kn" for low, _, factor in noise.classes() if factor > 2.0]
    return [base + (f" Above {loud[0]} it is twice that or more." if loud else "")]


def _lag_line(survey: Survey) -> str:
    lag = survey.lag
    if not lag.sure:
        sentence = (
            "The lines don't show how late the sounder is (few cross, or the bottom is flat)."
        )
    else:
        sentence = f"The sounder is {lag.lag_s:.1f} s late (± {lag.sigma_s:.1f} s)."
    return f"{sentence} Taken off: {survey.lag_s:.1f} s."


def _crossover_lines(survey: Survey, unit: str) -> list[str]:
    stats = survey.statistics
    if not stats.count:
        return ["No lines cross: nothing was sounded twice, and no error shows."]
    inside = ", ".join(f"{name} {100 * share:.0f} %" for name, share in stats.inside.items())
    return [
        f"{counted(stats.count, 'crossing')}: depths differ by "
        f"{format_quantity(stats.rms_m, unit, digits=2)} (root mean square), 95 % by less than "
        f"{format_quantity(stats.p95_m, unit, digits=2)}. As IHO S-44 allows: {inside}."
    ]


def chart_lines(chart: ChartFit, unit: str) -> list[str]:
    """Say how soundings stand to the open grid, and no difference below two standard errors."""
    if not chart.pieces or not isfinite(chart.sigma_m):
        return []  # one short line tells nothing of itself
    sure = format_quantity(chart.sigma_m, unit, digits=2)
    what = "transducer, datum and grid together. Crossings can't show it; only a known depth can."
    if not abs(chart.offset_m) > 2.0 * chart.sigma_m:
        return [f"Soundings agree with the open grid as far as they show (± {sure}): {what}"]
    off = format_quantity(abs(chart.offset_m), unit, digits=2)
    way = "deeper" if chart.offset_m >= 0 else "shallower"
    return [f"Soundings are {off} {way} than the open grid (± {sure}): {what}"]


def _grid_lines(survey: Survey, unit: str) -> list[str]:
    """Say in the area's units the metres of the own grid's notes; leave other notes."""
    own = survey.own
    size = cell_size(own.depth).typical
    near, beside = (
        format_quantity(m, unit, digits=0) for m in (own.reach_m, min(own.reach_m, 2 * size))
    )
    return [
        f"Cells of {format_quantity(size, unit, digits=1)}, the open grid's or parts of them.",
        *own.notes[1:-1],
        f"Blank further than {near} from a sounding between soundings, and further than {beside} "
        "outside them.",
    ]


def _bias_lines(survey: Survey, unit: str) -> list[str]:
    """Say in the area's units what the merged grid's notes say in metres."""
    merged = survey.merged
    sure = format_quantity(merged.open_sigma_m, unit, digits=2)
    lines = [f"Assumed uncertainty of the open grid: {sure}, one standard deviation."]
    return [*lines, *filter(None, [merged.bias_words(unit)])]


def _provenance(survey: Survey) -> tuple[list[str], list[int]]:
    values = survey.merged.provenance.values
    return list(PROVENANCE.values()), [int((values == code).sum()) for code in PROVENANCE]


def _merged_line(survey: Survey) -> str:
    counts = dict(zip(*_provenance(survey), strict=True))
    return (
        f"Merged grid: {counts['own']} cells own, {counts['blended']} blended, "
        f"{counts['open']} as they were."
    )


def _next_line(survey: Survey) -> list[str]:
    if survey.proposals is None or not len(survey.proposals):
        return []
    first = survey.proposals.iloc[0]
    return [
        f"Sound next: {counted(len(survey.proposals), 'line')}; {first['line']}: {first['why']}"
    ]
