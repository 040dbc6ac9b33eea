"""Where the sounder sits in the boat, and what its depths are measured from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from seabed.array_types import Floats

TRANSDUCER, SURFACE, KEEL = "transducer", "surface", "keel"


_UNKNOWN: Final = (
    "{}: the transducer's depth is neither given nor logged; depths were taken as from the surface"
)


@dataclass(frozen=True, slots=True)
class Mounting:
    """What has to be added to a logged depth for the depth below the surface.

    Attributes
    ----------
    transducer_m : float or None
        Depth of the transducer below the waterline; None if not known, then as the log says.
    draft_m : float or None
        Depth of the keel below the waterline; None if not known.
    measured_from : str or None
        ``"transducer"``, ``"surface"`` or ``"keel"``: what all depths are measured from; None is
        what the kind of log says (DBS: the surface, DBK: the keel, anything else: the transducer).
    """

    transducer_m: float | None = None
    draft_m: float | None = None
    measured_from: str | None = None

    def to_surface(
        self, logged_offset: Floats, *, default_from: str, file: str
    ) -> tuple[Floats, list[str]]:
        """Give what to add to each depth, metres, and what had to be guessed.

        logged_offset: of DPT sentences, up to the waterline or (negative) down to the keel; or NaN.
        default_from: what the kind of log measures from.
        """
        measured_from = self.measured_from or default_from
        if measured_from == SURFACE:
            return np.zeros(len(logged_offset)), []
        if measured_from == KEEL:
            return self._from_keel(logged_offset, file)
        if self.transducer_m is not None:
            return np.full(len(logged_offset), self.transducer_m), self._other(logged_offset, file)
        known = np.where(logged_offset > 0, logged_offset, np.nan)
        if self.draft_m is not None:
            below_keel = np.where(logged_offset < 0, self.draft_m + logged_offset, np.nan)
            known = np.where(np.isnan(known), np.maximum(below_keel, 0.0), known)
        unknown = np.isnan(known)
        guessed = [_UNKNOWN.format(file)] if unknown.any() else []
        return np.where(unknown, 0.0, known), guessed

    def _from_keel(self, logged_offset: Floats, file: str) -> tuple[Floats, list[str]]:
        if self.draft_m is not None:
            return np.full(len(logged_offset), self.draft_m), []
        note = f"{file}: depths are from the keel and the boat's draft is not known; taken as 0"
        return np.zeros(len(logged_offset)), [note]

    def _other(self, logged_offset: Floats, file: str) -> list[str]:
        """Say so if the log has another depth of the transducer than the one given."""
        logged = logged_offset[logged_offset > 0]
        if not len(logged) or abs(float(np.median(logged)) - (self.transducer_m or 0.0)) < 0.05:
            return []
        return [
            f"{file}: its DPT sentences put the transducer {np.median(logged):.2f} m below the "
            f"waterline; {self.transducer_m:.2f} m was asked for and used"
        ]
