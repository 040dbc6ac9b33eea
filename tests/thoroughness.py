"""Whether tests try all there is (``SEABED_THOROUGH=1 make test``) or a part of it."""

import os

THOROUGH = "SEABED_THOROUGH" in os.environ
