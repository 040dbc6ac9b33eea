"""What cleaning did, counted and in words."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from seabed.notebook import NotebookTable


@dataclass(frozen=True, slots=True)
class CleanReport(NotebookTable):
    """What cleaning did; ``read == kept + dropped``.

    Attributes
    ----------
    read, kept : int
        Fixes before and after.
    no_time : int
        Without a time.
    bad_position : int
        No number, outside the earth's range, or exactly 0, 0 (a receiver without a fix).
    bogus_date : int
        Before 1990, from 2100 on, or a month away from the rest of the same track.
    clock_reset : int
        Recorded over again in time after the clock was put back.
    duplicate : int
        At a time that another fix already has.
    other_device : int
        From a second device while the first one recorded.
    impossible_speed : int
        Only to be reached at an impossible speed.
    out_of_order : int
        Kept, but moved to their place in time.
    gaps : int
        Stretches without a fix for longer than ``longest_gap``, within an outing.
    """

    read: int
    kept: int
    no_time: int = 0
    bad_position: int = 0
    bogus_date: int = 0
    clock_reset: int = 0
    duplicate: int = 0
    other_device: int = 0
    impossible_speed: int = 0
    out_of_order: int = 0
    gaps: int = 0

    @property
    def dropped(self) -> int:
        """Fixes set aside."""
        return self.read - self.kept

    def as_dict(self) -> dict[str, int]:
        """Every count by name."""
        return asdict(self)

    def sentences(self) -> list[str]:
        """Say what was done, a plain sentence each; nothing that did not happen."""
        labels = {
            "no_time": "had no time",
            "bad_position": "had no usable position",
            "bogus_date": "had a date that cannot be right",
            "clock_reset": "were recorded again after the clock was put back",
            "duplicate": "repeated an earlier time",
            "other_device": "came from a second device while the first recorded",
            "impossible_speed": "could only be reached at an impossible speed",
        }
        lines = [f"{self.read} fixes read, {self.kept} kept."]
        for name, words in labels.items():
            if count := getattr(self, name):
                lines.append(f"{count} set aside: they {words}.")
        if self.out_of_order:
            lines.append(f"{self.out_of_order} were out of order, and were sorted.")
        if self.gaps:
            lines.append(f"{self.gaps} gap{'' if self.gaps == 1 else 's'} without a fix.")
        return lines
