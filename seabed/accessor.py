"""``array.seabed``: what can be done with a grid, as methods of every xarray.DataArray."""

from __future__ import annotations

import sys
from importlib import import_module
from importlib.machinery import ModuleSpec
from importlib.util import find_spec
from types import MethodType, ModuleType
from typing import Any, Final

METHODS: Final = {
    "seabed.grid.arrays": ("as_grid",),
    "seabed.grid": ("bounds", "cell_size", "crs_of"),
    "seabed.grid.places": ("sample",),
    "seabed.change": ("changes_since",),
    "seabed.structure": (
        "across_edges", "banks_and_channels", "contours", "depth_band", "edges", "holes", "humps",
        "sand_waves",
    ),
    "seabed.terrain": (
        "aspect", "curvature", "geomorphons", "position_index", "slope", "vector_ruggedness",
    ),
}  # fmt: skip
_HOMES: Final = {name: room for room, names in METHODS.items() for name in names}


class GridMethods:
    """Functions that take a grid first, as methods: ``grid.seabed.slope()`` is ``slope(grid)``.

    There for every ``xarray.DataArray`` once `seabed` is imported; the functions themselves are
    imported when they are first used.

    Examples
    --------
    >>> import seabed
    >>> grid = seabed.example_grid()
    >>> grid.seabed.slope().equals(seabed.slope(grid))
    True
    """

    def __init__(self, array: Any) -> None:
        self._array = array

    def __getattr__(self, name: str) -> MethodType:
        if name not in _HOMES:
            raise AttributeError(f"no method {name!r} of a grid; there are {', '.join(_HOMES)}")
        return MethodType(getattr(import_module(_HOMES[name]), name), self._array)

    def __dir__(self) -> list[str]:
        return sorted(_HOMES)


class _WhenImported:
    """Registers the methods as soon as xarray is imported."""

    def find_spec(self, name: str, path: Any = None, target: Any = None) -> ModuleSpec | None:
        """Find xarray as others do, with its loader made to register the methods afterwards."""
        if name != "xarray":
            return None
        sys.meta_path.remove(self)
        spec = find_spec(name)
        if spec is not None and spec.loader is not None:
            run = spec.loader.exec_module

            def run_and_register(module: ModuleType) -> None:
                run(module)
                _register(module)

            spec.loader.exec_module = run_and_register  # type: ignore[method-assign]
        return spec


def register() -> None:
    """Register the methods with xarray: at once, or when somebody imports it."""
    if "xarray" in sys.modules:
        _register(sys.modules["xarray"])
    elif not any(isinstance(finder, _WhenImported) for finder in sys.meta_path):
        sys.meta_path.insert(0, _WhenImported())


def _register(xarray: ModuleType) -> None:
    if not hasattr(xarray.DataArray, "seabed"):
        xarray.register_dataarray_accessor("seabed")(GridMethods)
