"""Catches: the skipper's log, each fish tied to its drift, held to the local rules."""

from layers.catches.headers import HEADERS
from layers.catches.marks import fish_in_words
from layers.catches.reading import CATCH_COLUMNS, as_catches, read_catches
from layers.catches.rules import Rule, check_rules
from layers.catches.tying import AFTER_S, tie

__all__ = [
    "AFTER_S",
    "CATCH_COLUMNS",
    "HEADERS",
    "Rule",
    "as_catches",
    "check_rules",
    "fish_in_words",
    "read_catches",
    "tie",
]
