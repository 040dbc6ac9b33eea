"""Where the boat will go, and which lines to drift."""

from layers.planning.drift import DriftTracks, Ended, drift_tracks

__all__ = ["DriftTracks", "Ended", "drift_tracks"]
