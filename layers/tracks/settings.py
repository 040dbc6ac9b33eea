"""What the cleaning and cutting of tracks go by."""

from __future__ import annotations

from dataclasses import dataclass

from seabed.errors import TrackError


@dataclass(frozen=True, slots=True, kw_only=True)
class CutSettings:
    """Thresholds of cleaning and cutting, SI.

    Each is a key of ``[tracks]`` in the area file under its name without the unit:
    ``drift_speed_mps`` is ``drift_speed``.  The defaults are common practice, no source, unless
    a source is named.

    Attributes
    ----------
    drift_speed_mps : tuple of float
        Least and greatest speed over the ground of a drift, m/s.  0.1 to 2.5 kn.
    hold_radius_m : float
        A boat that stays within this distance of one place holds.
    shortest_slow_s : float
        A slow stretch shorter than this is no drift; three in one outing that last most of it are.
    shortest_hold_s : float
        A stay shorter than this is no hold.
    shortest_run_s : float
        A burst of speed shorter than this does not end a drift.  Fixes far apart need more.
    drift_toward_deg : float, optional
        Where drifts go, degrees true: a slow leg that turns back from it is a return under motor.
        Without it, speed decides which way is the return.
    longest_gap_s : float
        Longer than this without a fix is a gap; what the boat did in it is unknown.
    outing_break_s : float
        Longer than this without a fix, and another outing begins: no piece spans it.
    impossible_speed_mps : float
        A fix that could only be reached faster than this is set aside.  About 78 kn.
    position_slack_m : float
        Distance between two fixes that noise alone may make, before a speed is called impossible.
    """

    drift_speed_mps: tuple[float, float] = (0.1 * 1852 / 3600, 2.5 * 1852 / 3600)
    hold_radius_m: float = 15.0
    shortest_slow_s: float = 90.0
    shortest_hold_s: float = 120.0
    shortest_run_s: float = 8.0
    drift_toward_deg: float | None = None
    longest_gap_s: float = 120.0
    outing_break_s: float = 4 * 3600.0
    impossible_speed_mps: float = 40.0
    position_slack_m: float = 30.0

    def __post_init__(self) -> None:
        slowest, fastest = self.drift_speed_mps
        if not 0 <= slowest < fastest:
            raise TrackError(
                f"drift_speed must rise from a least to a greatest speed, not {slowest:g} to "
                f"{fastest:g} m/s",
                do="Write it like 0.1-2.5 kn.",
            )
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            if name not in {"drift_speed_mps", "drift_toward_deg"} and not value > 0:
                raise TrackError(f"{name.rsplit('_', 1)[0]} must be above 0, not {value:g}")
        if self.outing_break_s < self.longest_gap_s:
            raise TrackError("outing_break must not be shorter than longest_gap")
