"""What a boat is doing at each moment, by hidden Markov models over speed and turning.

Two models, one inside the other, each solved by Viterbi with least durations.  The first tells
under way from slow, by speed over the ground, at a limit that each outing's own speeds leave empty.
Slow stretches in which the boat turns about are divided into drifts and returns
(`layers.tracks.returns`).  The second model, inside each drift and from its
fixes alone, tells drift from hold by how fast the boat gets on over minutes and how steady its
course is: a drift goes somewhere, a hold turns about one place however fast noise makes it look.

The evidence is a clipped log-ratio about a threshold instead of fitted densities, so that what
decides is the skipper's own thresholds, and no track has to hold every kind for the others to be
found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from layers.tracks.motion import noise_of, running_median, smoothing_s
from layers.tracks.returns import labelled, legs_of
from layers.tracks.settings import CutSettings
from layers.tracks.spells import DRIFT, HOLD, RUN, Path, Spell, at_knees, split_strays
from layers.tracks.viterbi import most_likely_states
from seabed.array_types import Floats, Ints, Pair

_STEP_S: Final = 5.0  # between moments that are judged
_FINE_STEP_S: Final = 2.0  # the same of speed, where fixes are no further apart
_RUN_MARGIN: Final = 1.2  # over the fastest drift; boats idle along at 3 to 5 kn
# Windows, s, and the share of the hold's radius that a hold gets on by in 120 s, in each.
_SCALES: Final = ((90.0, 1.2), (300.0, 0.9))
_PACE_S: Final = 120.0  # evidence this far apart counts as independent
_SWITCH_COST: Final = 3.0
_RUN_COST: Final = 0.6  # of beginning or ending a run; more joins the drifts of short hops
# Limits between slow and under way that are tried, m/s; width of the kernel in log speed.
_LIMITS: Final = np.geomspace(2.4, 8.0, 40) * 1852 / 3600
_KERNEL: Final = 0.08
_CROWDED: Final = 0.05  # density in log speed above which the usual limit is not empty
_MUDDLED: Final = 0.15  # density above which a limit parts nothing
_HOP: Final = 0.6  # of the shortest slow stretch, which a hop lasts
_LEAST_HOPS: Final = 3
_LEAST_SLOW: Final = 0.15  # share of the time either side of a limit that is tried
_EMPTIER: Final = 0.4  # a limit must be emptier by this to take its place


def states_of_outing(
    parts: Sequence[tuple[Floats, Floats, Floats]], settings: CutSettings
) -> tuple[list[NDArray[np.int8]], list[Floats], str]:
    """Say of each interval between the fixes of an outing whether it is `RUN`, `DRIFT` or `HOLD`.

    parts: (time_s, x, y) of fixes without a gap, seconds and metres; times rise strictly.
    breaks: seconds at which one drift ends and another begins.
    doubt: what the track leaves open, in words; ``""`` for nothing.
    """
    paths = [_smoothed(*part) for part in parts]
    limit = _speed_limit(paths, settings)
    settings = _for_hops(paths, limit, settings)
    slow = [at_knees(path, _run_or_slow(path, limit, settings), settings) for path in paths]
    slow = _harbour_runs(paths, slow, settings)
    here = [
        (path, stretch)
        for path, stretches in zip(paths, slow, strict=True)
        for stretch in stretches
        if stretch.state != RUN
    ]
    legs = [
        legs_of(path.between(one.start, one.end), one, path.half_s, settings) for path, one in here
    ]
    divided, doubt = labelled(legs, limit, settings)
    divided_legs = iter(divided)
    states, breaks = [], []
    for path, stretches in zip(paths, slow, strict=True):
        pieces: list[Spell] = []
        for stretch in stretches:
            for leg in [stretch] if stretch.state == RUN else next(divided_legs):
                pieces.extend(_piece(path, leg, settings))
        kinds = _by_interval(path.time_s, pieces)
        states.append(_without_crumbs(kinds, path.time_s, settings.shortest_run_s))
        breaks.append(np.array([a.end for a, b in pairwise(pieces) if a.state == b.state == DRIFT]))
    return states, breaks, doubt or _valley_doubt(paths, limit, settings)


def _for_hops(paths: Sequence[Path], limit: float, settings: CutSettings) -> CutSettings:
    """Let short slow stretches be drifts where an outing has several."""
    shorter = replace(settings, shortest_slow_s=_HOP * settings.shortest_slow_s)
    hops = sum(
        one.state != RUN and one.seconds < settings.shortest_slow_s
        for path in paths
        for one in _run_or_slow(path, limit, shorter)[1:-1]
    )
    return shorter if hops >= _LEAST_HOPS else settings


def _smoothed(time_s: Floats, x: Floats, y: Floats) -> Path:
    noise = noise_of(time_s, x, y)
    reach = 2 if float(np.median(np.diff(time_s))) <= 3.0 else 1
    return Path(time_s, running_median(x, reach), running_median(y, reach), noise)


def _piece(path: Path, leg: Spell, settings: CutSettings) -> list[Spell]:
    """Divide a slow leg into drifts and holds."""
    if leg.state == RUN:
        return [leg]
    own = path.between(leg.start, leg.end)
    slow = split_strays(own, _drift_or_hold(own, path.noise_m, settings, leg), settings)
    return at_knees(own, slow, settings)


def _by_interval(time_s: Floats, pieces: Sequence[Spell]) -> NDArray[np.int8]:
    ends = np.array([piece.end for piece in pieces[:-1]])
    kinds = np.array([piece.state for piece in pieces], np.int8)
    return kinds[np.searchsorted(ends, (time_s[1:] + time_s[:-1]) / 2)]


def _without_crumbs(kinds: NDArray[np.int8], time_s: Floats, least_s: float) -> NDArray[np.int8]:
    """Join to a run the moment before or after it that is too short to be anything.

    A second device that starts a moment before or after the first leaves such.
    """
    changes = np.flatnonzero(np.diff(kinds)) + 1
    whole = kinds.copy()
    if not len(changes):
        return whole
    first, last = changes[0], changes[-1]
    if kinds[first] == RUN and time_s[first] - time_s[0] < least_s:
        whole[:first] = RUN
    if kinds[last - 1] == RUN and time_s[-1] - time_s[last] < least_s:
        whole[last:] = RUN
    return whole


def _speed_limit(paths: Sequence[Path], settings: CutSettings) -> float:
    """Speed between slow and under way, m/s: the emptiest valley of an outing's log speeds.

    That of the settings, where they are the skipper's own, or where hardly any time is spent
    near it.
    """
    usual = settings.drift_speed_mps[1] * _RUN_MARGIN
    if settings.drift_speed_mps != CutSettings().drift_speed_mps:
        return usual
    limits = np.append(_LIMITS, usual)
    density, slower = _density(paths, limits)
    if density[-1] < _CROWDED:
        return usual
    weighed = density + 0.02 * np.abs(np.log(limits / usual))
    weighed[(slower < _LEAST_SLOW) | (slower > 1 - _LEAST_SLOW)] = np.inf
    best = int(np.argmin(weighed))
    return float(limits[best]) if weighed[best] < _EMPTIER * density[-1] else usual


def _density(paths: Sequence[Path], at: Floats) -> Pair:
    """Density of log speed in an outing, by a kernel; share of the time that is slower."""
    speed = np.concatenate([_speeds(path)[1] for path in paths])
    log = np.log(np.maximum(speed, 1e-3))
    z = (np.log(at)[:, None] - log) / _KERNEL
    density = np.exp(-0.5 * z * z).mean(axis=1) / (_KERNEL * np.sqrt(2 * np.pi))
    return density, np.asarray((z > 0).mean(axis=1))


def _valley_doubt(paths: Sequence[Path], limit: float, settings: CutSettings) -> str:
    """Say where an outing has no speed that parts drifts from runs."""
    if settings.drift_speed_mps != CutSettings().drift_speed_mps:
        return ""
    if float(_density(paths, np.array([limit]))[0][0]) < _MUDDLED:
        return ""
    return (
        f"Much of the time the boat goes at about {limit * 3600 / 1852:.1f} kn, so that speed does "
        "not part drifts from runs: set {tracks.drift_speed} to the speeds of your drifts."
    )


def _harbour_runs(
    paths: Sequence[Path], slow: list[list[Spell]], settings: CutSettings
) -> list[list[Spell]]:
    """Make what is faster than the usual limit a run where an outing begins or ends."""
    usual = settings.drift_speed_mps[1] * _RUN_MARGIN
    for part, at in ((0, 0), (-1, -1)):
        one = slow[part][at]
        own = paths[part].between(one.start, one.end)
        away = float(np.hypot(own.x[-1] - own.x[0], own.y[-1] - own.y[0]))
        if one.state != RUN and len(slow[part]) > 1 and away > usual * one.seconds:
            slow[part][at] = replace(one, state=RUN)
    return slow


def _speeds(path: Path) -> tuple[float, Floats]:
    """Step between moments, and the speed at each of them over the whole path."""
    step = _FINE_STEP_S if path.spacing_s <= _FINE_STEP_S else _STEP_S
    moments = _moments(float(path.time_s[0]), float(path.time_s[-1]), step)
    return step, np.hypot(*path.velocities(moments, path.half_s))


def _run_or_slow(path: Path, limit: float, settings: CutSettings) -> list[Spell]:
    """First model: under way or slow (as `DRIFT`), by speed over the ground."""
    whole = Spell(DRIFT, float(path.time_s[0]), float(path.time_s[-1]), True, True)
    step, speed = _speeds(path)
    evidence = _log_ratio(speed, limit) * (step / 10.0)
    least = [settings.shortest_run_s, min(settings.shortest_slow_s, settings.shortest_hold_s)]
    states = most_likely_states(
        np.column_stack([evidence, -evidence]), _steps(least, step), _RUN_COST, True, True
    )
    return whole.divided(states, (RUN, DRIFT))


def _drift_or_hold(path: Path, noise: float, settings: CutSettings, within: Spell) -> list[Spell]:
    """Second model: drift or hold, by progress over minutes and steadiness of course."""
    moments = _moments(within.start, within.end)
    evidence = np.mean(
        [
            _progress_evidence(
                path, moments, window_s=window_s, share=share, noise=noise, settings=settings
            )
            for window_s, share in _SCALES
        ],
        axis=0,
    )
    evidence *= _STEP_S / _PACE_S
    states = most_likely_states(
        np.column_stack([evidence, -evidence]),
        _steps([settings.shortest_slow_s, settings.shortest_hold_s]),
        _SWITCH_COST,
        within.open_start,
        within.open_end,
    )
    return within.divided(states, (DRIFT, HOLD))


def _progress_evidence(
    path: Path,
    moments: Floats,
    *,
    window_s: float,
    share: float,
    noise: float,
    settings: CutSettings,
) -> Floats:
    """Log-ratio of drift to hold from the motion in a window around each moment.

    A hold gets on by less than a share of its radius in two minutes, or more slowly than the
    slowest drift or than noise can feign, and on no steady course.
    """
    spacing = float(np.median(np.diff(path.time_s)))
    window_s = max(window_s, 4.0 * spacing)
    feigned = noise * float(np.sqrt(12.0 * spacing / window_s**3))
    slowest = max(share * settings.hold_radius_m / 120.0, settings.drift_speed_mps[0])
    limit = float(np.hypot(slowest, 2.0 * feigned))
    progress = np.hypot(*path.velocities(moments, window_s / 2.0))
    steady = _steadiness(path, moments, smoothing_s(path.time_s, noise), window_s / 2.0)
    course = np.clip(3.0 * (steady - 0.5), -1.0, 1.0)
    return np.asarray(_log_ratio(progress, limit) + course)


def _steadiness(path: Path, moments: Floats, half_s: float, long_half_s: float) -> Floats:
    """Length of the mean of the course's unit vectors over minutes: 1 straight on, 0 all round."""
    vx, vy = path.velocities(moments, half_s)
    speed = np.maximum(np.hypot(vx, vy), 1e-9)
    reach = max(1, round(long_half_s / _STEP_S))
    east, north = _running_mean(vx / speed, reach), _running_mean(vy / speed, reach)
    return np.asarray(np.hypot(east, north))


def _log_ratio(value: Floats, limit: float) -> Floats:
    return np.asarray(np.clip(np.log(np.maximum(value, 1e-6) / limit) / 0.35, -2.0, 2.0))


def _moments(start: float, end: float, step: float = _STEP_S) -> Floats:
    count = max(1, round((end - start) / step))
    return np.asarray(start + (end - start) * (np.arange(count) + 0.5) / count)


def _steps(seconds: list[float], step: float = _STEP_S) -> Ints:
    return np.maximum(1, np.round(np.array(seconds) / step)).astype(np.int64)


def _running_mean(values: Floats, reach: int) -> Floats:
    total = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(len(values))
    first, last = np.maximum(at - reach, 0), np.minimum(at + reach + 1, len(values))
    return np.asarray((total[last] - total[first]) / (last - first))
