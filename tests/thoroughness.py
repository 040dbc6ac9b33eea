"""Whether tests try all there is (``make test-all``) or a part of it."""

import os

THOROUGH = "SEABED_THOROUGH" in os.environ


def examples(count: int) -> int:
    """How many examples a property is tried on: `count`, or an eighth of them in ``make test``."""
    return count if THOROUGH else max(count // 8, 4)
