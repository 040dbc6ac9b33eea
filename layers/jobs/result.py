"""What comes of a job."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from layers.area import Area

__all__ = ["Result"]


@dataclass(frozen=True, kw_only=True)
class Result:
    """What came of a job.

    Attributes
    ----------
    area : Area
        With what the request overruled.
    files : dict of str to Path
        What was written, by name.
    notes : tuple of str
        What is worth knowing, a sentence each.  Settings and commands stand in braces, as in
        `seabed.errors.SeabedError`.
    warnings : tuple of str
        What could do harm, likewise.
    """

    area: Area
    files: dict[str, Path] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether everything that was asked about is fit for use."""
        return True

    def answer(self) -> dict[str, Any]:
        """Give what machines are told: SI, plain values."""
        return {"files": self.files}
