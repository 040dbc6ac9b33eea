"""NMEA 0183 sentences for tests."""

import functools
import operator


def sentence(body: str) -> str:
    """Close a sentence with its checksum."""
    return f"${body}*{functools.reduce(operator.xor, body.encode(), 0):02X}\r\n"
