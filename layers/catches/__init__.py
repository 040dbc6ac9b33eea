"""Catches: the skipper's log, each fish tied to its drift, held to the local rules."""

from layers.catches.by_hand import correct_fish
from layers.catches.camera_clock import ClockOffset, clock_offsets
from layers.catches.exif import Exif, read_exif
from layers.catches.log_clock import LogClock, log_clock
from layers.catches.marked_fish import fish_in_words
from layers.catches.photos import (
    PHOTOS,
    fish_of_photos,
    photo_files,
    read_photos,
    set_clocks,
)
from layers.catches.reading import CATCHES, as_catches, read_catches
from layers.catches.rounding import rounding_s
from layers.catches.rules import Rule, check_rules
from layers.catches.tying import AFTER_S, by_weight, tie

__all__ = [
    "AFTER_S",
    "CATCHES",
    "PHOTOS",
    "ClockOffset",
    "Exif",
    "LogClock",
    "Rule",
    "as_catches",
    "by_weight",
    "check_rules",
    "clock_offsets",
    "correct_fish",
    "fish_in_words",
    "fish_of_photos",
    "log_clock",
    "photo_files",
    "read_catches",
    "read_exif",
    "read_photos",
    "rounding_s",
    "set_clocks",
    "tie",
]
