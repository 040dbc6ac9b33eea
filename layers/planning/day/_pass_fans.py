"""The fans of a day's passes: followed many at once, and each once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Final

import numpy as np

from layers.planning.day._passes import Pass
from layers.planning.drift._drift import DriftTracks
from layers.planning.drift._fan import too_many_stopped
from layers.planning.drift._hand import Printed

_Water = tuple[str, float | None]
"""The line that is drifted again, and the course that is held."""

_Key = tuple[float, float, np.datetime64, np.datetime64, _Water]

ROUNDS: Final = 3


class PassFans:
    """Fans of passes.

    A day is laid out in the hope that no pass is refused; the fans of all its passes are then
    followed at once, which costs little more than one; and it is laid out again without those from
    which too many boats are stopped.  After a few such rounds each pass is looked at as it comes;
    with `as_they_come` from the first on.
    """

    def __init__(self, *, as_they_come: bool = False) -> None:
        self._known: dict[_Key, DriftTracks] = {}
        self._rounds = ROUNDS + 1 if as_they_come else 0

    def refuses(self, one: Pass) -> bool:
        """Whether too many boats of a pass are stopped; no, while its fan is not known."""
        if self._rounds > ROUNDS:
            self._follow([one])
        boats = self._known.get(_key(one))
        return boats is not None and too_many_stopped(boats)

    def agree(self, passes: Iterable[Pass]) -> bool:
        """Follow the fans of a day's passes; whether none of them is refused."""
        every = list(passes)
        self._follow(every)
        self._rounds += 1
        return not any(self.refuses(one) for one in every)

    def of(self, one: Pass) -> DriftTracks:
        """Give the fan of a pass."""
        self._follow([one])
        return self._known[_key(one)]

    def _follow(self, passes: Iterable[Pass]) -> None:
        """Follow the fans that are not known, at once those in the same water."""
        waters: dict[_Water, dict[_Key, Pass]] = defaultdict(dict)
        for one in passes:
            if _key(one) not in self._known:
                waters[_water_of(one)][_key(one)] = one
        for own in waters.values():
            setting = next(iter(own.values())).setting
            printed = Printed.joined([_printed(one) for one in own.values()])
            self._known.update(zip(own, setting.fans(printed), strict=True))


def _key(one: Pass) -> _Key:
    longitude, latitude = one.points[0]
    return float(longitude), float(latitude), one.begin, one.end, _water_of(one)


def _water_of(one: Pass) -> _Water:
    line = one.wanted.slot.line_of(one.wanted.row)
    return "" if line is None else line.name, one.setting.water.along_deg


def _printed(one: Pass) -> Printed:
    times = one.tracks.times
    return one.setting.water.printed(one.tracks, np.array([len(times) - 1]), times[:1])
