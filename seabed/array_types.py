"""Short names of the types of arrays."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]
Times = NDArray[np.datetime64]
Depths = NDArray[np.float32]
"""As grids hold them."""
Indices = NDArray[np.int32]
"""Of cells, where there are many."""
Pair = tuple[Floats, Floats]
"""Two of one shape, such as east and north, or a value and its spread."""
