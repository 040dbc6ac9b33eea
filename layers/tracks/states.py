"""What a boat is doing at each moment, by hidden Markov models over speed and turning.

Two models, one inside the other, each solved by Viterbi with least durations.  The first tells
under way from slow, by speed over the ground.  The second, inside each slow stretch and from its
fixes alone, tells drift from hold by how fast the boat gets on over minutes and how steady its
course is: a drift goes somewhere, a hold turns about one place however fast noise makes it look.

The evidence is a clipped log-ratio about a threshold instead of fitted densities, so that what
decides is the skipper's own thresholds, and no track has to hold every kind for the others to be
found.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from layers.tracks.motion import noise_of, running_median
from layers.tracks.settings import CutSettings
from layers.tracks.stretches import DRIFT, HOLD, RUN, Path, Stretch, at_knees, split_strays
from layers.tracks.viterbi import most_likely_states

__all__ = ["smoothing_s", "states_of"]

Floats = NDArray[np.float64]

_STEP_S: Final = 5.0  # between moments that are judged
_RUN_MARGIN: Final = 1.2  # over the fastest drift; boats idle along at 3 to 5 kn
_SPEED_ERROR: Final = 0.25  # m/s, wanted of short speeds
# Windows, s, and the share of the hold's radius that a hold gets on by in 120 s, in each.
_SCALES: Final = ((90.0, 1.2), (300.0, 0.9))
_PACE_S: Final = 120.0  # evidence this far apart counts as independent
_SWITCH_COST: Final = 3.0


def smoothing_s(time_s: Floats, noise_m: float) -> float:
    """Half the window that brings noise in speed down to a quarter of a metre a second.

    The slope of a straight line through n points spaced by dt with noise s has the standard
    deviation s * sqrt(12 / n**3) / dt.
    """
    spacing = float(np.median(np.diff(time_s)))
    wanted = float(np.cbrt(12.0 * spacing * (noise_m / _SPEED_ERROR) ** 2))
    return min(max(wanted, 12.0), 90.0) / 2.0


def states_of(time_s: Floats, x: Floats, y: Floats, settings: CutSettings) -> NDArray[np.int8]:
    """Say of each interval between fixes whether it is `RUN`, `DRIFT` or `HOLD`.

    Parameters
    ----------
    time_s, x, y : ndarray, shape (n,)
        Fixes without a gap, seconds and metres; times rise strictly.
    settings : CutSettings

    Returns
    -------
    ndarray of int8, shape (n - 1,)
    """
    noise = noise_of(time_s, x, y)
    reach = 2 if float(np.median(np.diff(time_s))) <= 3.0 else 1
    path = Path(time_s, running_median(x, reach), running_median(y, reach))
    parts: list[Stretch] = []
    for stretch in at_knees(path, _run_or_slow(path, noise, settings), settings):
        if stretch.state == RUN:
            parts.append(stretch)
            continue
        own = path.between(stretch.start, stretch.end)
        slow = split_strays(own, _drift_or_hold(own, noise, settings, stretch), settings)
        parts.extend(at_knees(own, slow, settings))
    ends = np.array([part.end for part in parts[:-1]])
    kinds = np.array([part.state for part in parts], np.int8)
    return kinds[np.searchsorted(ends, (time_s[1:] + time_s[:-1]) / 2)]


def _run_or_slow(path: Path, noise: float, settings: CutSettings) -> list[Stretch]:
    """First model: under way or slow (as `DRIFT`), by speed over the ground."""
    whole = Stretch(DRIFT, float(path.time_s[0]), float(path.time_s[-1]), True, True)
    moments = _moments(whole.start, whole.end)
    half_s = smoothing_s(path.time_s, noise)
    speed = np.hypot(*path.velocities(moments, half_s))
    limit = settings.drift_speed_mps[1] * _RUN_MARGIN
    evidence = _log_ratio(speed, limit, spread=0.35) * (_STEP_S / 10.0)
    least = [settings.shortest_run_s, min(settings.shortest_slow_s, settings.shortest_hold_s)]
    states = most_likely_states(
        np.column_stack([evidence, -evidence]), _steps(least), _SWITCH_COST, True, True
    )
    return whole.divided(states, (RUN, DRIFT))


def _drift_or_hold(
    path: Path, noise: float, settings: CutSettings, within: Stretch
) -> list[Stretch]:
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
    return np.asarray(_log_ratio(progress, limit, spread=0.35) + course)


def _steadiness(path: Path, moments: Floats, half_s: float, long_half_s: float) -> Floats:
    """Length of the mean of the course's unit vectors over minutes: 1 straight on, 0 all round."""
    vx, vy = path.velocities(moments, half_s)
    speed = np.maximum(np.hypot(vx, vy), 1e-9)
    reach = max(1, round(long_half_s / _STEP_S))
    east, north = _running_mean(vx / speed, reach), _running_mean(vy / speed, reach)
    return np.asarray(np.hypot(east, north))


def _log_ratio(value: Floats, limit: float, *, spread: float) -> Floats:
    return np.asarray(np.clip(np.log(np.maximum(value, 1e-6) / limit) / spread, -2.0, 2.0))


def _moments(start: float, end: float) -> Floats:
    count = max(1, round((end - start) / _STEP_S))
    return np.asarray(start + (end - start) * (np.arange(count) + 0.5) / count)


def _steps(seconds: list[float]) -> NDArray[np.int64]:
    return np.maximum(1, np.round(np.array(seconds) / _STEP_S)).astype(np.int64)


def _running_mean(values: Floats, reach: int) -> Floats:
    total = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(len(values))
    first, last = np.maximum(at - reach, 0), np.minimum(at + reach + 1, len(values))
    return np.asarray((total[last] - total[first]) / (last - first))
