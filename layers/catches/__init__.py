"""Catches: the skipper's log, each fish tied to its drift, held to the local rules."""

from layers.catches.reading import CATCHES as CATCHES
from layers.catches.reading import as_catches as as_catches
from layers.catches.reading import read_catches as read_catches
from layers.catches.rules import Rule as Rule
from layers.catches.rules import check_rules as check_rules
from layers.catches.tying import tie as tie
