"""Names of a package that are imported when they are first used (PEP 562)."""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any, Final

_IMPORT: Final = re.compile(r"^from (\S+) import (\w+) as (\w+)$", re.MULTILINE)


def lazily(
    package: str, file: str
) -> tuple[Callable[[str], Any], Callable[[], list[str]], list[str]]:
    """Give a package's ``__getattr__``, ``__dir__`` and ``__all__``, by the stub beside it.

    package, file: ``__name__`` and ``__file__`` of the package.  Its stub, ``__init__.pyi``, has a
        line a name, ``from room import name as name``: type checkers and editors read the same
        list.
    all: in the order of the stub.
    """
    stub = Path(file).with_suffix(".pyi").read_text(encoding="utf-8")
    homes = {name: (room, own) for room, own, name in _IMPORT.findall(stub)}

    def get(name: str) -> Any:
        if name in homes:
            room, own = homes[name]
            return getattr(import_module(room), own)
        if Path(file).with_name(name).is_dir() or Path(file).with_name(f"{name}.py").is_file():
            return import_module(f"{package}.{name}")
        raise AttributeError(f"module {package!r} has no attribute {name!r}")

    return get, lambda: sorted([*homes, "__version__"]), list(homes)
