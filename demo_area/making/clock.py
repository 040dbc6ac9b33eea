"""Time as the tides count it and as the files write it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

EPOCH = datetime(2031, 6, 1, tzinfo=UTC)
ZONE = timedelta(hours=-2)


def hours(moment):
    """Hours from EPOCH."""
    return (moment - EPOCH).total_seconds() / 3600.0


def to_the_minute(h):
    """The sound's own time, at hours from EPOCH, as the tables write it."""
    nearest = EPOCH + timedelta(hours=float(h)) + timedelta(seconds=30)
    return (nearest + ZONE).strftime("%Y-%m-%dT%H:%M-02:00")


def stamp(time):
    """UTC to the second, as GPX writes it."""
    return time.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
