"""What comes of a job."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from layers.area import Area


@dataclass(frozen=True, kw_only=True)
class Result:
    """What came of a job.

    area: with what the request overruled.
    files: what was written, by name.
    notes: what is worth knowing, a sentence each. Settings and commands stand in braces, as in
        `seabed.errors.SeabedError`.
    warnings: what could do harm, likewise.
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
        """Give what machines read: SI, plain values."""
        return {"files": self.files}
