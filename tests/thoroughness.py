"""Whether tests try all there is (``make test-all``) or a part of it."""

import os

THOROUGH = "SEABED_THOROUGH" in os.environ
