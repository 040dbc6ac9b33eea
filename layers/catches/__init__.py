"""Catches: the skipper's log, each fish tied to its drift, held to the local rules."""

from layers.catches.by_hand import correct_fish as correct_fish
from layers.catches.camera_clock import ClockOffset as ClockOffset
from layers.catches.camera_clock import clock_offsets as clock_offsets
from layers.catches.exif import Exif as Exif
from layers.catches.exif import read_exif as read_exif
from layers.catches.log_clock import LogClock as LogClock
from layers.catches.log_clock import log_clock as log_clock
from layers.catches.marked_fish import fish_in_words as fish_in_words
from layers.catches.photos import PHOTOS as PHOTOS
from layers.catches.photos import fish_of_photos as fish_of_photos
from layers.catches.photos import photo_files as photo_files
from layers.catches.photos import read_photos as read_photos
from layers.catches.photos import set_clocks as set_clocks
from layers.catches.reading import CATCHES as CATCHES
from layers.catches.reading import as_catches as as_catches
from layers.catches.reading import read_catches as read_catches
from layers.catches.rounding import rounding_s as rounding_s
from layers.catches.rules import Rule as Rule
from layers.catches.rules import check_rules as check_rules
from layers.catches.tying import AFTER_S as AFTER_S
from layers.catches.tying import by_weight as by_weight
from layers.catches.tying import tie as tie
