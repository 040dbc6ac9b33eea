"""A day laid out: the chosen lines, their passes and the runs between them, in order of time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from shapely.geometry import LineString

from layers.planning.day._covering import Cover
from layers.planning.day._passes import Course, Pass, Place, Wanted, follow_pass
from layers.planning.day.slots import Slot, rest_of
from layers.planning.drift._setting import Setting
from layers.planning.runs._runs import Run, Runs
from layers.water.times import HOUR, MINUTE, span
from seabed.geodesy import ahead, distance_m

SAME_MARK_M: Final = 20.0
"""A drift that begins so near an earlier mark and runs the same way is that line again.  Our
choice, no source: half the ground that a line uses up to either side."""


LATER: Final = 10 * MINUTE
"""How much later another drift is sought where none can be made.  Our choice, no source."""

MOST_TRIES: Final = 5
"""The tide moves the way by little while the boat runs."""

LONGEST_RUN: Final = 3 * HOUR
"""Nobody runs home for longer in a small boat."""


Choice = Callable[[Slot], int | None]


@dataclass(slots=True)
class LaidLine:
    """A line of the day.

    ways: where its passes begin: the mark of the line itself, then those beside it.
    course: of its first pass.
    up_by: when a pass must be over, UTC, for the boat to be home in open hours.
    passes: in order of time, each with the run to its start; None where the boat's place is not
        known.
    """

    ways: list[Place]
    course: Course
    up_by: np.datetime64
    passes: list[tuple[Run | None, Pass]] = field(default_factory=list)

    @property
    def again_of(self) -> str:
        """Name of the logbook's line that its first pass drifts again; ``""`` for none."""
        wanted = self.passes[0][1].wanted
        line = wanted.slot.line_of(wanted.row)
        return "" if line is None else line.name


@dataclass(frozen=True, slots=True)
class Laid:
    """A day laid out.

    lines: in order of their first passes.
    homes: from the last pass of each of the hours that are open; empty without a home or a pass.
    """

    lines: list[LaidLine]
    homes: list[Run]


def lay_day(
    slots: Sequence[Slot],
    chosen: Sequence[int | None],
    setting: Setting,
    runs: Runs,
    *,
    choose_in: Choice = lambda slot: None,
    home: Place | None = None,
    beside: tuple[int, Sequence[tuple[float, float]]] | None = None,
    refuses: Callable[[Pass], bool] | None = None,
    cover: Cover | None = None,
) -> Laid:
    """Follow every pass of a day, and every run between them, at its own hour.

    A line begins as soon as the boat is there, up to half a slot before its own slot does, and has
    passes until one would end too late or can't be made (`follow_pass`).  A choice that begins
    within `SAME_MARK_M` of an earlier line's mark and runs its way in the same tide is that line
    again, from its mark.  Runs are within the open hours of their slots, those home too; between
    such hours the boat is at home.  Where a pass can't be made, a line is chosen again for the rest
    of the slot if it is half of the slot or more.

    choose_in: from a slot to the row of the candidate to drift in it, or None.
    home: from where the boat comes, and where it goes to.
    beside: which line, and where from its mark passes begin that take turns with it: the angle to
        the right of its bearing, and how far.  A way on which a pass fails is not taken again.
    refuses: whether a pass can't be made after all.
    cover: what says which drift comes next in slots that are `to_cover`; nothing need be chosen in
        them, and a line of theirs has one pass.
    """
    day = _Day(setting, runs, choose_in, beside, home, home, refuses or (lambda one: False))
    for slot, wanted in zip(slots, _wanted(slots, chosen), strict=True):
        day.covering = cover if slot.to_cover else None
        if slot.to_cover:
            day.cover(slot)
        elif wanted is not None:
            day.fish(wanted)
    day.go_home()
    return Laid(day.lines, day.homes)


def _wanted(slots: Sequence[Slot], chosen: Sequence[int | None]) -> Iterator[Wanted | None]:
    """Give what is wanted in each slot, in order of time."""
    for number, (slot, row) in enumerate(zip(slots, chosen, strict=True)):
        if row is None:
            yield None
            continue
        joined = number > 0 and slots[number - 1].end == slot.begin
        earliest = slot.begin - span(slot.lasts_s / 2) if joined else slot.begin
        more = number + 1 < len(slots) and chosen[number + 1] is not None
        yield Wanted(slot, row, earliest, more and slots[number + 1].begin == slot.end)


@dataclass(slots=True)
class _Day:
    """Where the boat is, and since when it is free; None before its first pass."""

    setting: Setting
    runs: Runs
    choose_in: Choice
    beside: tuple[int, Sequence[tuple[float, float]]] | None
    home: Place | None
    here: Place | None
    refuses: Callable[[Pass], bool]
    covering: Cover | None = None
    free: np.datetime64 | None = None
    home_by: np.datetime64 | None = None
    lines: list[LaidLine] = field(default_factory=list)
    homes: list[Run] = field(default_factory=list)

    def go_home(self) -> None:
        """Run home, if the boat is out and it is known where that is."""
        if self.home is None or self.here in (None, self.home) or self.free is None:
            return
        run = self.runs.between(self.here, self.home, self.free)
        self.homes.append(run)
        self.here, self.free = self.home, self.free + span(np.ceil(run.seconds))

    def _enter(self, slot: Slot) -> None:
        """Go home before hours that are not open, and be free again after them."""
        if self.home_by not in (None, slot.home_by) and self.free is not None:
            self.go_home()
            self.free = max(self.free, slot.out_from)
        self.home_by = slot.home_by

    def fish(self, wanted: Wanted) -> None:
        """Make the passes of a slot, over one line after the other as long as one fails."""
        self._enter(wanted.slot)
        begin, rest = wanted.slot.begin, wanted
        while True:
            passes = self._passes_over(rest)
            if passes is None:
                return
            begin = self._next_begin() if passes else begin + LATER
            if begin > wanted.slot.end - span(wanted.slot.lasts_s / 2):
                return  # the next line begins early
            slot = rest_of(wanted.slot, begin, self.setting)
            row = None if slot is None else self.choose_in(slot)
            if slot is None or row is None:
                return
            rest = Wanted(slot, row, begin, wanted.followed)

    def cover(self, slot: Slot) -> None:
        """Make one pass after the other, each over the ground that gives most then."""
        assert self.covering is not None
        self._enter(slot)
        begin = slot.begin if self.free is None else max(slot.begin, self.free)
        while begin < slot.end:
            here = None if self.free is None else self.here
            passed = [one for line in self.lines for _, one in line.passes]
            best = self.covering.best(slot, begin, here, passed)
            if not any(self._passes_over(wanted) != 0 for wanted in best):
                begin += LATER
            elif self.free is not None:
                begin = self.free

    def _passes_over(self, wanted: Wanted) -> int | None:
        """Make the passes over one line; how many till one failed, None if time ran out."""
        line = self._line_again(wanted)
        path = LineString(wanted.points)
        first = self._first(wanted, line, path)
        if first is None:
            return 0
        if line is None:
            line = self._new_line(first[1])
        self._take(line, *first)
        ways, made = list(range(len(line.ways))), 1
        while True:
            if self.covering is not None and made >= len(line.ways):
                return made
            way = ways[made % len(ways)]
            begin, run = self._soonest(line.ways[way], path)
            if not wanted.in_time(begin):
                return None
            one = self._pass(wanted, line.ways[way], begin, line.course, way)
            if one is not None:
                self._take(line, run, one)
                made += 1
            elif way == 0:
                return made
            else:
                ways.remove(way)

    def _next_begin(self) -> np.datetime64:
        """When a pass close by could begin."""
        assert self.free is not None
        return self.free + span(np.ceil(self.setting.limits.set_up_s))

    def _line_again(self, wanted: Wanted) -> LaidLine | None:
        """Find the line that a choice is again."""
        for line in self.lines if self.covering is None else ():
            (x, y), (mark_x, mark_y) = wanted.points[0], line.ways[0]
            near = distance_m(x, y, mark_x, mark_y) <= SAME_MARK_M
            if near and line.course.holds(wanted.bearing_deg, wanted.slot.begin, 0.0):
                return line
        return None

    def _first(
        self, wanted: Wanted, line: LaidLine | None, path: LineString
    ) -> tuple[Run | None, Pass] | None:
        """Make the first pass of a slot as soon as it can be made, or as the slot begins."""
        mark = path.coords[0] if line is None else line.ways[0]
        soonest = max(wanted.earliest, wanted.slot.begin)
        if self.free is not None:
            soonest = max(wanted.earliest, self._soonest(mark, path)[0])
        elif (run := self._run_for(mark, soonest, path)) is not None:
            early = wanted.slot.out_from - run.times[0]
            soonest += early + MINUTE if early > span(0.0) else span(0.0)
        for begin in sorted({soonest, max(soonest, wanted.slot.begin)}):
            if wanted.in_time(begin):
                course = None if line is None else line.course
                one = self._pass(wanted, mark, begin, course)
                if one is not None:
                    return self._run_for(mark, begin, path), one
        return None

    def _pass(
        self, wanted: Wanted, mark: Place, begin: np.datetime64, course: Course | None, way: int = 0
    ) -> Pass | None:
        one = follow_pass(wanted, mark, begin, self.setting, course=course, way=way)
        return None if one is None or self._late_home(one) or self.refuses(one) else one

    def _late_home(self, one: Pass) -> bool:
        """Say whether the boat would be home after the hours that are open."""
        return bool(one.end > self._up_by(one))

    def _up_by(self, one: Pass) -> np.datetime64:
        """When a pass must be over for the boat to be home in open hours."""
        home_by = one.wanted.slot.home_by
        if self.home is None or home_by - one.end > LONGEST_RUN:
            return home_by
        up = one.end + span(self.setting.limits.lines_up_s)
        run = self.runs.between(_place(one.points[-1]), self.home, up)
        return home_by - span(np.ceil(run.seconds) + self.setting.limits.lines_up_s)

    def _new_line(self, first: Pass) -> LaidLine:
        mark, course = _place(first.points[0]), first.course()
        ways = [mark]
        if self.beside is not None and self.beside[0] == len(self.lines):
            for angle, metres in self.beside[1]:
                ways.append(_place(ahead(*mark, course.bearing_deg + angle, metres)))
        self.lines.append(LaidLine(ways, course, self._up_by(first)))
        return self.lines[-1]

    def _take(self, line: LaidLine, run: Run | None, one: Pass) -> None:
        line.passes.append((run, one))
        up = span(self.setting.limits.lines_up_s)
        self.here, self.free = _place(one.points[-1]), one.end + up

    def _soonest(self, there: Place, path: LineString) -> tuple[np.datetime64, Run]:
        """When a pass may begin if the boat leaves as soon as it is free, and its run."""
        assert self.here is not None and self.free is not None
        run = self.runs.between(self.here, there, self.free, around=path)
        return self._ready(self.free, run), run

    def _run_for(self, there: Place, begin: np.datetime64, path: LineString) -> Run | None:
        """Run so that the boat is ready at a time, leaving as late as it can."""
        if self.here is None:
            return None
        if self.free is not None:
            ready, run = self._soonest(there, path)
            if ready == begin:
                return run
        leave = begin
        for _ in range(MOST_TRIES):
            run = self.runs.between(self.here, there, leave, around=path)
            late = self._ready(leave, run) - begin
            if late <= span(0.0):
                return run
            leave -= late
        return run

    def _ready(self, leave: np.datetime64, run: Run) -> np.datetime64:
        return leave + span(np.ceil(run.seconds) + self.setting.limits.set_up_s)


def _place(at: Sequence[float]) -> Place:
    return float(at[0]), float(at[1])
