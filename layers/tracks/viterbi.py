"""The most likely path of a hidden Markov model whose states last a least time."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints, Mask
from seabed.compiled import compiled

NOTHING: Final = -1e300
"""Log-likelihood of the impossible."""


@compiled
def most_likely_states(
    evidence: Floats,
    least: Ints,
    switch_cost: float,
    free_start: bool,
    free_end: bool,
) -> NDArray[np.int8]:
    """Find the best sequence of states (Viterbi 1967), each held for its least number of steps.

    The least duration is exact: each state is a chain of that many sub-states that must be run
        through, the last of which may be stayed in (an "expanded-state" model, Russell & Cook
        1987).

    evidence, shape (steps, states): log-likelihood of what was seen at each step under each state.
    least, shape (states,): least steps in a state, 1 or more.
    switch_cost: taken off the log-likelihood at each change of state.
    free_start, free_end: whether the first (last) state may have begun before (may go on after) the
        steps, so that its least duration does not bind.
    Returned: shape (steps,); where the steps are too few for any state that is not free, the
        durations do not bind.
    """
    first = np.cumsum(least) - least
    last = first + least - 1
    score, fresh = np.full((2, last[-1] + 1), NOTHING)
    for k in range(evidence.shape[1]):
        score[first[k] : (last[k] if free_start else first[k]) + 1] = evidence[0, k]
    came = np.full(evidence.shape, -1, np.int8)  # state left on entering k at this step
    stayed = np.zeros(evidence.shape, np.bool_)  # last sub-state reached by staying in it
    for i in range(1, len(evidence)):
        _step(score, fresh, evidence[i], first, last, switch_cost, came[i], stayed[i])
        score, fresh = fresh, score
    state, at = _best_end(score, first, last, free_end)
    return _way_back(state, at, first, last, came, stayed)


@compiled
def _step(  # noqa: PLR0917  (compiled)
    score: Floats,
    fresh: Floats,
    evidence: Floats,
    first: Ints,
    last: Ints,
    switch_cost: float,
    came: NDArray[np.int8],
    stayed: Mask,
) -> None:
    """Score every sub-state a step later; `fresh`, `came` and `stayed` of it are filled in."""
    for k in range(len(first)):
        best, source = NOTHING, -1
        for j in range(len(first)):
            if j != k and score[last[j]] - switch_cost > best:
                best, source = score[last[j]] - switch_cost, j
        came[k] = source
        entered = best
        if last[k] > first[k]:
            fresh[first[k]] = best + evidence[k]
            for s in range(first[k] + 1, last[k]):
                fresh[s] = score[s - 1] + evidence[k]
            entered = score[last[k] - 1]
        # of equals: a state of one step stays, a longer one is entered
        stays = score[last[k]] > entered or (last[k] == first[k] and score[last[k]] == entered)
        stayed[k] = stays
        fresh[last[k]] = (score[last[k]] if stays else entered) + evidence[k]


@compiled
def _best_end(score: Floats, first: Ints, last: Ints, free_end: bool) -> tuple[int, int]:
    """State and sub-state that the path ends in; any where no state could last long enough."""
    best, state, at = NOTHING, 0, 0
    for anywhere in (free_end, True):
        for k in range(len(first)):
            for s in range(first[k] if anywhere else last[k], last[k] + 1):
                if score[s] > best:
                    best, state, at = score[s], k, s
        if best > NOTHING / 2:
            break
    return state, at


@compiled
def _way_back(  # noqa: PLR0917  (compiled)
    state: int,
    at: int,
    first: Ints,
    last: Ints,
    came: NDArray[np.int8],
    stayed: Mask,
) -> NDArray[np.int8]:
    path = np.empty(len(came), np.int8)
    for i in range(len(came) - 1, 0, -1):
        path[i] = state
        if at == last[state] and stayed[i, state]:
            continue
        if at > first[state]:
            at -= 1
        else:
            state = came[i, state]
            at = last[state]
    path[0] = state
    return path
